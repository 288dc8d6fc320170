"""The passes of one swim put together: one finding from the strokes of several shots, never of several swims.

Each stroke counts once. Errors of single strokes shrink with their number. What the strokes of a shot share (scale,
level) is another error in each shot of a view from the side, and so shrinks with the number of shots; the camera's own
place on the line of swimming and the length of the swimmer's arm or body are one error in all of them, and do not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.bands import Bands
from casebook.checkpoints.build import finding_of
from casebook.checkpoints.catch_words import outcome_of, sentence
from casebook.checkpoints.finding import Finding, NotMeasured
from casebook.plane.propagate import Z95

if TYPE_CHECKING:
    from casebook.checkpoints.catch import CatchResult
    from casebook.checkpoints.result import CheckpointResult
    from casebook.clip.shot import Shot
    from casebook.plane.measured import Measured

    Result: TypeAlias = CheckpointResult | CatchResult

#: Counted at the pool side, and so the same for each shot of a swim; or a place on a circle, which has no plain mean.
APART = ("strokes_per_length", "seconds_per_length", "pace_100_s", "kick_catch_deg", "kick_entry_deg",
         "kick_past_body_deg")  # fmt: skip


@dataclass(frozen=True, slots=True)
class BodyErrors:
    """How well the swimmer's stated lengths are known, as a share of them; 0 where nothing is stated."""

    arm: float = 0.0
    body: float = 0.0

    @classmethod
    def of(cls, arm: Measured | None, body: Measured | None) -> BodyErrors:
        """From the lengths as stated. [m]"""
        return cls(*(m.sigma / m.value if m else 0.0 for m in (arm, body)))

    def shared(self, unit: str, value: float) -> float:
        """Standard deviation that a stated length gives to a value, the same in every shot."""
        share = {"% of arm length": self.arm, "% of body length": self.body}.get(unit, 0.0)
        return abs(value) * share


def is_pass_of(a: Shot, b: Shot) -> bool:
    """Whether two shots are passes of one swim that show the same thing: one swim, view and side, no frame twice."""
    if a.swim is None or b.swim is None or a.swim.id != b.swim.id:
        return False
    if (a.view, near_side(a)) != (b.view, near_side(b)) or (not near_side(a) and a.direction != b.direction):
        return False
    return a.clip.path != b.clip.path or a.stop <= b.start or b.stop <= a.start


def pool(own: Result, others: Sequence[Result], *, body: BodyErrors | None = None, from_side: bool = True) -> Result:
    """The result of one shot with the strokes of the other passes added to its findings.

    Parameters
    ----------
    own : CheckpointResult or CatchResult
        Its stills and curves stay: pictures are of one shot.
    others : sequence of the same kind
        Of shots for which ``is_pass_of`` holds.
    body : BodyErrors, optional
        What all shots share beside the camera.
    from_side : bool
        The view. In line with the swimmer the camera's doubtful place is one error in all passes.

    Returns
    -------
    The same kind of result. A quantity that only one of the shots could measure stands as it was measured there.
    """
    everything = [own, *others]
    told = [r for one in everything for r in one.results]
    known = {(f.quantity, f.side) for f in told if isinstance(f, Finding)}
    arm = getattr(own, "arm_length", None)
    results: list[Finding | NotMeasured] = []
    done: set[tuple[str, str, str]] = set()
    for r in told:
        if isinstance(r, NotMeasured):
            if (r.quantity, r.side) not in known and r in own.results:
                results.append(r)
            continue
        key = _key(r)
        if key not in done:
            done.add(key)
            found = [
                (one.shot_id, f) for one in everything for f in one.results if isinstance(f, Finding) and _key(f) == key
            ]
            made = _pooled(found, own.shot_id, body or BodyErrors(), from_side)
            results.append(_worded(made, arm.value if arm else float("nan")) if made is not found[0][1] else made)
    return replace(own, results=tuple(results))


def _key(f: Finding) -> tuple[str, str, str]:
    return f.quantity, f.side, f.stroke_class


def _pooled(found: Sequence[tuple[str, Finding]], home: str, body: BodyErrors, from_side: bool) -> Finding:
    """One finding of one or several, its strokes told apart by shot; its frames are those of the home shot."""
    first = found[0][1]
    if first.quantity in APART or (len(found) == 1 and found[0][0] == home):
        return first
    all_of = [f for _, f in found]
    strokes = tuple(replace(s, shot="" if shot == home else shot) for shot, f in found for s in f.strokes)
    made = finding_of(
        first.checkpoint, first.quantity, first.side, first.stroke_class, strokes,
        Bands("", {first.quantity: first.band} if first.band else {}),
        seen=sum(f.seen for f in all_of), needed=sum(f.needed for f in all_of),
        outcome=first.outcome if len({f.outcome for f in all_of}) == 1 else "",
        notes=tuple(dict.fromkeys(n for f in all_of for n in f.notes)),
        common=_common(all_of, body, from_side),
    )  # fmt: skip
    return replace(made, frames=tuple(sorted({f for s in strokes if not s.shot for f in s.frames})))


def _worded(made: Finding, arm_m: float) -> Finding:
    """The catch has words of its own, by where the elbow is for certain."""
    if made.checkpoint != "catch":
        return made
    outcome = outcome_of(made.these) if made.quantity.startswith("elbow_height") else ""
    in_m = arm_m if made.quantity == "elbow_height_pct" else float("nan")
    words = sentence(made.quantity, made.value, made.these.half, outcome, len(made.strokes), in_m)
    return replace(made, outcome=outcome, sentence=words)


def _common(found: Sequence[Finding], body: BodyErrors, from_side: bool) -> float:
    """Standard deviation of the mean that is not the strokes' own."""
    share = np.array([len(f.strokes) for f in found]) / sum(len(f.strokes) for f in found)
    each = np.array([_shared_in(f) for f in found])
    if not from_side:
        return float(share @ each)
    stated = np.array([min(body.shared(f.unit, f.value), c) for f, c in zip(found, each, strict=True)])
    return float(np.hypot(np.linalg.norm(share * np.sqrt(each**2 - stated**2)), share @ stated))


def _shared_in(finding: Finding) -> float:
    """What the strokes of one shot share, from the finding's own interval."""
    own = np.sum([s.sigma**2 for s in finding.strokes]) / len(finding.strokes) ** 2
    return float(np.sqrt(max((finding.these.half / Z95) ** 2 - own, 0.0)))
