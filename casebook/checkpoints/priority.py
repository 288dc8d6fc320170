"""What to work on first: one thing or two, by a rule that a coach can read and overrule.

The rule, in this order; coach's practice, no source:

1. Pain comes before everything: what loads the shoulder is held back.
2. What the coach decided stands: "work on now" comes first, "leave alone", "later" and "film again" step back.
3. A fault that usually causes another one that also shows comes before it, wherever it stands.
4. Safety, then breath and balance, line, timing of the front hand, catch, pull, finish, and the fine things last; for a
   learner, after safety, body line, breathing, kick, roll and entry before everything of the arms.
5. Within that: what is behind more of the others; both sides before one; what lies farther beyond its error.
6. What is only near the edge of its band is watched, and comes first only where nothing clear shows.
7. One thing for a learner and for one or two sessions a week, else two: a line cue and a feel cue, and never a second
   one that the first may mend by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from casebook.checkpoints.advice import CONCERNS, all_faults
from casebook.checkpoints.seen import SeenFault

#: What a sore shoulder is spared.
_LOADS_SHOULDER = ("catch", "pull")
#: What a learner takes first. coach's practice, no source
LEARNER_ORDER = ("body_line", "breathing", "kick", "roll", "entry")
#: Up to so many sessions a week there is time for one thing.
FEW_SESSIONS = 2


@dataclass(frozen=True, slots=True)
class Plan:
    """What comes first, what comes with it, what waits, what is held back, and why in sentences."""

    first: SeenFault | None
    second: SeenFault | None
    later: tuple[SeenFault, ...]
    held_back: tuple[SeenFault, ...]
    reasons: tuple[str, ...]

    @property
    def chosen(self) -> tuple[SeenFault, ...]:
        """The one or two things."""
        return tuple(s for s in (self.first, self.second) if s is not None)


def plan(
    seen: Sequence[SeenFault],
    *,
    level: str = "",
    sessions_a_week: float | None = None,
    pain_now: str = "",
    decisions: Mapping[str, str] | None = None,
    coach_first: str = "",
    coach_why: str = "",
) -> Plan:
    """What to work on first.

    Parameters
    ----------
    seen : sequence of SeenFault
        Of all checkpoints; what is undecided is not among them.
    level : str
        Key of ``words.LEVELS``.
    sessions_a_week : float, optional
    pain_now : str
        What hurts, in the swimmer's words; empty if nothing.
    decisions : mapping, optional
        Checkpoint to the coach's decision.
    coach_first, coach_why : str
        Key of the fault that the coach puts first whatever the rule says, and why.
    """
    decisions = decisions or {}
    held = tuple(s for s in seen if pain_now and s.fault.concern in _LOADS_SHOULDER)
    free = [s for s in seen if s not in held]
    put_off = [
        s for s in free if decisions.get(s.fault.checkpoint) in ("leave alone", "later", "film again")
        and s.fault.key != coach_first
    ]  # fmt: skip
    free = [s for s in free if s not in put_off]
    reasons = [f"Pain first ({pain_now}): what loads the shoulder waits, whatever it looks like."] if pain_now else []
    first = _first(free, decisions, coach_first, level)
    if first is None:
        reasons.append("Nothing that shows for certain asks for a change now.")
        return Plan(None, None, tuple(put_off), held, tuple(reasons))
    if first.fault.key == coach_first:
        reasons.append(f"Your coach puts this first: {first.fault.seen}. {coach_why}".strip())
    else:
        reasons.append(_why(first, free, decisions))
    second = None
    if _room_for_two(level, sessions_a_week):
        second = _second(first, [s for s in free if s is not first], free, level)
        if second is not None:
            reasons.append(f"Beside it, because it is another kind of cue: {second.fault.seen}.")
    else:
        reasons.append("One thing at a time.")
    rest = sorted((s for s in free if s not in (first, second)), key=lambda s: _rank(s, free, level))
    return Plan(first, second, (*rest, *put_off), held, tuple(reasons))


def chain(key: str, seen: Sequence[SeenFault]) -> tuple[str, ...]:
    """Keys of the faults that show and are usually behind one, the nearest cause first."""
    faults, shown = all_faults(), {s.fault.key for s in seen}
    out: list[str] = []
    todo = list(faults[key].upstream)
    while todo:
        cause = todo.pop(0)
        if cause in out:
            continue
        if cause in shown:
            out.append(cause)
        todo += faults[cause].upstream
    return tuple(out)


def _first(free: Sequence[SeenFault], decisions: Mapping[str, str], coach_first: str, level: str) -> SeenFault | None:
    named = next((s for s in free if s.fault.key == coach_first), None)
    if named is not None:
        return named
    now = [s for s in free if decisions.get(s.fault.checkpoint) == "work on now"]
    pool = now or list(free)
    pool = [s for s in pool if s.is_clear] or pool
    if not pool:
        return None
    # Among the coach's own choice too, a cause that shows comes before what it causes.
    best = min(pool, key=lambda s: _rank(s, free, level))
    behind = [s for s in pool if s.fault.key in chain(best.fault.key, pool)]
    roots = [s for s in behind if not chain(s.fault.key, pool)]
    return min(roots, key=lambda s: _rank(s, free, level)) if roots else best


def _second(first: SeenFault, rest: Sequence[SeenFault], free: Sequence[SeenFault], level: str) -> SeenFault | None:
    fits = [
        s for s in rest
        if s.is_clear and s.fault.cue != first.fault.cue and first.fault.key not in chain(s.fault.key, free)
    ]  # fmt: skip
    roots = [s for s in fits if not chain(s.fault.key, rest)]
    return min(roots, key=lambda s: _rank(s, free, level)) if roots else None


def _rank(seen: SeenFault, free: Sequence[SeenFault], level: str) -> tuple[bool, int, int, bool, float, str]:
    return (
        not seen.is_clear,
        _place(seen, level),
        -len(_behind(seen, free)),
        len(seen.sides) < 2,
        -seen.size,
        seen.fault.key,
    )


def _place(seen: SeenFault, level: str) -> int:
    """Where a fault stands before size and number are looked at."""
    concern = list(CONCERNS).index(seen.fault.concern)
    if level != "learner" or concern == 0:
        return concern
    early = seen.fault.checkpoint in LEARNER_ORDER
    return 1 + (LEARNER_ORDER.index(seen.fault.checkpoint) if early else len(LEARNER_ORDER) + concern)


def _behind(seen: SeenFault, free: Sequence[SeenFault]) -> list[SeenFault]:
    """The faults that show and that this one is usually behind."""
    return [s for s in free if seen.fault.key in chain(s.fault.key, free)]


def _room_for_two(level: str, sessions_a_week: float | None) -> bool:
    return level != "learner" and (sessions_a_week is None or sessions_a_week > FEW_SESSIONS)


def _why(first: SeenFault, free: Sequence[SeenFault], decisions: Mapping[str, str]) -> str:
    parts = [f"First: {first.fault.seen}. It belongs to {CONCERNS[first.fault.concern]}"]
    others = _behind(first, free)
    if others:
        parts.append(f"it is usually behind {_listed([s.fault.seen for s in others])}")
    if len(first.sides) == 2:
        parts.append("it shows on both sides")
    if first.observed and not first.findings:
        parts.append("it was seen by eye")
    if decisions.get(first.fault.checkpoint) == "work on now":
        parts.append("your coach wants to work on it now")
    return (", and ".join([", ".join(parts[:-1]), parts[-1]]) if len(parts) > 1 else parts[0]) + "."


def _listed(items: Sequence[str]) -> str:
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1]
