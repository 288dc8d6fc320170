"""Finding the slates of a long recording: leafed through quickly, then looked at picture by picture around each one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.squad.cuts import Cut
from casebook.squad.slate import Seen, slates_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.clip import Clip
    from casebook.squad.squad import Squad

#: One picture is looked at in so many seconds; a slate that is held for three is met several times. [s]
LEAF_S = 0.5
#: Slates within so many seconds are one showing, where none of them says another number. [s]
JOIN_S = 2.5
#: A showing counts where so many pictures of it were read, or look like a slate that cannot be read.
LEAST_PICTURES = 3
#: Before a slate can be read its swimmer may be in the picture: a stretch ends so much earlier; before one that must
#: not be filmed or cannot be read, so much. [s] own judgement, no source
MARGIN_S, CLOSED_MARGIN_S = 1.0, 3.0
#: A stretch longer than so many times the middle one may hide a slate that was not seen. own judgement, no source
LONG, FEWEST_TO_COMPARE = 1.75, 4
#: What a row waits for.
NOT_READ = "slate not read: type its number, then empty this cell"
TWO_AT_ONCE = "two slates at once: type the number, then empty this cell"
MISSED = "much longer than the others: was a slate missed? Look, mend the times, then empty this cell"


@dataclass(frozen=True, slots=True)
class Showing:
    """A slate in the recording: frames ``start`` to ``stop`` (exclusive); the numbers read: one, none or several."""

    start: int
    stop: int
    numbers: frozenset[int]

    @property
    def number(self) -> int | None:
        """The number, if exactly one was read."""
        return next(iter(self.numbers)) if len(self.numbers) == 1 else None


def leafed(clip: Clip) -> NDArray[np.int64]:
    """Frames to look at first, (K,) rising: key pictures, quick to have, and more where those lie far apart."""
    wanted = np.arange(0.0, clip.times[-1] + LEAF_S, LEAF_S)
    evenly = np.minimum(np.searchsorted(clip.times, wanted), clip.n_frames - 1)
    return np.unique(np.concatenate([clip.key_frames, evenly[_from_key(clip, evenly) > LEAF_S / 2]]))


def find_slates(clip: Clip, progress: bool = True) -> tuple[Showing, ...]:
    """Every slate of a recording, in order; what was seen in too few pictures to be sure of has no number."""
    from tqdm import tqdm

    samples = leafed(clip)
    bar = tqdm(samples.tolist(), desc="Looking for slates", unit="picture", disable=not progress)
    seen = {frame: slates_in(clip.frame(frame)) for frame in bar}
    found = []
    for run in _runs(clip, seen):
        showing = _looked_at(clip, run, samples, seen)
        if showing is not None:
            found.append(showing)
    return tuple(found)


def cuts_between(squad: Squad, clip: Clip, showings: Sequence[Showing]) -> tuple[Cut, ...]:
    """One stretch from each slate to the next; a row says why it waits where it must."""
    out = []
    for k, showing in enumerate(showings):
        after = showings[k + 1] if k + 1 < len(showings) else None
        stop = clip.n_frames if after is None else _before(squad, clip, after)
        start = min(showing.stop, clip.n_frames - 1)
        if stop <= start:
            continue
        say = "" if showing.number is not None else TWO_AT_ONCE if showing.numbers else NOT_READ
        out.append(Cut(start, stop, showing.number, say))
    return _long_ones_wait(out, clip)


def _from_key(clip: Clip, frames: NDArray[np.int64]) -> NDArray[np.float64]:
    """From each of these frames to the key picture nearest in time, (K,) [s]."""
    keys = np.concatenate([[-np.inf], clip.times[clip.key_frames], [np.inf]])
    at = clip.times[frames]
    after = np.searchsorted(keys, at)
    return np.asarray(np.minimum(at - keys[after - 1], keys[after] - at))


def _runs(clip: Clip, seen: dict[int, Seen]) -> list[list[int]]:
    """Sampled frames with a slate, gathered into showings."""
    runs: list[list[int]] = []
    numbers: frozenset[int] = frozenset()
    for frame in sorted(f for f, s in seen.items() if s.numbers or s.unread):
        mine = seen[frame].numbers
        joined = runs and clip.times[frame] - clip.times[runs[-1][-1]] <= JOIN_S
        if joined and (not mine or not numbers or mine & numbers):
            runs[-1].append(frame)
            numbers = numbers | mine
        else:
            runs.append([frame])
            numbers = mine
    return runs


def _looked_at(clip: Clip, run: list[int], samples: NDArray[np.int64], seen: dict[int, Seen]) -> Showing | None:
    """A showing with its exact first and last picture; None if it hardly was one."""
    first, last = run[0], run[-1]
    before = samples[samples < first]
    after = samples[samples > last]
    low, high = int(before[-1]) + 1 if len(before) else 0, int(after[0]) if len(after) else clip.n_frames
    near = {f: slates_in(clip.frame(f)) for f in (*range(low, first), *range(last + 1, high))}
    looked = near | {f: seen[f] for f in run}
    numbers = frozenset[int]().union(*(seen[f].numbers for f in run))
    fits = [f for f, s in looked.items() if s.numbers & numbers or (s.unread and not s.numbers)]
    read = [f for f in fits if looked[f].numbers]
    if len(fits) < LEAST_PICTURES:
        return Showing(min(fits), max(fits) + 1, frozenset()) if read else None
    return Showing(min(fits), max(fits) + 1, numbers if len(read) >= LEAST_PICTURES else frozenset())


def _before(squad: Squad, clip: Clip, showing: Showing) -> int:
    """Where a stretch must end before this slate comes."""
    is_free = showing.number is not None and squad.may_be_filmed(showing.number)
    end_s = clip.times[showing.start] - (MARGIN_S if is_free else CLOSED_MARGIN_S)
    return int(np.searchsorted(clip.times, end_s))


def _long_ones_wait(cuts: Sequence[Cut], clip: Clip) -> tuple[Cut, ...]:
    ends = np.append(clip.times, clip.times[-1])
    lengths = np.array([ends[c.stop] - ends[c.start] for c in cuts])
    if len(cuts) < FEWEST_TO_COMPARE:
        return tuple(cuts)
    limit = LONG * float(np.median(lengths))
    return tuple(
        Cut(c.start, c.stop, c.number, MISSED) if length > limit and not c.say else c
        for c, length in zip(cuts, lengths, strict=True)
    )
