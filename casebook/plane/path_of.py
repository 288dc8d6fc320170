"""The path of a moving camera from places fixed to the pool that were marked or followed over its frames."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.bundle import HELD, Bundle, Observations, solve
from casebook.plane.camera_path import CameraPath
from casebook.plane.moves import KINDS, OWN, carried, shown
from casebook.plane.water import CHANCE, LEAST_SIGMA_PX, chance

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.fixed import FixedMark
    from casebook.plane.measured import Measured
    from casebook.plane.optics import Optics

    Array = NDArray[np.float64]

#: How a hand-held or carried camera moves between two frames of a shot at most: turn about its axis [rad] and ln size;
#: what one place alone on a frame cannot tell. common practice, no source
USUAL_TURN_RAD, USUAL_LN_SIZE = math.radians(3.0), 0.03
#: Focal length of a camera that nobody stated, as a share of the picture's width, and its relative standard deviation.
#: common practice, no source
USUAL_FOCAL, USUAL_FOCAL_SIGMA = 1.0, 0.4
#: The least relative error of a stated distance.
LEAST_RATIO_SIGMA = 1e-3
#: A place is named when its residuals are this many times those of the others. own judgement, no source
ODD_TIMES = 3.0


def path_of(
    shot: Shot,
    fixed: Sequence[FixedMark],
    *,
    kind: str = "",
    optics: Optics | None = None,
    focal_px: Measured | None = None,
    reference: int | None = None,
    level_deg: float = 0.0,
) -> CameraPath:
    """The path of a shot's camera from places fixed to the pool, marked or followed over frames.

    Every frame needs a place that it shares with other frames, better two or three far apart. All frames are solved
    together, so places may come and go while the camera moves.

    Parameters
    ----------
    shot : Shot
        Its camera says the kind: ``panning`` turns, anything else travels along.
    fixed : sequence of FixedMark
        Each with its distance, which matters for a camera that travels along.
    kind : str
        ``along`` or ``turning``, where the shot's camera does not say it.
    optics : Optics, optional
        Undone first, as it stands: what is not known of it is not carried into the path.
    focal_px : Measured, optional
        Of a camera that turns [px]; else estimated from how places wander, from ``USUAL_FOCAL`` on.
    reference : int
        The frame in whose picture all is measured; it should look square at the lane. The middle one unless given.
    level_deg : float
        Tilt of the water line there (``plane_of(shot, lines).tilt_deg``), for a camera held askew that travels. [deg]

    Raises
    ------
    CasebookError
        No frame shares two marks with another.
    """
    kind = kind or ("turning" if shot.camera == "panning" else "along")
    if kind not in KINDS:
        raise CasebookError(f'A camera does not move "{kind}".', f"Use one of: {', '.join(KINDS)}.")
    frames, names, seen, ratio = _observations([m for m in fixed if shot.start <= m.frame < shot.stop], optics)
    start = frames[len(frames) // 2] if reference is None else reference
    if start not in frames:
        raise CasebookError(
            f"The reference frame {start} has no fixed place marked.", "Mark one there, or choose a frame that has."
        )
    zero = int(np.searchsorted(frames, start))
    kept = _hanging_together(seen, zero)
    dropped = len(frames) - int(kept.sum())
    frames, names, seen, ratio = _only(frames, names, seen, ratio, kept)
    zero = int(np.searchsorted(frames, start))
    if len(frames) < 2:
        raise CasebookError(
            f"No place marked on frame {start} is marked on another frame too.",
            "Follow two or three fixed places (tile corners, rope marks) through the shot.",
        )
    centre = (np.asarray(shot.clip.size, float) - 1) / 2
    prior = _shared_prior(kind, fixed, shot.clip.size[0], focal_px)
    level = math.radians(level_deg)
    found = _solved(kind, seen, ratio, (centre, level), zero, prior)
    limits = _limits(kind, found, seen, names, fixed, dropped)
    widened = max(1.0, _misfit(found))
    how = (
        f"The camera's path comes from {len(names)} places fixed to the pool on {len(frames)} frames; pixels are those "
        f"of frame {start}."
    )
    return CameraPath(
        kind, frames, int(start), found.own, found.own_covariance * widened, found.slopes, found.shared,
        found.shared_covariance * widened if kind == "turning" else found.shared_covariance, centre, level, how, limits,
    )  # fmt: skip


def _observations(
    fixed: Sequence[FixedMark], optics: Optics | None
) -> tuple[NDArray[np.int64], list[str], Observations, Array]:
    if not fixed:
        raise CasebookError(
            "No place fixed to the pool is marked on this shot.",
            "Mark two or three (tile corners, rope marks) and follow them through the shot.",
        )
    frames, frame = np.unique([m.frame for m in fixed], return_inverse=True)
    names = sorted({m.name for m in fixed})
    point = np.array([names.index(m.name) for m in fixed])
    xy = np.array([(m.x_px, m.y_px) for m in fixed], float)
    sigma = np.maximum([m.sigma_px for m in fixed], LEAST_SIGMA_PX)
    ratio = np.array([m.distance_ratio for m in fixed])
    return frames, names, Observations(frame, point, xy if optics is None else optics.straight(xy), sigma), ratio


def _hanging_together(seen: Observations, zero: int) -> NDArray[np.bool_]:
    """Frames that a chain of shared places joins to the reference."""
    frames, points = seen.counts
    known_frame, known_point = np.zeros(frames, bool), np.zeros(points, bool)
    known_frame[zero] = True
    while True:
        known_point[seen.point[known_frame[seen.frame]]] = True
        more = known_frame.copy()
        more[seen.frame[known_point[seen.point]]] = True
        if (more == known_frame).all():
            return known_frame
        known_frame = more


def _only(
    frames: NDArray[np.int64], names: list[str], seen: Observations, ratio: Array, kept: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], list[str], Observations, Array]:
    rows = kept[seen.frame]
    used, point = np.unique(seen.point[rows], return_inverse=True)
    frame = (np.cumsum(kept) - 1)[seen.frame[rows]]
    return (
        frames[kept], [names[i] for i in used],
        Observations(frame, point, seen.xy[rows], seen.sigma[rows]), ratio[rows],
    )  # fmt: skip


def _shared_prior(kind: str, fixed: Sequence[FixedMark], width: int, focal: Measured | None) -> tuple[Array, Array]:
    if kind == "along":
        relative = np.mean([m.distance_sigma / m.distance_ratio for m in fixed])
        return np.zeros(1), np.array([max(float(relative), LEAST_RATIO_SIGMA)])
    if focal is None:
        return np.array([math.log(USUAL_FOCAL * width)]), np.array([USUAL_FOCAL_SIGMA])
    return np.array([math.log(focal.value)]), np.array([max(focal.sigma / focal.value, 1e-4)])


def _solved(
    kind: str, seen: Observations, ratio: Array, view: tuple[Array, float], zero: int, prior: tuple[Array, Array]
) -> Bundle:
    frames, points = seen.counts
    centre, level = view
    k = len(OWN[kind])
    loose = np.full((frames, k), np.inf)
    loose[:, 2] = USUAL_TURN_RAD
    if kind == "along":
        loose[:, 3] = USUAL_LN_SIZE
    loose[zero] = HELD

    def show(own: Array, at: Array, shared: Array) -> Array:
        return shown(kind, at, own, shared, centre, ratio, level)

    def carry(rows: NDArray[np.int64], own: Array) -> Array:
        return carried(kind, seen.xy[rows], own, prior[0], centre, ratio[rows], level)

    def look(rows: NDArray[np.int64], at: Array, own: Array) -> Array:
        return shown(kind, at, own, prior[0], centre, ratio[rows], level)

    per = (float(ratio.mean()), 1.0) if kind == "along" else (math.exp(prior[0][0]),) * 2
    start = _start(seen, carry, look, per, zero, (frames, points, k))
    return solve(seen, show, (*start, prior[0].copy()), loose, prior)


def _start(
    seen: Observations,
    carry: Callable[[NDArray[np.int64], Array], Array],
    look: Callable[[NDArray[np.int64], Array, Array], Array],
    per: tuple[float, float],
    zero: int,
    shape: tuple[int, int, int],
) -> tuple[Array, Array]:
    """A first guess, frame by frame away from the reference: as its known places have moved, so has the camera.

    ``carry`` and ``look`` take observations (rows) to the reference picture and back, ``per`` is how many pixels the
    first two of a frame's own numbers move a place by.
    """
    frames, points, k = shape
    own, at = np.zeros((frames, k)), np.full((points, 2), np.nan)
    rows = [np.flatnonzero(seen.frame == f) for f in range(frames)]
    waiting, done = sorted(range(frames), key=lambda f: abs(f - zero)), list[int]()
    while waiting:
        known = np.isfinite(at[:, 0])
        f = next(f for f in waiting if not done or known[seen.point[rows[f]]].any())
        met = rows[f][known[seen.point[rows[f]]]]
        if done:
            own[f] = own[min(done, key=lambda g: abs(g - f))]
            own[f, :2] += (look(met, at[seen.point[met]], own[f]) - seen.xy[met]).mean(0) / per
        new = rows[f][~known[seen.point[rows[f]]]]
        at[seen.point[new]] = carry(new, own[f])
        waiting.remove(f)
        done.append(f)
    return own, at


def _misfit(found: Bundle) -> float:
    """How many times larger squared residuals are than marking explains; 1 where chance explains them."""
    chi2 = float(np.sum(found.residuals**2))
    return chi2 / found.dof if found.dof > 0 and chance(chi2, found.dof) < CHANCE else 1.0


def _limits(
    kind: str, found: Bundle, seen: Observations, names: list[str], fixed: Sequence[FixedMark], dropped: int
) -> tuple[str, ...]:
    out = []
    if dropped:
        out.append(
            f"{dropped} frames with fixed places share none of them with the others; there the camera's place is not "
            "known."
        )
    if kind == "along" and any(m.distance_ratio == 1 and m.distance_sigma == 0 for m in fixed):
        out.append(
            "A place fixed to the pool is taken to lie exactly as far from the camera as the swimmer: one that lies "
            "half a lane behind a swimmer 5 m away makes the pool pass a fifth too slowly. State its distance ratio."
        )
    each = np.array([np.mean(found.residuals[seen.point == i] ** 2) for i in range(len(names))])
    odd = int(np.argmax(each))
    if _misfit(found) > 1 and len(names) > 1 and each[odd] > ODD_TIMES * np.delete(each, odd).mean():
        out.append(
            f'The place "{names[odd]}" moves against the other fixed places: is it fixed, and was it followed right? '
            "It was not left out; the error was widened."
        )
    elif _misfit(found) > 1:
        out.append("The fixed places fit together less well than their marks explain; the error was widened.")
    return tuple(out)
