"""The plane of a shot, from whatever was marked: a water line, a plumb line, a lane line, known lengths, or nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.plane.body_scale import BY_HEIGHT
from casebook.plane.limits import limits_of
from casebook.plane.plane import Plane
from casebook.plane.propagate import Z95
from casebook.plane.reach import carried_marks, with_parts
from casebook.plane.scale import ScaleFit, fit_scale
from casebook.plane.water import HELD_LEVEL_DEG, LANE_LEAN_DEG, LevelFit, fit_direction, fit_water

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.lines import LineMark
    from casebook.marks.scales import LengthMark
    from casebook.plane.camera_path import CameraPath
    from casebook.plane.optics import Optics

#: Which marked lines say what level is, the best first. A lane line runs away from a head-on camera; seen from above or
#: below only the lane has a direction.
_LEVEL_FROM = {"side": ("water", "plumb", "lane"), "head": ("water", "plumb"), "flat": ("lane",)}
#: A plumb line and a water line that differ by more than this many standard deviations are reported.
#: common practice, no source
DISAGREE_SIGMAS = 3.0


def plane_of(
    shot: Shot,
    lines: Sequence[LineMark] = (),
    lengths: Sequence[LengthMark] = (),
    *,
    optics: Optics | None = None,
    path: CameraPath | None = None,
) -> Plane:
    """The plane in which this shot's swimmer moves, as well as the marked lines and lengths tell it.

    Parameters
    ----------
    shot : Shot
        Its view, direction and camera; its clip's size where no line is marked.
    lines : sequence of LineMark
        All marked on this shot. Level comes from the water line, else from plumb lines, else from lane lines, else from
        the picture itself with ``HELD_LEVEL_DEG``.
    lengths : sequence of LengthMark
        All are combined. Without any, ``m_per_px`` is NaN and everything free of scale still works.
    optics : Optics, optional
        Lens and window, undone before lines and lengths are used and before anything is measured.
    path : CameraPath, optional
        Of a camera that moves: lines and lengths of all frames are taken into its reference frame.

    Raises
    ------
    CasebookError
        A water or lane line runs upright, or a plumb line level.
    """

    def made(d: NDArray[np.float64] | None) -> Plane:
        seen = carried_marks(lines, optics, path, d), carried_marks(lengths, optics, path, d)
        return plain_plane(shot, *seen, path is not None)

    plain = made(None)
    if optics is None and path is None:
        return plain
    return with_parts(plain, made, optics, path)


def plain_plane(shot: Shot, lines: Sequence[LineMark], lengths: Sequence[LengthMark], has_path: bool = False) -> Plane:
    """The plane of pictures that are straight and of one place, from lines and lengths in them."""
    used, fit = _level(shot, lines)
    scale = fit_scale(lengths) if lengths else None
    has_water = used == "water"
    # Half way across, so that a mirrored picture gives mirrored pixels; the top edge, so that z counts from it.
    anchor = fit.anchor_px if has_water else np.array([(shot.clip.size[0] - 1) / 2, 0.0])
    ln_scale, scale_sigma = (scale.ln_m_per_px, scale.sigma) if scale else (math.nan, 0.0)
    return Plane(
        sign=_sign(shot),
        params=np.array([ln_scale, fit.tilt_rad, 0.0]),
        covariance=np.diag([scale_sigma**2, fit.tilt_sigma_rad**2, fit.offset_sigma_px**2]),
        anchor_px=anchor,
        has_water=has_water,
        how=f"{_how_level(used, fit)} {_how_scale(scale, lengths)}",
        limits=limits_of(shot, bool(used), has_water, bool(scale), has_path)
        + _doubts(shot, used, fit, lines, lengths, scale),
        still=shot.camera == "still" and not (shot.swim is not None and shot.swim.place == "flume"),
    )


def _sign(shot: Shot) -> int:
    return {"left": -1, "away": -1}.get(shot.direction, 1)


def _family(shot: Shot) -> str:
    if shot.view.startswith("side"):
        return "side"
    return "flat" if shot.view in ("bottom", "top") else "head"


def _level(shot: Shot, lines: Sequence[LineMark]) -> tuple[str, LevelFit]:
    for kind in _LEVEL_FROM[_family(shot)]:
        marked = [line for line in lines if line.line == kind]
        if marked and kind == "water":
            return kind, fit_water(marked)
        if marked:
            leans = kind == "lane" and _family(shot) == "side"
            return kind, fit_direction(marked, LANE_LEAN_DEG if leans else 0.0)
    return "", LevelFit(np.full(2, np.nan), 0.0, math.radians(HELD_LEVEL_DEG), 0.0, 0)


def _how_level(used: str, fit: LevelFit) -> str:
    tilt = f"{math.degrees(fit.tilt_rad):.1f} deg, give or take {Z95 * math.degrees(fit.tilt_sigma_rad):.1f}"
    if not used:
        return f"Level is the picture's own: tilt {tilt}."
    times = "once" if fit.n == 1 else f"{fit.n} times"
    also = " and still water" if used == "water" else ""
    return f"Level{also} from the {used} line, marked {times}: tilt {tilt}."


def _how_scale(scale: ScaleFit | None, lengths: Sequence[LengthMark]) -> str:
    if scale is None:
        return "No scale."
    names = ", ".join(dict.fromkeys(m.what or f"{m.length_m:g} m" for m in lengths))
    size = f"{1000 * math.exp(scale.ln_m_per_px):.2f} mm per pixel, give or take {100 * Z95 * scale.sigma:.1f} %"
    return f"Scale from {scale.n} known length{'s' if scale.n > 1 else ''} ({names}): {size}."


def _doubts(
    shot: Shot,
    used: str,
    fit: LevelFit,
    lines: Sequence[LineMark],
    lengths: Sequence[LengthMark],
    scale: ScaleFit | None,
) -> tuple[str, ...]:
    out = list(scale.notes) if scale else []
    if scale and all(m.what.startswith(BY_HEIGHT) for m in lengths):
        out.append(
            f"The scale rests on body height alone: metres are unsure by {100 * Z95 * scale.sigma:.0f} %. Mark a known "
            "length to do better."
        )
    if any(m.distance_ratio == 1 and m.distance_sigma == 0 for m in lengths):
        out.append(
            "A known length is taken to lie exactly as far from the camera as the swimmer: a rope half a lane (1.25 m) "
            "behind a swimmer 5 m away makes everything 25 % too long. If it lies elsewhere, state its distance ratio."
        )
    if fit.moves_px > 0:
        out.append(
            f"The marked water line moves up and down by about {fit.moves_px:.0f} px between frames (waves or a camera "
            "that bobs); its error was widened by that."
        )
    plumb = [line for line in lines if line.line == "plumb"]
    if used == "water" and plumb and _family(shot) == "side":
        other = fit_direction(plumb)
        apart = fit.tilt_rad - other.tilt_rad
        if abs(apart) > DISAGREE_SIGMAS * math.hypot(fit.tilt_sigma_rad, other.tilt_sigma_rad):
            out.append(
                f"The plumb line and the water line disagree by {abs(math.degrees(apart)):.1f} deg; the water line was "
                "used."
            )
    return tuple(out)
