"""One figure for every measure, the same as SVG and as PNG."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from casebook.pages.charts import MEASURE_WIDTH, band_words, curve_shapes, measure_shapes, nice_ticks
from casebook.pages.figure import ROLES, TEXTS, Path, Rect, Ring, Words, role_css, to_png, to_svg
from casebook.pages.palette import LIGHT, rgb

MEASURE = {
    "strokes": [(14.0, 2.0), (16.0, 2.0), (17.0, 2.0), (15.0, 2.0)],
    "these": (14.5, 16.5),
    "habit": (13.0, 18.0),
    "value": 15.5,
    "band": (20.0, None),
    "unit": "%",
}


def roles(shapes: list, role: str) -> list:
    return [s for s in shapes if s.role == role]


def where(shapes: list) -> float:
    """Value to place along the axis, read off the axis's own ticks."""
    ticks = [(float(w.text.split()[0].replace("\N{MINUS SIGN}", "-")), w.x) for w in roles(shapes, "number")]
    (v0, x0), (v1, x1) = ticks[0], ticks[-1]
    return lambda v: x0 + (v - v0) / (v1 - v0) * (x1 - x0)


def test_rings_bars_and_band_stand_where_the_axis_says() -> None:
    shapes, _ = measure_shapes(MEASURE)
    x = where(shapes)
    assert [r.x for r in roles(shapes, "ring")] == pytest.approx([x(v) for v, _ in MEASURE["strokes"]])
    for ring, whisker in zip(roles(shapes, "ring"), roles(shapes, "whisker"), strict=True):
        assert whisker.points[0][0] == pytest.approx(ring.x - (x(2) - x(0)))
        assert whisker.points[0][1] == ring.y
    (these,) = roles(shapes, "these")
    assert [p[0] for p in these.points] == pytest.approx([x(14.5), x(16.5)])
    assert [p[0] for p in roles(shapes, "habit")[0].points] == pytest.approx([x(13.0), x(18.0)])
    (target,) = roles(shapes, "target")
    assert target.x == pytest.approx(x(20.0)) and target.w > 30
    assert roles(shapes, "edge")[0].points[0][0] == pytest.approx(x(20.0))


@pytest.mark.parametrize("n", [1, 2, 3])
def test_under_four_strokes_there_is_no_bar_and_no_mean(n: int) -> None:
    shapes, _ = measure_shapes(MEASURE | {"strokes": MEASURE["strokes"][:n]})
    assert not roles(shapes, "these") and not roles(shapes, "habit") and not roles(shapes, "mean")
    assert len(roles(shapes, "ring")) == n


def test_without_a_band_nothing_is_shaded() -> None:
    shapes, _ = measure_shapes(MEASURE | {"band": None})
    assert not roles(shapes, "target") and not roles(shapes, "edge") and not roles(shapes, "aim")


values = st.floats(-60, 60)
halves = st.floats(0.1, 20)


@given(st.lists(st.tuples(values, halves), min_size=1, max_size=14), values, st.booleans(), st.booleans())
def test_nothing_leaves_the_figure(strokes: list, edge: float, low_open: bool, high_open: bool) -> None:
    band = (None if low_open else edge, None if high_open else edge + 5)
    middle = float(np.mean([v for v, _ in strokes]))
    shapes, (width, height) = measure_shapes(
        {"strokes": strokes, "these": (middle - 1, middle + 1), "habit": (middle - 2, middle + 2), "value": middle,
         "band": None if low_open and high_open else band, "unit": "%"}
    )  # fmt: skip
    assert width == MEASURE_WIDTH
    for s in shapes:
        points = s.points if isinstance(s, Path) else [(s.x, s.y)]
        points = [*points, (s.x + s.w, s.y + s.h)] if isinstance(s, Rect) else points
        assert all(-0.5 <= x <= width + 0.5 and 0 <= y <= height for x, y in points), s


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e4))
def test_ticks_are_round_even_and_span_the_values(low: float, span: float) -> None:
    ticks = nice_ticks(low, low + span)
    steps = np.diff(ticks)
    assert ticks[0] <= low + 1e-6 * span and ticks[-1] >= low + span * (1 - 1e-6)
    assert np.allclose(steps, steps[0], rtol=1e-4)
    assert 2 <= len(ticks) <= 7


def test_bands_are_told_in_words() -> None:
    assert band_words(None, 3.0, "°") == "under 3°"
    assert band_words(-2.0, 4.0, "cm") == "\N{MINUS SIGN}2 to 4 cm"


def test_the_arms_of_a_curve_differ_by_line_style_and_are_named_at_the_line() -> None:
    line = {"points": [(0.0, 2.0), (45.0, 9.0), (90.0, 12.0)], "read": (45.0, 9.0)}
    shapes, _ = curve_shapes(
        {"lines": [line | {"side": "l"}, line | {"side": "r"}], "band": (4.0, 18.0), "read_at": 45.0, "unit": "%"}
    )
    assert ROLES["left"].dash and not ROLES["right"].dash and ROLES["left"].stroke != ROLES["right"].stroke
    names = [s for s in shapes if isinstance(s, Words) and s.text.endswith("arm")]
    assert {n.text for n in names} == {"left arm", "right arm"}
    assert abs(names[0].y - names[1].y) >= 15
    (target,) = roles(shapes, "target")
    ring = roles(shapes, "ring")[0]
    assert target.x < ring.x < target.x + target.w and target.y < ring.y < target.y + target.h


def test_svg_and_png_show_the_same_shapes_in_the_same_tones() -> None:
    shapes, size = measure_shapes(MEASURE)
    svg = to_svg(shapes, size, 'a "chart"')
    assert svg.count("<circle") == sum(isinstance(s, Ring) for s in shapes)
    assert svg.count("<rect") == sum(isinstance(s, Rect) for s in shapes)
    assert 'aria-label="a &quot;chart&quot;"' in svg and 'role="img"' in svg
    image = np.asarray(Image.open(io.BytesIO(to_png(shapes, size, scale=2.0))).convert("RGB"))
    (target,) = roles(shapes, "target")
    inside = image[int(2 * (target.y + target.h / 2)), int(2 * (target.x + target.w / 2))]
    assert tuple(int(v) for v in inside) == rgb(LIGHT.target)
    (these,) = roles(shapes, "these")
    bar = image[int(2 * these.points[0][1]), int(2 * (these.points[0][0] + 3))]
    assert tuple(int(v) for v in bar) == rgb(LIGHT.ink)


def test_png_is_the_same_every_time() -> None:
    shapes, size = measure_shapes(MEASURE)
    assert to_png(shapes, size) == to_png(shapes, size)


def test_every_role_has_a_rule_in_the_stylesheet() -> None:
    named = set(re.findall(r"\.chart \.(\w+)\{", role_css()))
    assert named == set(ROLES) | set(TEXTS)


@pytest.mark.parametrize("slope", [0.28, -0.28, 0.0])
def test_the_words_of_the_band_are_not_crossed_by_a_curve(slope: float) -> None:
    points = [(float(a), 14.0 + slope * (a - 45)) for a in range(0, 95, 5)]
    shapes, _ = curve_shapes(
        {
            "lines": [{"side": "r", "points": points, "read": (45.0, 14.0)}],
            "band": (4.0, 18.0),
            "read_at": 45.0,
            "unit": "%",
        }
    )
    (aim,) = roles(shapes, "aim")
    (path,) = roles(shapes, "right")
    left = aim.x if aim.anchor == "start" else aim.x - 6.2 * len(aim.text)
    xs, ys = zip(*path.points, strict=True)
    across = np.interp(np.linspace(left, left + 6.2 * len(aim.text), 50), xs, ys)
    assert np.abs(across - (aim.y - 4)).min() > 6
