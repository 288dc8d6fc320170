"""Passes of one swim are put together stroke by stroke, with honest intervals; two swims never are.

Truth is the demo swimmer's (``demo.plane_truth``) and, for the intervals, numbers drawn here.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from demo_shots import filmed

from casebook.case.case import Case
from casebook.checkpoints.bands import Bands, load_bands
from casebook.checkpoints.build import finding_of
from casebook.checkpoints.catch import measure_catch
from casebook.checkpoints.finding import Finding, NotMeasured, StrokeValue, passes
from casebook.checkpoints.pool import BodyErrors, is_pass_of, pool
from casebook.checkpoints.result import CheckpointResult
from casebook.clip.shot import Shot, Swim
from casebook.demo.case import build_demo_case
from casebook.demo.swimmer import Swimmer
from casebook.pages.telling import who
from casebook.plane.measured import Measured

NO_BANDS = Bands("distance")


def result(shot, values, *, sigma=0.1, common=0.0, quantity="reach_slope_deg", name="none"):
    strokes = [StrokeValue(k + 1, v, sigma, common, (10 * k,), float(k)) for k, v in enumerate(values)]
    one = finding_of("extension", quantity, "r", name, strokes, NO_BANDS, seen=len(values), needed=len(values))
    return CheckpointResult("extension", shot, (one,))


def test_each_stroke_counts_once_whatever_pass_it_is_of():
    made = pool(result("a", [10.0, 12.0, 14.0]), [result("b", [20.0]), result("c", [4.0])]).findings[0]
    assert made.value == pytest.approx(12.0)
    assert [(s.shot, s.value) for s in made.strokes][-2:] == [("b", 20.0), ("c", 4.0)]
    assert made.frames == (0, 10, 20), "frames are those of the shot at hand"
    assert (made.seen, made.needed, passes(made)) == (5, 5, 3)
    assert who(made) == "right arm, 5 strokes in 3 passes without breath"


def test_classes_of_strokes_stay_apart():
    made = pool(result("a", [10.0]), [result("b", [30.0], name="breath_r")])
    assert [(f.stroke_class, f.value, passes(f)) for f in made.findings] == [("none", 10.0, 1), ("breath_r", 30.0, 1)]


def test_what_one_pass_could_not_measure_is_not_missed_where_another_could():
    gap = NotMeasured("extension", "reach_slope_deg", "r", "Not marked.", "Mark it.")
    made = pool(CheckpointResult("extension", "a", (gap,)), [result("b", [10.0])])
    assert [type(r) for r in made.results] == [Finding] and made.results[0].frames == ()


def test_a_place_on_a_circle_is_not_averaged():
    made = pool(result("a", [350.0], quantity="kick_catch_deg"), [result("b", [10.0], quantity="kick_catch_deg")])
    assert made.findings[0].value == 350.0


@pytest.mark.parametrize(
    ("quantity", "from_side", "body"),
    [("reach_slope_deg", True, BodyErrors()), ("hand_ahead_pct", True, BodyErrors(arm=0.03)),
     ("pull_from_midline_pct", False, BodyErrors())],
)  # fmt: skip
def test_the_interval_holds_the_truth_as_often_as_it_says(quantity, from_side, body):
    """Own errors of 2 a stroke and of 3 a shot; a stated arm is wrong by the same in all, a camera's place likewise."""
    draw, held, wide = np.random.default_rng(5), 0, []
    for _ in range(1000):
        strokes = [draw.normal(40, 5, n) for n in (1, 2, 2)]
        arm, place = draw.normal(0, body.arm), draw.normal(0, 0.0 if from_side else 3.0)
        shots = []
        for k, true in enumerate(strokes):
            off = place + (draw.normal(0, 3.0) if from_side else 0.0)
            read = true * (1 + arm) + off + draw.normal(0, 2, len(true))
            common = float(np.hypot(3.0, body.arm * read.mean()))
            shots.append(result(f"s{k}", read, sigma=2.0, common=common, quantity=quantity))
        made = pool(shots[0], shots[1:], body=body, from_side=from_side).findings[0]
        held += made.these.low <= np.concatenate(strokes).mean() <= made.these.high
        wide.append(made.these.half)
    print(f"\n{quantity}: {held / 10:.1f} % of 95 % intervals hold the truth, half as wide as {np.mean(wide):.2f}")
    assert 935 <= held <= 965


def test_three_short_passes_of_a_demo_swimmer_tell_what_one_long_one_does():
    swimmer = Swimmer(rate=42.0, breathing="none", variation=1.0, seed=3)
    found, true = [], []
    for k, start in enumerate((0.1, 0.4, 0.75)):
        shot, marks, plane, truth = filmed(replace(swimmer, start=start, seed=k), seconds=2.6, sigma=2.0, seed=k)
        one = measure_catch(replace(shot, id=f"pass{k}"), marks, plane, bands=load_bands("distance"))
        known = next(c for c in truth.catches if c.side == "r")
        n = len(one.get("hand_ahead_pct", "r").strokes)
        true += list(known.values["hand_ahead_pct"][np.isfinite(known.values["hand_ahead_pct"])][:n])
        found.append(one)
    made = pool(found[0], found[1:]).get("hand_ahead_pct", "r")
    single = max(one.get("hand_ahead_pct", "r").these.half for one in found)
    print(f"\n{who(made)}: {made.value:.1f}, give or take {made.these.half:.1f}; truth {np.mean(true):.1f}")
    assert passes(made) == 3 and len(made.strokes) == len(true) >= 3
    assert made.these.low <= np.mean(true) <= made.these.high and made.these.half < single


def shot(swim="a", view="side_under", direction="right", clip="x", start=0, stop=100, **more):
    made = SimpleNamespace(path=clip, n_frames=200)
    return Shot(f"{clip}{start}", made, view, direction, start, stop, swim=Swim(id=swim) if swim else None, **more)


def test_only_passes_of_one_swim_seen_alike_belong_together():
    own = shot()
    assert is_pass_of(own, shot(clip="y")) and is_pass_of(own, shot(start=100, stop=200))
    for other in (
        shot("b", clip="y"), shot("", clip="y"), shot(view="side_split", clip="y"), shot(direction="left", clip="y"),
        shot(start=50, stop=150),
    ):  # fmt: skip
        assert not is_pass_of(own, other)
    assert is_pass_of(own, shot(direction="left", clip="y", mirrored=True)), "the same arm is near"


@pytest.fixture(scope="module")
def rowan(tmp_path_factory) -> Case:
    return Case.open(build_demo_case(tmp_path_factory.mktemp("rowan") / "rowan", "rowan"))


def test_rowan_filmed_twice_from_the_side_is_told_with_both_passes(rowan):
    desk = rowan.desk("rowan_side_under")
    both = desk.measure("rate").get("strokes_per_min")
    assert passes(both) == 2 and both.these.low <= 88.0 <= both.these.high  # 44 cycles a minute (demo.cast)
    assert passes(desk.measure("rate", alone=True).get("strokes_per_min")) == 1
    assert "in 2 passes" in desk.measure("extension").text()


def test_another_swim_of_rowans_is_left_alone(rowan):
    text = (rowan.folder / "case.toml").read_text("utf-8")
    head, shot_id, tail = text.partition('id = "rowan_side_under_2"')
    swim = next(line for line in tail.splitlines() if line.startswith("swim = "))
    own = '[[swim]]\nid = "tired"\neffort = "tired"\n\n'
    (rowan.folder / "case.toml").write_text(head + shot_id + tail.replace(swim, 'swim = "tired"', 1) + own, "utf-8")
    try:
        alone = Case.open(rowan.folder).desk("rowan_side_under").measure("rate").get("strokes_per_min")
    finally:
        (rowan.folder / "case.toml").write_text(text, "utf-8")
    assert passes(alone) == 1


def test_a_stated_length_is_one_error_in_all_passes():
    known = BodyErrors.of(Measured(0.77, 0.01), None)
    assert known.shared("% of arm length", 20.0) == pytest.approx(20 * 0.01 / 0.77)
    assert known.shared("deg", 20.0) == 0.0 and known.shared("% of body length", 20.0) == 0.0
