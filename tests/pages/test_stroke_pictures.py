"""Pictures of the stroke in time: everything stands where its own scale says, and nothing is made up."""

from __future__ import annotations

import io
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from casebook.pages import phase_chart, timing_chart
from casebook.pages.block import Block
from casebook.pages.cycle_chart import GRID, cycle_shapes, mean_line
from casebook.pages.figure import ROLES, TEXTS, Area, Path, Rect, Ring, Words, to_png, to_svg
from casebook.pages.layout import LAYOUTS, Place
from casebook.pages.palette import DARK, LIGHT, rgb
from casebook.pages.path_chart import MOMENTS, path_shapes
from casebook.pages.phase_chart import PHASES, phase_shapes, together
from casebook.pages.show_stroke import hand_path, leg_timing, mean_cycle, phase_strip
from casebook.pages.stroke_layout import STROKE_LAYOUTS
from casebook.pages.stroke_records import CycleGroup, HandPath, PhaseRow, cycle_groups
from casebook.pages.timing_chart import timing_shapes
from casebook.stroke.circular import directions
from casebook.stroke.kick_timing import Meeting
from casebook.stroke.points import Unread

NAN = float("nan")
#: The worked example of the arms' index, made by hand: backward from 0.36, shoulder plane at 0.60, out at 0.88, in
#: again at 1.20; the left arm 0.60 later.
RIGHT = (0.0, 0.36, 0.60, 0.88, 1.20)
LEFT = tuple(t + 0.60 for t in RIGHT)


def roles(shapes, role):
    return [s for s in shapes if s.role == role]


def strokes(*rows):
    return [{"side": s, "moments": [None if np.isnan(m) else m for m in ms]} for s, ms in rows]


def inside(shapes, size):
    for s in shapes:
        points = s.points if isinstance(s, Path | Area) else [(s.x, s.y)]
        for x, y in points:
            assert -2 <= x <= size[0] + 2 and -2 <= y <= size[1] + 2, s


def meeting(hand, phases, event="entry", foot="r"):
    phases = np.array(phases, float)
    return Meeting(foot, hand, event, np.arange(len(phases), dtype=float), phases, phases * 0 + 5, directions(phases))


def test_each_phase_is_as_long_as_its_time():
    shapes, size = phase_shapes(strokes(("r", RIGHT), ("l", LEFT)))
    ticks = {float(w.text.split()[0]): w.x for w in roles(shapes, "number") if w.anchor == "middle"}
    (t0, x0), (t1, x1) = sorted(ticks.items())[0], sorted(ticks.items())[-1]
    per = (x1 - x0) / (t1 - t0)
    for side, ms in (("right", RIGHT), ("left", LEFT)):
        for name, a, b in zip(PHASES[:3], ms[:-2], ms[1:-1], strict=True):
            (bar,) = roles(shapes, f"{name}_{side}")
            assert bar.w == pytest.approx((b - a) * per, abs=0.2) and bar.x == pytest.approx(
                x0 + (a - t0) * per, abs=0.2
            )
        (over,) = roles(shapes, f"over_{side}")
        assert over.points[1][0] - over.points[0][0] == pytest.approx((ms[4] - ms[3]) * per, abs=0.2)
    inside(shapes, size)


def test_between_the_arms_stand_overlap_and_gap_of_the_worked_example():
    # The left arm starts back 0.96 s, 0.08 s after the right hand came out: a gap of 6.7 % of 1.2 s, catch-up.
    both, neither = together(strokes(("r", RIGHT), ("l", LEFT)))
    assert both == [] and neither == [pytest.approx((0.88, 0.96))]
    early = tuple(t - 0.2 for t in LEFT)
    both, neither = together(strokes(("r", RIGHT), ("l", early)))
    assert both == [pytest.approx((0.76, 0.88))] and neither == []
    assert roles(phase_shapes(strokes(("r", RIGHT), ("l", early)))[0], "these")


def test_what_was_not_seen_is_left_out_and_not_bridged():
    shapes, _ = phase_shapes(strokes(("r", (0.0, NAN, 0.6, 0.88, 1.2)), ("l", LEFT)))
    assert not roles(shapes, "reach_right") and not roles(shapes, "pull_right") and roles(shapes, "push_right")
    # Two pulls of one arm in a row: the other's pull was not read, so nobody says that neither pulled.
    assert together(strokes(("r", RIGHT), ("r", tuple(t + 1.2 for t in RIGHT)))) == ([], [])


def test_long_swims_take_rows_and_say_where_they_end():
    rows = [PhaseRow("r", tuple(t + 1.2 * k for t in RIGHT)) for k in range(30)]
    block = phase_strip(rows)
    assert "The first 14 seconds" in block.data["caption"] or "The first 13 seconds" in block.data["caption"]
    shapes, size = phase_shapes(block.data["strokes"])
    assert size[1] > 2.5 * phase_shapes(strokes(("r", RIGHT)))[1][1]
    inside(shapes, size)


@given(st.lists(st.tuples(st.sampled_from("lr"), st.floats(0, 20), st.floats(0.5, 2.5)), min_size=1, max_size=14))
def test_no_strip_leaves_its_figure(some):
    rows = [(side, tuple(at + whole * share for share in (0, 0.3, 0.5, 0.75, 1))) for side, at, whole in some]
    inside(*phase_shapes(strokes(*rows)))


def test_left_and_right_differ_by_more_than_tone():
    assert ROLES["thin_left"].dash and not ROLES["thin_right"].dash
    assert ROLES["dot_left"].fill == "paper" and ROLES["dot_right"].fill == "sea"
    # Reach, pull and push of one arm: three amounts of one tone.
    for side in ("left", "right"):
        amounts = [ROLES[f"{name}_{side}"].fade for name in PHASES[:3]]
        assert amounts[0] < 0.2 < amounts[1] < 0.6 < amounts[2] == 1.0


def _seen_by(colour, kind):
    """A colour as a dichromat sees it: Viénot, Brettel and Mollon (1999), Color Res Appl 24:243-252, from memory."""
    linear = np.where(np.array(colour) / 255 <= 0.04045, np.array(colour) / 255 / 12.92,
                      ((np.array(colour) / 255 + 0.055) / 1.055) ** 2.4)  # fmt: skip
    matrix = {
        "protan": [[0.11238, 0.88762, 0], [0.11238, 0.88762, 0], [0.00401, -0.00401, 1]],
        "deutan": [[0.29275, 0.70725, 0], [0.29275, 0.70725, 0], [-0.02234, 0.02234, 1]],
    }[kind]
    return np.array(matrix) @ linear


@pytest.mark.parametrize("kind", ["protan", "deutan"])
@pytest.mark.parametrize("tones", [LIGHT, DARK])
def test_the_two_arms_tones_stay_apart_for_dichromats(kind, tones):
    sea, warm = _seen_by(rgb(tones.sea), kind), _seen_by(rgb(tones.warm), kind)
    assert np.abs(sea - warm).max() > 0.08


def wave(n, seed=0, spread=1.0):
    rng = np.random.default_rng(seed)
    pct = np.linspace(0, 100, 60)
    return [(pct, 40 * np.sin(2 * np.pi * pct / 100) + spread * rng.normal() + 0 * pct) for _ in range(n)]


def test_under_four_strokes_there_are_thin_lines_and_no_mean():
    for n in (1, 2, 3):
        block = mean_cycle([CycleGroup("strokes", "plain", tuple(wave(n)))], "Roll of the shoulders", "°")
        shapes, size = cycle_shapes(block.data)
        assert (
            len(roles(shapes, "thin_plain")) == n and not roles(shapes, "plain") and not roles(shapes, "spread_plain")
        )
        assert "no mean" in block.data["caption"] and "standard deviation" not in block.data["caption"]
        inside(shapes, size)


def test_from_four_strokes_on_the_mean_and_its_spread_are_numpys():
    lines = wave(6, seed=2, spread=3.0)
    block = mean_cycle([CycleGroup("strokes", "plain", tuple(lines))], "Roll of the shoulders", "°")
    shapes, _ = cycle_shapes(block.data)
    assert not roles(shapes, "thin_plain") and len(roles(shapes, "plain")) == 1 == len(roles(shapes, "spread_plain"))
    mean, spread = mean_line([list(zip(*line, strict=True)) for line in lines])
    each = np.array([np.interp(GRID, *line) for line in lines])
    assert mean == pytest.approx(each.mean(0), abs=1e-9) and spread == pytest.approx(each.std(0, ddof=1), abs=1e-9)


def test_where_fewer_than_four_are_known_the_mean_stops():
    lines = wave(4)
    lines[0] = (lines[0][0][:30], lines[0][1][:30])
    mean, _ = mean_line([list(zip(*line, strict=True)) for line in lines])
    assert np.isfinite(mean[GRID < 48]).all() and np.isnan(mean[GRID > 54]).all()


def test_classes_stay_apart_and_are_named_beside_their_line():
    pct = np.linspace(0, 100, 30)
    curves = [
        SimpleNamespace(
            quantity="shoulder_deg", side="", stroke_class=name, stroke=k, cycle_pct=pct, value=0.3 * pct + k
        )
        for name, count in (("none", 5), ("breath_r", 2))
        for k in range(count)
    ]
    groups = cycle_groups(curves, "shoulder_deg")
    assert [(g.name, g.look, len(g.lines)) for g in groups] == [("no breath", "plain", 5), ("breath right", "other", 2)]
    block = mean_cycle(groups, "Roll of the shoulders", "°")
    shapes, size = cycle_shapes(block.data)
    said = [w.text for w in shapes if isinstance(w, Words)]
    assert "no breath" in said and "breath right" in said
    names = [w for w in shapes if isinstance(w, Words) and w.text in ("no breath", "breath right")]
    assert abs(names[0].y - names[1].y) >= 16
    assert roles(shapes, "plain") and len(roles(shapes, "thin_other")) == 2
    inside(shapes, size)


def test_a_dial_has_the_downbeat_on_top_and_runs_clockwise():
    shapes, size = timing_shapes([{"title": "In", "hands": [{"side": "r", "phases": [0, 90, 180, 270], "mean": None,
                                                              "length": 0.0, "half": None}]}])  # fmt: skip
    dots = {(round(d.x - size[0] / 2), round(d.y - timing_chart._MIDDLE_Y)) for d in roles(shapes, "dot_right")}
    r = round(timing_chart.RADIUS)
    assert dots == {(0, -r), (r, 0), (0, r), (-r, 0)}
    (top,) = [w for w in shapes if isinstance(w, Words) and w.text == "foot kicks down"]
    assert top.y < timing_chart._MIDDLE_Y - r


def test_the_needle_is_the_mean_and_its_arc_the_interval():
    found = meeting("l", [350, 5, 10, 355, 2])
    block = leg_timing([found, meeting("r", [170, 185, 190, 178, 181])])
    shapes, size = timing_shapes(block.data["dials"])
    (needle,) = roles(shapes, "left")
    (x0, y0), (x1, y1) = needle.points
    assert np.degrees(np.arctan2(x1 - x0, y0 - y1)) == pytest.approx(
        np.degrees(np.angle(np.exp(1j * np.radians(found.together.mean)))), abs=0.2
    )
    (arc,) = roles(shapes, "arc_left")
    ends = [np.degrees(np.arctan2(x - x0, y0 - y)) for x, y in (arc.points[0], arc.points[-1])]
    assert (ends[1] - ends[0]) / 2 == pytest.approx(found.together.half, abs=0.3)
    assert len(roles(shapes, "dot_left")) == 5 == len(roles(shapes, "dot_right"))
    assert "left hand enters, the right foot kicks down" in block.data["alt"]
    inside(shapes, size)


def test_under_four_strokes_a_dial_has_marks_and_no_needle():
    shapes, _ = timing_shapes(leg_timing([meeting("l", [350, 5, 10])]).data["dials"])
    assert len(roles(shapes, "dot_left")) == 3 and not roles(shapes, "left") and not roles(shapes, "arc_left")


@settings(max_examples=20)
@given(st.lists(st.floats(0, 359.9), min_size=1, max_size=12), st.lists(st.floats(0, 359.9), min_size=1, max_size=12))
def test_no_dial_leaves_its_figure_and_no_name_covers_another(left, right):
    shapes, size = timing_shapes(leg_timing([meeting("l", left), meeting("r", right)]).data["dials"])
    inside(shapes, size)
    a, b = (w for w in shapes if isinstance(w, Words) and w.role in ("leftname", "rightname"))
    assert abs(a.y - b.y) >= 15 or abs(a.x - b.x) >= 60


def loop(side="r", k=0.0, n=90):
    """A closed way of a hand, shoulder at the origin. [m]"""
    u = np.linspace(0, 2 * np.pi, n)
    xz = np.stack([0.75 * np.cos(u) - 0.02 * k, -0.25 - (0.4 + 0.02 * k) * np.sin(u)], -1)
    return HandPath(side, xz, {"entry": xz[0], "shoulder": xz[22], "exit": xz[45]})


def test_the_way_of_a_hand_is_true_to_shape_and_forward_is_to_the_right():
    data = hand_path([loop()]).data
    shapes, size = path_shapes(data)
    (way,) = roles(shapes, "right")
    drawn, true = np.array(way.points), np.array(data["paths"][0]["points"])
    scale = np.ptp(drawn, 0) / np.ptp(true, 0)
    assert scale[0] == pytest.approx(scale[1], rel=0.01)
    assert drawn[np.argmax(true[:, 0]), 0] == drawn[:, 0].max() and drawn[np.argmin(true[:, 1]), 1] == drawn[:, 1].max()
    (bar,) = roles(shapes, "mean")
    said = next(w.text for w in shapes if isinstance(w, Words) and w.text.endswith(("cm", " m")))
    metres = float(said.split()[0]) / (100 if said.endswith("cm") else 1)
    assert (bar.points[1][0] - bar.points[0][0]) / metres == pytest.approx(scale[0], rel=0.01)
    inside(shapes, size)


def test_four_ways_get_a_mean_and_three_do_not():
    for n, heavy in ((3, 0), (4, 1)):
        shapes, _ = path_shapes(hand_path([loop(k=k) for k in range(n)]).data)
        assert len(roles(shapes, "thin_right")) == n and len(roles(shapes, "right")) == heavy


@pytest.mark.parametrize("frame", ["body", "water"])
def test_each_frame_says_what_it_is_held_against(frame):
    block = hand_path([loop(), loop("l")], frame)
    said = {w.text for w in path_shapes(block.data)[0] if isinstance(w, Words)}
    assert ("shoulder" in said) == (frame == "body") and ("still water" in said) == (frame == "water")
    assert {"left hand", "right hand", *MOMENTS.values()} - {"starts back"} <= said
    assert ("As the swimmer feels it" in block.data["caption"]) == (frame == "body")


def test_without_a_scale_no_length_is_drawn():
    shapes, _ = path_shapes(hand_path([loop()], unit="px").data)
    assert not roles(shapes, "mean")


EVERY: dict[str, Block] = {
    "phases": phase_strip([PhaseRow("r", RIGHT), PhaseRow("l", LEFT)]),
    "cycle": mean_cycle([CycleGroup("strokes", "plain", tuple(wave(5)))], "Roll of the shoulders", "°"),
    "timing": leg_timing([meeting("l", [350, 5, 10, 355]), meeting("r", [120, 130, 110, 125])]),
    "way": hand_path([loop(), loop("l")]),
}
NOTHING: dict[str, Block] = {
    "phases": phase_strip([PhaseRow("r", (NAN,) * 5)]),
    "cycle": mean_cycle([], "Roll of the shoulders", "°"),
    "timing": leg_timing([]),
    "way": hand_path([HandPath("r", np.full((5, 2), NAN))]),
    "way ": hand_path(Unread("The camera moves.", "Film from a stand.")),
}


@pytest.mark.parametrize("kind", EVERY)
def test_every_picture_is_laid_out_with_its_alternative_text(kind):
    block = EVERY[kind]
    html = LAYOUTS[kind](block.data, Place(3, SimpleNamespace()))
    assert (
        html.startswith("<figure")
        and "<svg" in html
        and f'aria-label="{block.data["alt"]}' in html.replace("&#x27;", "'")
    )
    assert block.data["title"] in html and block.data["caption"][:30] in html
    assert "nan" not in html.lower()
    assert Image.open(io.BytesIO(block.picture)).width >= 1280
    assert block.words.startswith(block.data["title"]) or block.data["title"] in block.words


@pytest.mark.parametrize("kind", NOTHING)
def test_nothing_to_show_is_a_sentence_and_no_picture(kind):
    block = NOTHING[kind]
    assert block.picture is None and block.words.endswith(".")
    assert LAYOUTS[kind.strip()](block.data, Place(3, SimpleNamespace())) == ""


@pytest.mark.parametrize("kind", STROKE_LAYOUTS)
@pytest.mark.parametrize(
    "junk", [{}, {"strokes": "x"}, {"strokes": [{"side": "q", "moments": [1, 2]}]}, {"groups": [{"lines": [["a"]]}]},
             {"groups": [{"lines": [[[0, 1], [100, float("inf")]]], "look": "<script>"}]},
             {"dials": [{"hands": [{"side": "l", "phases": ["1"]}]}]}, {"paths": [{"side": "l", "points": [[1, 2]]}]},
             {"paths": [{"side": "l", "points": [[1, 2], [2, None]]}]}]
)  # fmt: skip
def test_a_torn_block_shows_nothing(kind, junk):
    assert LAYOUTS[kind](junk, Place(3, SimpleNamespace())) == ""


def test_every_role_drawn_has_a_look_in_both_dresses():
    shapes = [
        *phase_shapes(EVERY["phases"].data["strokes"])[0], *cycle_shapes(EVERY["cycle"].data)[0],
        *timing_shapes(EVERY["timing"].data["dials"])[0], *path_shapes(EVERY["way"].data)[0],
    ]  # fmt: skip
    for s in shapes:
        assert s.role in (TEXTS if isinstance(s, Words) else ROLES), s
    assert {type(s) for s in shapes} == {Rect, Ring, Path, Area, Words}
    svg = to_svg(shapes, (640, 400), "all of it")
    assert "<polygon" in svg and svg.count("<svg") == 1
    assert to_png(shapes, (640, 400), DARK) != to_png(shapes, (640, 400), LIGHT)
    assert phase_chart.WIDTH == 640
