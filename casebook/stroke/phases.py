"""Phases of a stroke: how long each lasts, and its share of the stroke.

Entry and catch, pull, push, recovery; pull and push are the propulsive ones. The pull begins where the hand turns
backward, and that is told in two ways that are never mixed: against the body (``past_body``) and against the water
(``catch``).

References
----------
.. [1] Seifert L, Delignieres D, Boulesteix L, Chollet D (2007). J Sports Sci 25:131-141: the markers (beginning of the
   backward movement, vertical plane of the shoulders, release from the water) and the two kinds of phase.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.stroke.strokes import Stroke

    Array: TypeAlias = NDArray[np.float64]

#: Phases in their order, with the events they lie between; ``start`` stands for the beginning of the pull.
PHASES: dict[str, tuple[str, str]] = {
    "entry": ("entry", "start"),
    "pull": ("start", "shoulder"),
    "push": ("shoulder", "exit"),
    "recovery": ("exit", "next_entry"),
}
#: What the hand turns backward against, and the event that tells it.
STARTS: dict[str, str] = {"past_body": "the body", "catch": "the water"}


@dataclass(frozen=True, slots=True, eq=False)
class Phases:
    """Phases of N strokes of one arm.

    Attributes
    ----------
    start : str
        Event at which the pull begins: ``past_body`` or ``catch``.
    strokes : tuple of Stroke, length N
    seconds : (N, 4) float array
        Durations of ``PHASES``, NaN where an event is missing. [s]
    duration_s : (N,) float array
        Entry to next entry. [s]
    percent, percent_sigma, percent_shared : (N, 5) float arrays
        Shares of the stroke of ``PHASES`` and, last, of pull and push together; their standard deviation of each
        stroke's own, and the part that all strokes of the shot share. [%]
    """

    start: str
    strokes: tuple[Stroke, ...]
    seconds: Array
    duration_s: Array
    percent: Array
    percent_sigma: Array
    percent_shared: Array

    @property
    def propulsive_pct(self) -> Array:
        """Pull and push together. (N,) [%]"""
        return self.percent[:, -1]


def phases(strokes: Sequence[Stroke], start: str = "past_body") -> Phases:
    """Durations and shares of the phases of each stroke.

    Parameters
    ----------
    strokes : sequence of Stroke
        Of one arm or of both.
    start : str
        ``past_body`` or ``catch``.

    Notes
    -----
    A share is the difference of two instants over the difference of two others; its error follows to first order from
    theirs. What strokes share moves both entries alike.
    """
    check_start(start)
    named = {"start": start}
    times, own, shared = (
        {n: np.array([getattr(s, read)(named.get(n, n)) for s in strokes], float) for n in _INSTANTS}
        for read in ("time_s", "own_s", "shared_s")
    )
    whole = times["next_entry"] - times["entry"]
    seconds = np.array([times[b] - times[a] for a, b in PHASES.values()]).T.reshape(-1, 4)
    spans = (*PHASES.values(), ("start", "exit"))
    slopes = [_slopes(times, a, b) for a, b in spans]
    return Phases(
        start,
        tuple(strokes),
        seconds,
        whole,
        np.array([100 * (times[b] - times[a]) / whole for a, b in spans]).T.reshape(-1, 5),
        np.array([100 * _root_of_squares({n: v * own[n] for n, v in slope.items()}) for slope in slopes]).T.reshape(
            -1, 5
        ),
        np.array([100 * _root_of_squares(_together(slope, shared)) for slope in slopes]).T.reshape(-1, 5),
    )


_INSTANTS = ("entry", "start", "shoulder", "exit", "next_entry")


def check_start(start: str) -> None:
    """Raise CasebookError for a beginning of the pull that is none."""
    if start not in STARTS:
        raise CasebookError(f'The pull does not begin with "{start}".', f"Use one of: {', '.join(STARTS)}.")


def _slopes(times: dict[str, Array], a: str, b: str) -> dict[str, Array]:
    """Change of the share (t_b - t_a) / (t_end - t_entry) with each instant that it depends on. [1/s]"""
    whole = times["next_entry"] - times["entry"]
    share = (times[b] - times[a]) / whole
    slopes: dict[str, Array] = {}
    for name, change in ((a, -1.0), (b, 1.0), ("entry", share), ("next_entry", -share)):
        slopes[name] = slopes.get(name, 0.0) + change / whole
    return slopes


def _together(slopes: dict[str, Array], shared: dict[str, Array]) -> dict[str, Array]:
    """What the shared errors do to a share: one error of the water line for both entries."""
    out = {n: v * shared[n] for n, v in slopes.items() if n not in ("entry", "next_entry")}
    return out | {"entry": (slopes["entry"] + slopes["next_entry"]) * shared["entry"]}


def _root_of_squares(parts: dict[str, Array]) -> Array:
    return np.sqrt(np.sum([p**2 for p in parts.values()], axis=0))
