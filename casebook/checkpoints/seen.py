"""Which faults a result shows: findings beyond their band, and what a coach saw by eye."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from casebook.checkpoints.advice import Fault, load_advice
from casebook.checkpoints.finding import Finding, NotMeasured, Observed

if TYPE_CHECKING:
    from casebook.checkpoints.advice import Good


class HasResults(Protocol):
    """A checkpoint's result, as far as it matters here."""

    @property
    def results(self) -> Sequence[Finding | NotMeasured]: ...


@dataclass(frozen=True, slots=True)
class SeenFault:
    """A fault with what shows it."""

    fault: Fault
    findings: tuple[Finding, ...] = ()
    observed: tuple[Observed, ...] = ()

    @property
    def sides(self) -> frozenset[str]:
        """Sides on which it shows, ``l`` and ``r``; empty where it has no side."""
        return frozenset({f.side for f in self.findings} | {o.side for o in self.observed}) & {"l", "r"}

    @property
    def is_clear(self) -> bool:
        """More than near the band's edge, or seen by eye."""
        return bool(self.observed) or any(f.verdict == "outside" for f in self.findings)

    @property
    def size(self) -> float:
        """How far beyond the edge of the band, in give-or-takes of the finding itself; 0 if seen by eye only."""
        return max((_beyond(f) for f in self.findings), default=0.0)


def faults_in(
    checkpoint: str,
    result: HasResults | None,
    *,
    sides: Iterable[str] = ("l", "r"),
    observed: Sequence[Observed] = (),
) -> tuple[SeenFault, ...]:
    """The faults of one checkpoint that show, in the order in which the advice has them.

    Parameters
    ----------
    checkpoint : str
    result : object with results, or None
        None: only what was seen by eye.
    sides : iterable of str
        Sides that may speak; what has no side always does. The far arm of a side view is left out by the caller.
    observed : sequence of Observed
        Of any checkpoint; those of this one count.
    """
    speaking = {*sides, ""}
    findings = [r for r in (result.results if result else ()) if isinstance(r, Finding) and r.side in speaking]
    own = [o for o in observed if o.checkpoint == checkpoint]
    seen = (
        SeenFault(
            fault,
            tuple(f for f in findings if shows(fault, f)),
            tuple(o for o in own if o.word in fault.by_eye),
        )
        for fault in load_advice(checkpoint).faults
    )
    return tuple(s for s in seen if s.findings or s.observed)


def goods_in(checkpoint: str, result: HasResults, sides: Iterable[str] = ("l", "r")) -> tuple[Good, ...]:
    """What is worth keeping: quantities with a word of praise that lie within their band on every side that speaks."""
    speaking = {*sides, ""}
    out = []
    for good in load_advice(checkpoint).goods:
        own = [
            r for r in result.results if isinstance(r, Finding) and r.quantity == good.quantity and r.side in speaking
        ]
        if own and all(f.verdict == "within" for f in own):
            out.append(good)
    return tuple(out)


def shows(fault: Fault, finding: Finding) -> bool:
    """Whether a finding shows a fault: wholly beyond the band's edge on the fault's side, or near it."""
    if finding.verdict not in ("outside", "near") or finding.band is None:
        return False
    if fault.outcomes and finding.outcome not in fault.outcomes:
        return False
    return any(
        edge is not None and (finding.value < edge if when == "low" else finding.value > edge)
        for quantity, when in fault.signs
        if quantity == finding.quantity
        for edge in [finding.band.low if when == "low" else finding.band.high]
    )


def _beyond(finding: Finding) -> float:
    if finding.band is None:
        return 0.0
    edges = [e for e in (finding.band.low, finding.band.high) if e is not None]
    off = min(abs(finding.value - e) for e in edges) if edges else 0.0
    return off / max(finding.these.half, 1e-9)
