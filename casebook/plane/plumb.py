"""A lens found from what is straight in the pool itself: lane lines, tile joints, edges of walls (plumb-line method).

A straight edge seen through a lens without distortion is a straight line. Of all lenses, the one is taken that makes
the marked edges straightest, each edge being free to lie anywhere (Brown 1971, "Close-range camera calibration", from
memory). Size and focal length cannot be told this way, and need not be: a known length says how large things are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.marks.fixed import edges_of
from casebook.plane.lens import Lens
from casebook.plane.water import CHANCE, LEAST_SIGMA_PX, chance

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.fixed import EdgeMark

    Array = NDArray[np.float64]

#: What lenses are like before anything is marked: standard deviation of k1 and k2 with half the picture's diagonal as
#: unit, which holds the barrel of action cameras. common practice, no source
USUAL = (0.5, 0.5)
#: Values of k1 from which the search may start.
TRIALS = np.linspace(-0.7, 0.4, 12)
#: How far the centre of distortion lies from the middle of the picture, as a share of the width.
#: common practice, no source
CENTRE_SHARE = 0.01
#: Edges must bow by this many of their standard deviations together before a lens is told from a straight one.
TOLD_SIGMAS = 3.0
#: An edge is named when it is this many standard deviations less straight than its marks explain. own judgement
ODD_SIGMAS = 3.0


def fit_lens(
    edges: Sequence[ArrayLike],
    size: tuple[int, int],
    *,
    sigma_px: float | Sequence[float] = 2.0,
    free_centre: bool = False,
    medium: str = "water",
) -> Lens:
    """The lens that makes marked edges straight.

    Parameters
    ----------
    edges : sequence of (N, 2) float arrays
        Places along each straight edge, three or more, well spread; edges near the rim tell most. [px]
    size : (width, height) of the picture [px]
    sigma_px : float or one per edge
        Standard deviation per coordinate of a place. [px]
    free_centre : bool
        The centre of distortion may lie anywhere near; otherwise within ``CENTRE_SHARE`` of the middle.
    medium : str
        ``water`` where the edges were filmed under water; what they show is then lens and window together.

    Returns
    -------
    Lens
        k1, k2 and centre, with a covariance that is widened where edges stay less straight than their marks explain.

    Raises
    ------
    CasebookError
        No edge with three places, or none of them bows the picture enough to tell.
    """
    from scipy.optimize import least_squares

    places = [np.asarray(edge, float) for edge in edges]
    _check(places)
    sigma = np.maximum(np.broadcast_to(np.asarray(sigma_px, float), len(places)), LEAST_SIGMA_PX)
    unit = math.hypot(*size) / 2
    middle = (np.asarray(size, float) - 1) / 2
    loose = np.array([*USUAL, *(np.array([1.0, 1.0]) * (0.1 if free_centre else CENTRE_SHARE) * size[0] / unit)])

    every, edge = np.concatenate(places), np.repeat(np.arange(len(places)), [len(p) for p in places])

    def residuals(x: Array) -> Array:
        lines = x[4:].reshape(-1, 2)[edge]
        off = _off_lines(_lens(x[:4], unit, middle), every, lines, middle, unit)
        return np.concatenate([off / sigma[edge], x[:4] / loose])

    # From far off the search can get stuck where a trial lens folds the rim; so the nearest of some starts is taken.
    starts = [_start(k1, places, unit, middle) for k1 in TRIALS]
    nearest = min(starts, key=lambda x: float(np.sum(residuals(x) ** 2)))
    found = least_squares(residuals, nearest, method="lm", x_scale=np.where(np.arange(len(nearest)) < 4, 0.1, 0.01))
    slopes = np.asarray(found.jac)
    covariance = np.linalg.inv(slopes.T @ slopes)[:4, :4]
    chi2, dof = float(found.fun[:-4] @ found.fun[:-4]), sum(map(len, places)) - 2 * len(places) - 2
    if dof > 0 and chance(chi2, dof) < CHANCE:
        covariance *= chi2 / dof
    lens = _lens(found.x[:4], unit, middle)
    how = _how(lens, found.x[:4], covariance, places, size, _bows(found.fun, places), free_centre)
    return Lens(unit, lens.params, _spread(covariance, unit), medium, how)


def lens_of(shot: Shot, marks: Sequence[EdgeMark], *, free_centre: bool = False) -> Lens:
    """The lens of a shot from the straight edges marked on it; under water it holds lens and window together.

    Edges of all frames serve, since a lens does not change while filming (a zoom does: then mark one setting only).

    Raises
    ------
    CasebookError
        As ``fit_lens``; or the camera sits at the water line, half in air.
    """
    if shot.view == "side_split":
        raise CasebookError(
            f'Shot "{shot.id}" is filmed half in air and half in water, where straight edges break at the water line.',
            "Find the lens from a shot that is wholly in air or wholly under water.",
        )
    places, sigma = edges_of([m for m in marks if shot.start <= m.frame < shot.stop])
    under = shot.view.endswith("under") or shot.view == "bottom"
    return fit_lens(
        places, shot.clip.size, sigma_px=sigma, free_centre=free_centre, medium="water" if under else "air"
    )  # fmt: skip


def _check(places: Sequence[Array]) -> None:
    if not places or any(p.ndim != 2 or p.shape[1] != 2 or len(p) < 3 or not np.isfinite(p).all() for p in places):
        raise CasebookError(
            "A lens needs straight edges, each marked in three or more places.",
            "Mark a lane line, a row of tile joints or the edge of a wall: both ends and one or more places between.",
        )


def _start(k1: float, places: Sequence[Array], unit: float, middle: Array) -> Array:
    """A lens and the lines that lie nearest to its straightened edges."""
    lens = np.array([k1, k1 * k1, 0.0, 0.0])
    straight = [_lens(lens, unit, middle).straight(p) for p in places]
    seen = [s if np.isfinite(s).all() else p for s, p in zip(straight, places, strict=True)]
    return np.concatenate([lens, *(_line(s, middle, unit) for s in seen)])


def _lens(x: Array, unit: float, middle: Array) -> Lens:
    return Lens(unit, np.array([x[0], x[1], 0.0, 0.0, 0.0, *(middle + unit * x[2:])]))


def _spread(covariance: Array, unit: float) -> Array:
    """Covariance of k1, k2 and centre (4, 4) among the seven parameters of a lens."""
    out, rows = np.zeros((7, 7)), np.array([0, 1, 5, 6])
    scale = np.array([1.0, 1.0, unit, unit])
    out[np.ix_(rows, rows)] = covariance * np.outer(scale, scale)
    return out


def _line(places: Array, middle: Array, unit: float) -> Array:
    """Direction of the normal [rad] and distance from the middle [unit] of the line through places."""
    mean = places.mean(0)
    normal = np.linalg.eigh((places - mean).T @ (places - mean))[1][:, 0]
    return np.array([math.atan2(normal[1], normal[0]), float(normal @ (mean - middle)) / unit])


def _off_lines(lens: Lens, places: Array, lines: Array, middle: Array, unit: float) -> Array:
    """How far places (N, 2) are from the bent lines (N, 2), across them, in the picture as it was filmed. (N,) [px]

    To first order: the distance in the straight picture over how much a pixel grows on the way there. Without that, a
    lens that shrinks everything would make everything straight.
    """
    normal = np.stack([np.cos(lines[:, 0]), np.sin(lines[:, 0])], -1)
    straight, stretch = lens.straight_and_stretch(places)
    grown = np.linalg.norm(np.einsum("ni,nij->nj", normal, stretch), axis=-1)
    off = (np.sum((straight - middle) * normal, -1) - unit * lines[:, 1]) / grown
    # Beyond the fold of a trial lens no distance exists: a large one turns the search back.
    return np.where(np.isfinite(off), off, unit)


def _bows(residuals: Array, places: Sequence[Array]) -> Array:
    """Chi-square of each edge."""
    ends = np.cumsum([0, *map(len, places)])
    return np.array([float(residuals[a:b] @ residuals[a:b]) for a, b in pairwise(ends)])


def _how(
    lens: Lens, x: Array, covariance: Array, places: Sequence[Array], size: tuple[int, int], chi2: Array, free: bool
) -> str:
    corner = np.array([size[0] - 1.0, 0.0])
    moved = float(np.linalg.norm(lens.straight(corner) - corner))
    told = float(np.sqrt(x[:2] @ np.linalg.solve(covariance[:2, :2], x[:2])))
    amount = f"moves the picture's corner by {moved:.0f} px" if math.isfinite(moved) else "folds the picture's corner"
    out = (
        f"The lens is found from {len(places)} straight edge{'s' if len(places) > 1 else ''} "
        f"(centre {'free' if free else 'near the middle'}): it {amount}"
    )
    out += "." if told > TOLD_SIGMAS else ", which these edges cannot tell from none: mark edges nearer the rim."
    dof = np.array([max(len(p) - 2, 1) for p in places])
    odd = int(np.argmax(chi2 / dof))
    if len(places) > 2 and chi2[odd] > dof[odd] + ODD_SIGMAS * math.sqrt(2 * dof[odd]) * max(
        1.0, _rest(chi2, dof, odd)
    ):
        out += f" Edge {odd + 1} stays less straight than its marks explain: is it straight?"
    return out


def _rest(chi2: Array, dof: NDArray[np.int64], odd: int) -> float:
    keep = np.arange(len(chi2)) != odd
    return float(chi2[keep].sum() / dof[keep].sum())
