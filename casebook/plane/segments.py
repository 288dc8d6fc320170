"""How long the limbs are, from whatever tells it: stated, seen at their longest, the other side, or usual proportions.

Everything is added up on the logarithm, so that a scale, a share and a percentage of error are all plain sums. Each
piece of evidence says something about one limb or about the ratio of two, with its own error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.foreshorten import LEAST_RELATIVE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array: TypeAlias = NDArray[np.float64]

#: Lengths of segments as shares of stature after Drillis and Contini (1966), as handbooks print them. From memory.
SHARES: dict[str, float] = {"upper_arm": 0.186, "forearm": 0.146, "hand": 0.108, "thigh": 0.245, "shank": 0.246}
#: Relative standard deviation of such a share for one person and for where joint centres are judged to be: another
#: table (Plagenhoef and others 1983) has 0.172 for the upper arm and 0.157 for the forearm, 8 % off either way.
#: own judgement
SHARE_SIGMA = 0.06
#: How alike left and right limbs are, and how differently the picture scales them as they pass at unlike distances.
#: common practice, no source
SIDES_SIGMA = 0.02
#: So many frames of one stroke count as seeing a limb anew: it turns slowly. own judgement, no source
LOOKS_PER_STROKE = 3
#: Frames weighed at most, evenly taken.
_MOST_FRAMES = 48
#: Share of frames that may be marked on the wrong place.
_WRONG = 0.01
#: How far a limb may leave the plane over its frames, standard deviations that count alike beforehand. [deg]
_SPREADS_DEG = (4.0, 8.0, 16.0, 32.0)
#: What is left however many frames there are: a limb may never lie quite in the plane (8 degrees out is 1 %).
#: own judgement, no source
LEFT_SIGMA = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What one source says: ``row @ ln(lengths) = value``, with its standard deviation; ``how`` in words."""

    row: Array
    value: float
    sigma: float
    how: str


@dataclass(frozen=True, slots=True, eq=False)
class SegmentLengths:
    """Lengths of some limbs.

    Attributes
    ----------
    names : tuple of str
        Keys of ``SHARES``.
    lengths : (K,) float array
        In the unit of the evidence.
    relative : (K, K) float array
        Covariance of the relative errors.
    how : str
        Where it came from, in words.
    """

    names: tuple[str, ...]
    lengths: Array
    relative: Array
    how: str

    def widened(self, sigma: float) -> SegmentLengths:
        """The same with one more relative error that all limbs share, such as their distance from the camera."""
        return SegmentLengths(self.names, self.lengths, self.relative + sigma**2, self.how)


def segment_lengths(names: Sequence[str], evidence: Sequence[Evidence]) -> SegmentLengths:
    """The lengths that agree best with all evidence, by weighted least squares.

    Raises
    ------
    CasebookError
        The evidence leaves a length open.
    """
    rows = np.array([e.row for e in evidence], float).reshape(len(evidence), len(names))
    if np.linalg.matrix_rank(rows) < len(names):
        raise CasebookError(
            f"Nothing tells how long every one of these is: {', '.join(names).replace('_', ' ')}.",
            "Mark the limb where it is seen from the side at its longest, or state its length.",
        )
    weight = 1 / np.maximum([e.sigma for e in evidence], LEAST_RELATIVE) ** 2
    covariance = np.linalg.inv((rows * weight[:, None]).T @ rows)
    logs = covariance @ (rows * weight[:, None]).T @ np.array([e.value for e in evidence])
    how = ", ".join(dict.fromkeys(e.how for e in evidence))
    return SegmentLengths(tuple(names), np.exp(logs), covariance, how)


def stated(names: Sequence[str], name: str, length: float, sigma: float) -> Evidence:
    """A length that somebody measured on the body, with its standard deviation."""
    return Evidence(_one(names, name), float(np.log(length)), sigma / length, "stated")


def of_whole(names: Sequence[str], name: str, whole: float, sigma: float, parts: Sequence[str] = ()) -> Evidence:
    """A limb as its usual share of a known whole.

    Parameters
    ----------
    names, name
        All limbs asked for, and the one meant.
    whole, sigma : float
        Length of the whole and its standard deviation.
    parts : sequence of str
        What the whole consists of, e.g. upper arm, forearm and hand; stature if empty.
    """
    share = SHARES[name] / (sum(SHARES[p] for p in parts) if parts else 1.0)
    return Evidence(
        _one(names, name),
        float(np.log(whole * share)),
        float(np.hypot(sigma / whole, SHARE_SIGMA)),
        "usual proportions",
    )


def usual_ratio(names: Sequence[str], name: str, other: str) -> Evidence:
    """How long one limb usually is against another."""
    ratio = float(np.log(SHARES[name] / SHARES[other]))
    return Evidence(_one(names, name) - _one(names, other), ratio, SHARE_SIGMA, "usual proportions")


def other_side(names: Sequence[str], known: SegmentLengths, distance_sigma: float = 0.0) -> list[Evidence]:
    """The limbs of the other side of the body, of the same length but for ``SIDES_SIGMA``.

    ``distance_sigma`` is the relative error of how much nearer or farther they pass, where lengths are in pixels.
    """
    out = []
    for i, name in enumerate(known.names):
        sigma = float(np.sqrt(known.relative[i, i] + SIDES_SIGMA**2 + distance_sigma**2))
        out.append(Evidence(_one(names, name), float(np.log(known.lengths[i])), sigma, "the other side"))
    return out


def longest_seen(
    names: Sequence[str], name: str, seen: ArrayLike, sigma: ArrayLike, stroke: ArrayLike
) -> Evidence | None:
    """A limb's length from all frames that show it, near its longest; None where no frame does.

    The longest of many noisy lengths is longer than the limb, and the mean of a limb that leaves the plane is shorter.
    So each length is weighed by all that could have made it: a limb of that length, little or much out of the plane,
    marked with its error; one frame in a hundred may be wrong altogether. A limb that stays far out of the plane all
    the time is not told by this: its length comes out too short.

    Parameters
    ----------
    seen, sigma : (n,) float array
        Lengths in the picture and their standard deviations; NaN is left out.
    stroke : (n,) int array
        Which stroke each belongs to: frames of one stroke see the limb in much the same way, so that together they
        count as ``LOOKS_PER_STROKE``.
    """
    lengths, errors, strokes = np.asarray(seen, float), np.asarray(sigma, float), np.asarray(stroke)
    known = np.flatnonzero(np.isfinite(lengths) & np.isfinite(errors) & (lengths > 0))
    if not len(known):
        return None
    known = known[np.linspace(0, len(known) - 1, min(len(known), _MOST_FRAMES)).astype(int)]
    lengths, strokes = lengths[known], strokes[known]
    errors = np.maximum(errors[known], LEAST_RELATIVE * lengths)
    _, which, counts = np.unique(strokes, return_inverse=True, return_counts=True)
    weight = np.minimum(1.0, LOOKS_PER_STROKE / counts[which])
    logs = np.log(np.quantile(lengths, 0.9)) + np.linspace(-0.20, 0.35, 121)
    chance = np.stack([weight @ np.log(_chance(lengths, errors, np.exp(logs), spread)) for spread in _SPREADS_DEG])
    posterior = np.exp(chance - chance.max()).sum(0)
    posterior /= posterior.sum()
    mean = float(posterior @ logs)
    noise = float(np.sqrt(posterior @ (logs - mean) ** 2))
    return Evidence(_one(names, name), mean, float(np.hypot(noise, LEFT_SIGMA)), "the longest seen in the picture")


def _chance(seen: Array, sigma: Array, lengths: Array, spread_deg: float) -> Array:
    """Probability density (n, L) of each seen length for each true one."""
    nodes = (np.arange(25) + 0.5) / 10
    usual = np.exp(-0.5 * nodes**2)
    usual /= usual.sum()
    off = (seen[:, None, None] - lengths[None, :, None] * np.cos(np.radians(spread_deg * nodes))) / sigma[:, None, None]
    right = (np.exp(-0.5 * off**2) @ usual) / (sigma[:, None] * np.sqrt(2 * np.pi))
    return np.asarray((1 - _WRONG) * right + _WRONG / lengths)


def _one(names: Sequence[str], name: str) -> Array:
    return np.array([float(n == name) for n in names])
