"""The figure to aim for: whole, at the moment asked for, facing the way asked for."""

from __future__ import annotations

import subprocess
import sys
from functools import lru_cache

import numpy as np
import pytest

from casebook.demo.aim import AimFigure, aim_figure
from casebook.errors import CasebookError

SIZE = (480, 240)
INNER = tuple(f"{p}_{s}" for p in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle") for s in "lr")


@lru_cache
def figure(view: str = "side_under", direction: str = "right", moment: str = "straight_down") -> AimFigure:
    return aim_figure(view, direction, moment, SIZE)


def inclination_deg(shown: AimFigure, direction: str) -> float:
    """Of the forearm below the swim direction, read off the picture."""
    across, down = shown.joints_px[f"wrist_{shown.side}"] - shown.joints_px[f"elbow_{shown.side}"]
    return float(np.degrees(np.arctan2(down, across if direction == "right" else -across)))


@pytest.mark.parametrize("direction", ["left", "right"])
@pytest.mark.parametrize(("moment", "down"), [("halfway", 45.0), ("straight_down", 90.0)])
def test_the_forearm_points_where_the_moment_says(direction: str, moment: str, down: float) -> None:
    # Within a degree: the lens is far off, not infinitely far.
    assert inclination_deg(figure(direction=direction, moment=moment), direction) == pytest.approx(down, abs=1.0)


@pytest.mark.parametrize(("direction", "side", "sign"), [("right", "r", 1), ("left", "l", -1)])
def test_it_swims_the_way_asked_for_and_shows_the_near_arm(direction: str, side: str, sign: int) -> None:
    shown = figure(direction=direction, moment="reach")
    assert shown.side == side
    assert sign * (shown.joints_px["crown"][0] - shown.joints_px["ankle_l"][0]) > 0
    assert sign * (shown.joints_px[f"fingertip_{side}"][0] - shown.joints_px["crown"][0]) > 0


@pytest.mark.parametrize(
    ("view", "direction"), [("side_under", "right"), ("front_under", "toward"), ("side_above", "left")]
)
def test_the_whole_swimmer_is_in_the_picture_on_a_clear_ground(view: str, direction: str) -> None:
    rgba = figure(view, direction).rgba
    assert rgba.shape == (SIZE[1], SIZE[0], 4) and rgba.dtype == np.uint8
    solid = rgba[..., 3]
    assert not solid[[0, -1]].any() and not solid[:, [0, -1]].any()
    share = (solid > 0).any(0).mean(), (solid > 0).any(1).mean()
    assert max(share) > 0.9
    assert solid.max() == 255 and ((solid > 0) & (solid < 255)).sum() > 200  # Edges are smooth.


def test_joints_lie_on_the_figure() -> None:
    for moment in ("reach", "halfway", "straight_down"):
        shown = figure(moment=moment)
        for name in INNER:
            column, row = np.rint(shown.joints_px[name]).astype(int)
            assert shown.rgba[row, column, 3] == 255, (moment, name)


def test_reach_comes_before_halfway_and_halfway_before_straight_down() -> None:
    times = [
        figure(moment=moment).time_s % figure().swimmer.period_s for moment in ("reach", "halfway", "straight_down")
    ]
    assert times == sorted(times)


@pytest.mark.parametrize(
    ("view", "direction", "moment"),
    [("bottom", "right", "reach"), ("side_under", "toward", "reach"), ("side_under", "right", "finish")],
)
def test_what_cannot_be_drawn_is_refused_with_what_can(view: str, direction: str, moment: str) -> None:
    with pytest.raises(CasebookError, match="Use one of"):
        aim_figure(view, direction, moment, SIZE)


def test_it_is_drawn_without_opencv() -> None:
    code = (
        "import sys; sys.modules['cv2'] = None\n"
        "from casebook.demo.aim import aim_figure\n"
        "assert aim_figure('side_under', 'right', 'reach', (120, 60)).rgba.any()"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=120)
