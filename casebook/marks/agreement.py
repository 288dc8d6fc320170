"""Two answers for one place, from the mark before and the mark after, joined by what each has lost on its way.

The error of the joined answer was fitted, as a Gaussian likelihood, to tracked places of the rendered clip
``rowan_side`` (27 points at 1, 5, 10 and 20 frames between hand marks, exact and with 2 px of noise). With exact marks
2 sigma then hold, at each of these spacings: side under water 95 to 98 % of the coordinates, head-on 88 to 96 %, at the
water line 94 to 96 %, from above 90 to 95 % (``BOTH_DISAGREEMENT`` was raised by a third for the last three, which took
no part in the fit). These are invented swimmers: a real pool has bubbles, glare and murk.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.marks.gaps import Gaps

    Floats = NDArray[np.float64]

#: Shares of variance where both answers stand: of the drift that the flow claims, of the gap's largest squared
#: disagreement (full in the gap's middle, none at the marks), of the squared departure from the foretold path.
BOTH_DRIFT, BOTH_DISAGREEMENT, BOTH_DEPARTURE = 0.36, 0.12, 0.008
#: What no agreement shows, since both ways lean on one foretold path: error in the middle of a gap of a sixth of a
#: second from mark to mark, growing with the square of its length. Fitted at 0.21, rounded up. [px]
BOTH_HIDDEN_PX = 0.25
#: Error for each frame from the nearer mark if next to nothing of the gap were found. [px]
BOTH_LOST_PX = 4.5
#: The same shares where one answer stands alone.
ONE_DRIFT, ONE_DEPARTURE = 3.0, 0.009
#: Where the two answers are anywhere in a gap further apart than this many of their own standard deviations, one of
#: them has gone off with something else, and nobody knows which: then an answer that stands alone is lost. On
#: ``rowan_side`` and ``heron_side``, 20 frames between marks, this took three quarters of the places kept on a hidden
#: limb, half of the bad ones and 8 % of the good.
CONTRADICTION = 3.0
#: In a gap longer than this from mark to mark, two ways that never meet confirm nothing, and all of it is lost: on
#: ``wren_side`` such places were up to 80 px away at 0.35 s (20 frames between marks), and no worse than others at
#: 0.18 s. [s]
LONG_GAP_S = 0.19
#: A place less sure than this is lost; for pictures of 540 lines, growing with them. common practice, no source [px]
WORST_SIGMA_PX = 8.0
#: No answer is taken to be surer than this when the two are weighed. [px]
LEAST_SIGMA_PX = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """One way through a stretch.

    Attributes
    ----------
    xy : (N, P, 2) float array
        NaN where not seen. [px]
    drift : (N, P, 2, 2) float array
        Covariance of what was lost since the mark; NaN where not seen. [px squared]
    """

    xy: NDArray[np.float64]
    drift: NDArray[np.float64]


def join(on: Way, back: Way, gaps: Gaps, part: slice, unit: float) -> tuple[Floats, Floats]:
    """Places and errors of one stretch.

    Parameters
    ----------
    on, back : Way
        Followed onwards from the mark before and back from the mark after.
    gaps : Gaps
    part : slice
        Rows of ``gaps`` that the ways cover.
    unit : float
        Picture height in units of the 540 lines at which the constants were measured.

    Returns
    -------
    xy : (N, P, 2) float array
        Mean of the two, each weighed by its whole covariance, so that a limb's edge counts across and not along; the
        one answer where the other is lost; NaN where both are, where one stands alone in a gap in which they contradict
        each other, where they never meet in a gap longer than ``LONG_GAP_S``, and where the error is above
        ``WORST_SIGMA_PX``. [px]
    sigma : (N, P) float array
        Standard deviation per coordinate. [px]
    """
    is_open = gaps.open[part]
    seen_on, seen_back = is_open & np.isfinite(on.xy[..., 0]), is_open & np.isfinite(back.xy[..., 0])
    mark_on, mark_back = np.nan_to_num(gaps.sigma_before[part]) ** 2, np.nan_to_num(gaps.sigma_after[part]) ** 2
    weight_on, weight_back = _weights(_certainty(on, mark_on, seen_on), _certainty(back, mark_back, seen_back))
    place_on, place_back = np.nan_to_num(on.xy), np.nan_to_num(back.xy)
    xy = _apply(weight_on, place_on) + _apply(weight_back, place_back)
    drift = _carried(weight_on, np.nan_to_num(on.drift)) + _carried(weight_back, np.nan_to_num(back.drift))
    marks = mark_on * _carried(weight_on, np.eye(2)) + mark_back * _carried(weight_back, np.eye(2))

    both = seen_on & seen_back
    disagreement = np.where(both, ((place_on - place_back) ** 2).sum(-1) / 2, 0.0)
    most_apart, met, lost = _over_gaps(gaps, part, disagreement, both, is_open & ~(seen_on | seen_back))
    departure = np.nan_to_num((xy - gaps.path[part]) ** 2).sum(-1) / 2
    before, after = gaps.to_before[part], gaps.to_after[part]
    seconds = gaps.seconds[part]
    middle = 4 * before * after / np.maximum(before + after, 1) ** 2
    variance_both = (
        BOTH_DRIFT * drift
        + BOTH_DISAGREEMENT * middle * most_apart
        + BOTH_DEPARTURE * departure
        + (BOTH_HIDDEN_PX * unit) ** 2 * middle * (6 * seconds) ** 4
        + (BOTH_LOST_PX * unit * lost * np.minimum(before, after)) ** 2
    )
    variance_one = ONE_DRIFT * drift + ONE_DEPARTURE * departure
    sigma = np.sqrt(marks + np.where(both, variance_both, variance_one))
    claimed = np.trace(np.nan_to_num(on.drift + back.drift), axis1=-2, axis2=-1) / 2 + LEAST_SIGMA_PX**2
    contradicted = _over_gaps(gaps, part, disagreement / claimed, both, both)[0] > CONTRADICTION**2
    found = (both | ~contradicted) & (seen_on | seen_back) & (met | (seconds < LONG_GAP_S + 1e-6))
    found &= sigma <= WORST_SIGMA_PX * unit
    return np.where(found[..., None], xy, np.nan), np.where(found, sigma, np.nan)


def _certainty(way: Way, mark_variance: Floats, seen: NDArray[np.bool_]) -> Floats:
    """Inverse covariance of one answer, (N, P, 2, 2); 0 where not seen."""
    least = np.eye(2) * (mark_variance + LEAST_SIGMA_PX**2)[..., None, None]
    covariance = np.where(seen[..., None, None], way.drift + least, np.eye(2))
    return np.where(seen[..., None, None], np.linalg.inv(covariance), 0.0)


def _weights(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Matrices that sum to one, (N, P, 2, 2) each, by certainty; 0 where neither answer stands."""
    total = a + b
    total = np.where((total == 0).all((-1, -2))[..., None, None], np.eye(2), total)
    spread = np.linalg.inv(total)
    return spread @ a, spread @ b


def _apply(weight: Floats, xy: Floats) -> Floats:
    return np.einsum("...ij,...j->...i", weight, xy)


def _carried(weight: Floats, covariance: Floats) -> Floats:
    """Variance per coordinate, (N, P), that a weighed answer brings in."""
    return np.trace(weight @ covariance @ np.swapaxes(weight, -1, -2), axis1=-2, axis2=-1) / 2


def _over_gaps(
    gaps: Gaps, part: slice, apart: Floats, both: NDArray[np.bool_], lost: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Of each place's gap: the largest of ``apart``, whether the ways met, the share that is lost; (N, P) each."""
    row, column = np.nonzero(gaps.open[part])
    start = row - gaps.to_before[part][row, column]
    _, gap = np.unique(np.stack([start, column]), axis=1, return_inverse=True)
    gap = gap.ravel()
    size = np.maximum(np.bincount(gap), 1)
    largest, met, share = np.zeros_like(apart), np.zeros(apart.shape, bool), np.zeros_like(apart)
    top = np.zeros(len(size))
    np.maximum.at(top, gap, apart[row, column])
    largest[row, column] = top[gap]
    met[row, column] = np.bincount(gap, both[row, column])[gap] > 0
    share[row, column] = (np.bincount(gap, lost[row, column]) / size)[gap]
    return largest, met, share
