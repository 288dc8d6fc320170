"""Metres per pixel in the swimmer's plane, from known lengths marked in the picture."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.plane.water import CHANCE, LEAST_SIGMA_PX, chance, weighted_mean

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.marks.scales import LengthMark

#: A length is named as the odd one out when it lies this many standard deviations from the others.
#: common practice, no source
ODD_SIGMAS = 3.0


@dataclass(frozen=True, slots=True)
class ScaleFit:
    """``ln_m_per_px`` with its standard deviation (a relative one of the scale), and how well the lengths agree.

    ``chi2`` has ``dof`` degrees of freedom and chance exceeds it with probability ``p`` (NaN for one length). ``notes``
    are sentences about lengths that disagree.
    """

    ln_m_per_px: float
    sigma: float
    n: int
    chi2: float
    dof: int
    p: float
    notes: tuple[str, ...] = ()


def fit_scale(lengths: Sequence[LengthMark]) -> ScaleFit:
    """One scale from all marked lengths, by weighted least squares on the logarithm.

    A length L that covers l pixels gives ln(L / l), plus ln(distance_ratio) if it lies nearer or farther than the
    swimmer. Marking errors are independent. What the tape and the distance add is shared by all marks of one length
    (same words, metres and ratio): marking a rope ten times does not make the rope better known.

    Where lengths disagree beyond chance the error is widened and the odd one out named; none is dropped. Marks of one
    length that scatter count with all of their scatter, since a result read in one frame meets that frame's distance;
    between different lengths the variance grows by chi2 / dof.

    Parameters
    ----------
    lengths : sequence of LengthMark, at least one

    Returns
    -------
    ScaleFit
    """
    values = np.array([_ln_m_per_px(m) for m in lengths])
    marking, shared = np.array([_variances(m) for m in lengths]).T
    groups = _groups(lengths)
    means, variances, chi2, dof = [], [], 0.0, 0
    for members in groups:
        mean, variance, inside = weighted_mean(values[members], marking[members])
        if len(members) > 1 and chance(inside, len(members) - 1) < CHANCE:
            variance = max(variance, float(np.mean((values[members] - mean) ** 2)))
        means.append(mean)
        variances.append(variance + shared[members[0]])
        chi2 += inside
        dof += len(members) - 1
    mean, variance, between = weighted_mean(np.array(means), np.array(variances))
    if len(groups) > 1 and chance(between, len(groups) - 1) < CHANCE:
        variance *= between / (len(groups) - 1)
    chi2, dof = chi2 + between, dof + len(groups) - 1
    p = chance(chi2, dof) if dof else math.nan
    notes = _odd_ones(lengths, values, marking + shared) if p < CHANCE else ()
    return ScaleFit(mean, math.sqrt(variance), len(lengths), chi2, dof, p, notes)


def _ln_m_per_px(m: LengthMark) -> float:
    return math.log(m.length_m / _px(m) * m.distance_ratio)


def _px(m: LengthMark) -> float:
    return math.hypot(m.x1_px - m.x0_px, m.y1_px - m.y0_px)


def _variances(m: LengthMark) -> tuple[float, float]:
    """Of ln m_per_px: from marking its two ends, and from what is known of its length and distance."""
    marking = 2 * (max(m.sigma_px, LEAST_SIGMA_PX) / _px(m)) ** 2
    return marking, (m.sigma_m / m.length_m) ** 2 + (m.distance_sigma / m.distance_ratio) ** 2


def _groups(lengths: Sequence[LengthMark]) -> list[list[int]]:
    groups: dict[tuple[str, float, float], list[int]] = {}
    for i, m in enumerate(lengths):
        groups.setdefault((m.what, m.length_m, m.distance_ratio), []).append(i)
    return list(groups.values())


def _odd_ones(
    lengths: Sequence[LengthMark], values: NDArray[np.float64], variances: NDArray[np.float64]
) -> tuple[str, ...]:
    if len(lengths) == 2:
        apart = 100 * math.expm1(abs(values[0] - values[1]))
        return (f"The two known lengths disagree by {apart:.0f} %: check both ends, metres and distance of each.",)
    off = np.empty(len(lengths))
    rest = np.empty(len(lengths))
    for i in range(len(lengths)):
        others = np.delete(np.arange(len(lengths)), i)
        rest[i], variance, _ = weighted_mean(values[others], variances[others])
        off[i] = abs(values[i] - rest[i]) / math.sqrt(variance + variances[i])
    odd = int(np.argmax(off))
    if off[odd] < ODD_SIGMAS:
        return ("The known lengths disagree more than their errors explain; the scale's error was widened.",)
    m, more = lengths[odd], 100 * math.expm1(values[odd] - rest[odd])
    what = m.what or f"{m.length_m:g} m"
    return (
        f'The known length "{what}" on frame {m.frame} makes a pixel {abs(more):.0f} % '
        f"{'longer' if more > 0 else 'shorter'} than the others do: check its ends, metres and distance. "
        "It was not left out; the error was widened.",
    )
