"""Stroke rate without a fully marked clip: from a few events, from tracked points, or from the picture's own motion.

What repeats twice in a cycle, because both arms do the same, is told from what repeats once by its odd multiples: one
arm is nearer than the other, or left of the swimmer where the other is right. Where that does not tell, both rates are
given and the coach says which. Two arms that look the same all over the picture are taken for one at twice the rate:
only what the coach counted can tell.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.plane.propagate import Z95, t95
from casebook.stroke.arm import ELBOW, FINGERTIP, SHOULDER, WRIST, arm_of, clock_of
from casebook.stroke.periodic import odd_share, principal, refined, scan
from casebook.stroke.rate import FASTEST_HZ, SLOWEST_HZ, NoRate, Rate

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.marks import Marks
    from casebook.stroke.moment import Moment

    Array: TypeAlias = NDArray[np.float64]

#: A motion that repeats explains at least so many times as much at its frequency as at the middle one.
#: own judgement, no source
STANDS_OUT = 2.0
#: And each period is so like the others: in clips of demo swimmers 0.5 to 1, in a cartoon, a street with bicycles, a
#: person on the phone and drifting patches of light under 0.3. own measurement
ALIKE = 0.4
#: Odd multiples hold this share of what a cycle's frequency explains; under the second, they are not there; between, it
#: cannot be told. own judgement, no source
ODD_CLEAR, ODD_ABSENT = 0.25, 0.1
#: For one arm's own track, which has no other arm to be mixed up with.
ODD_ONE_ARM = 0.2
#: Fewer cycles give no rate, for nothing would tell its error.
LEAST_CYCLES = 3.0
#: A stretch in which nothing repeats is called too short under this: three cycles at 60 strokes a minute. [s]
SHORT_S = 6.0
#: Pictures a second that are looked at, and blocks of the picture (rows, columns).
PICTURES_PER_S, BLOCKS = 20.0, (9, 16)
#: Of a block, every so many pixels are read.
PIXELS = 12
_UNKNOWN_TIME = NoRate(
    "How much the file was slowed down is not known.", "State the slow motion of the clip, or count strokes by a clock."
)


def rate_of_moments(moments: Sequence[Moment]) -> Rate | NoRate:
    """Stroke rate from a handful of events: the same event of the same arm comes once a cycle.

    Each kind of event and arm may have its own place in the cycle; all share the cycle's length, which follows by least
    squares. Events of one kind are taken as the next ones of their arm, unless the others tell that one was left out.

    Returns
    -------
    Rate
        Its interval comes from the scatter about even time, or from the events' own errors where that is larger or
        where there are too few.
    """
    if any(not np.isfinite(m.time_s) for m in moments):
        return _UNKNOWN_TIME
    kinds = sorted({(m.event, m.side) for m in moments})
    times = [np.sort([m.time_s for m in moments if (m.event, m.side) == kind]) for kind in kinds]
    steps = np.concatenate([np.diff(t) for t in times]) if times else np.empty(0)
    if not len(steps):
        return NoRate(
            "No event is marked twice for the same arm.", "Mark the same event, such as the right hand's entry, twice."
        )
    # The shortest step is one cycle; longer ones are as many as fit.
    cycle = float(np.median(steps[steps < 1.5 * steps.min()]))
    for _ in range(3):
        counts = [np.round((t - t[0]) / cycle) for t in times]
        cycle, unsure, dof = _shared_slope(times, counts, [m.sigma_s for m in moments])
    many = Z95 if not np.isfinite(dof) else float(t95(dof))
    covered = max(float(c[-1]) for c in counts)
    rate = Rate.of_period(cycle, unsure, many, cycles=covered, how=f"{len(moments)} events")
    return rate if rate.possible else _impossible(rate)


def _shared_slope(times: list[Array], counts: list[Array], sigmas: list[float]) -> tuple[float, float, float]:
    """Slope that straight lines through several groups share, its standard deviation and degrees of freedom."""
    off = np.concatenate([c - c.mean() for c in counts])
    values = np.concatenate([t - t.mean() for t in times])
    reach = float(off @ off)
    slope = float(off @ values) / reach
    dof = len(values) - len(times) - 1
    marked = float(np.sqrt(np.mean(np.square(sigmas)) / reach))
    if dof < 1:
        return slope, marked, np.inf
    scattered = float(np.sqrt(np.sum((values - slope * off) ** 2) / dof / reach))
    return (slope, scattered, float(dof)) if scattered * float(t95(dof)) > marked * Z95 else (slope, marked, np.inf)


def rate_of_track(shot: Shot, marks: Marks, side: str, about: Rate | None = None) -> Rate | NoRate:
    """Stroke rate from the tracked points of one arm, whatever view, gaps included.

    Elbow, wrist and fingertip against the shoulder, or as they are where it is not marked. An arm out of sight once a
    cycle repeats all the same.
    """
    if not np.isfinite(shot.times[shot.start : shot.stop]).all():
        return _UNKNOWN_TIME
    arm = arm_of(shot, marks, side)
    if len(arm.frames) < 2:
        return NoRate("The arm is not marked.", "Track its wrist or fingertip, or read the rate from the picture.")
    origin = arm.xy[:, [SHOULDER]]
    off = arm.xy[:, [ELBOW, WRIST, FINGERTIP]]
    off = (off - origin if np.isfinite(origin).all(-1).mean() > LEAST_SEEN else off).reshape(len(arm.frames), -1)
    seen = np.isfinite(off).mean(0) > LEAST_SEEN
    if not seen.any():
        return NoRate("Too few frames carry the arm's points.", "Track wrist or fingertip through the whole shot.")
    step = 1 / PICTURES_PER_S
    even = np.arange(arm.clock[0], arm.clock[-1], step)
    series = np.stack([_carried(even, arm.clock, column) for column in off[:, seen].T], 1)
    return _rate(step, series, series, about, "tracked points", ODD_ONE_ARM)


#: A point marked on less than this share of the frames is left out. own judgement, no source
LEAST_SEEN = 0.4


def _carried(at: Array, clock: Array, values: Array) -> Array:
    known = np.isfinite(values)
    return np.interp(at, clock[known], values[known])


def rate_of_picture(shot: Shot, about: Rate | None = None) -> Rate | NoRate:
    """Stroke rate from the shot's own pictures, nothing marked.

    The swimmer must fill a fair part of the picture for three cycles or so: a camera that moves along, or a long pass.

    Parameters
    ----------
    shot : Shot
    about : Rate, optional
        What the coach counted or guesses: decides between one arm's and both arms' motion, nothing else.
    """
    if not np.isfinite(shot.times[shot.start : shot.stop]).all():
        return _UNKNOWN_TIME
    step, energy, brightness = motion_energy(shot)
    if shot.camera == "still":
        # The swimmer goes through the picture: rows keep what columns lose.
        energy = energy.reshape(-1, *BLOCKS).sum(2)
    # Waves, glitter and a pool's bottom seen through them repeat slowly too: over water nothing is clear enough.
    clear = np.inf if shot.view.endswith("above") else ODD_CLEAR
    return _rate(step, energy, brightness, about, "the picture's own motion", clear)


def motion_energy(shot: Shot) -> tuple[float, Array, Array]:
    """How much changes from picture to picture, and how bright it is, block by block.

    Returns
    -------
    step : float
        Spacing of the rows. [s]
    energy, brightness : (T, B) float arrays
        Mean absolute change, and mean, of grey values 0 to 255 in each of ``BLOCKS``, against the median of the row;
        blocks that vary no more than is usual along their row are left out.
    """
    clock = clock_of(shot)
    stride = max(1, round(len(shot.frames) / max(clock[shot.stop - 1] - clock[shot.start], 1e-9) / PICTURES_PER_S))
    frames = np.arange(shot.start, shot.stop, stride)
    small = np.stack([_small(picture) for picture in shot.clip.frames(shot.start, shot.stop, stride)])
    change = np.abs(np.diff(small.astype(np.float32), axis=0))
    middles = (clock[frames[1:]] + clock[frames[:-1]]) / 2
    step = float(np.median(np.diff(middles))) if len(middles) > 1 else 1.0
    even = np.arange(middles[0], middles[-1], step)
    series = []
    for pictures, when in ((change, middles), (small, clock[frames])):
        blocks = pictures.reshape(len(pictures), BLOCKS[0], PIXELS, BLOCKS[1], PIXELS).mean((2, 4), dtype=np.float64)
        # What changes all along a row is water, a rope or tiles going by, and not the swimmer.
        blocks = blocks - np.median(blocks, axis=2, keepdims=True)
        usual = blocks.var(0)
        blocks *= np.clip(1 - np.median(usual, axis=1, keepdims=True) / np.maximum(usual, 1e-12), 0, 1)
        flat = blocks.reshape(len(blocks), -1)
        series.append(np.stack([np.interp(even, when, column) for column in flat.T], 1))
    return step, series[0], series[1]


def _small(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Green of a picture (H, W, 3) at evenly spread pixels, as many as the blocks need."""
    rows, columns = (
        np.linspace(0, size - 1, blocks * PIXELS).round().astype(int)
        for size, blocks in zip(picture.shape, BLOCKS, strict=False)
    )
    return picture[rows[:, None], columns, 1]


def _rate(step: float, moving: Array, shape: Array, about: Rate | None, how: str, clear: float) -> Rate | NoRate:
    """The rate in a motion; ``shape`` tells one arm from the other, by odd multiples of a ``clear`` share."""
    series = principal(moving)
    covered = len(moving) * step
    found = scan(step, series, SLOWEST_HZ / 2, 2 * FASTEST_HZ)
    if not len(found.hz):
        return _too_short(covered)
    best = float(found.hz[np.argmax(found.total)])
    if found.total.max() < STANDS_OUT * np.median(found.total):
        return _nothing(covered)
    near = [f for f in (best / 2, best, 2 * best) if 0.9 * SLOWEST_HZ < f < 1.1 * FASTEST_HZ] or [best]
    family = [_refined(step, series, found.peak_near(f), how) for f in near]
    known = [r for r in family if r is not None]
    if not known:
        return _nothing(covered)
    inside = [r for r in known if r.possible and r.cycles >= LEAST_CYCLES]
    if not inside:
        short = min((r.cycles for r in known), default=0.0) < LEAST_CYCLES
        return _too_short(covered, tuple(r for r in known if r.possible)) if short else _impossible(known[-1])
    # Its change from picture to picture, for slow drifts repeat by chance.
    drawn = principal(np.diff(shape, axis=0))
    odd = [scan(step, drawn, 1 / r.cycle_s - 1e-9, 1 / r.cycle_s + 1e-6).shares for r in inside]
    chosen = _told_apart(inside, [odd_share(o[0]) for o in odd], about, clear)
    if chosen is not None:
        return chosen
    return NoRate(
        "The motion repeats, but one arm's stroke cannot be told from both arms' here.",
        "Count one arm's strokes for ten seconds and say about what rate it is.",
        tuple(inside),
    )


def _told_apart(inside: list[Rate], odd: list[float], about: Rate | None, clear: float) -> Rate | None:
    """Which of some rates, each twice the one before, is the cycle's; None where that cannot be told.

    It is the lowest one whose odd multiples hold a ``clear`` share.
    """
    if about is not None:
        return min(inside, key=lambda r: abs(np.log(r.cycle_s / about.cycle_s)))
    if len(inside) == 1:
        return inside[0]
    for rate, share in zip(inside, odd, strict=True):
        if share >= clear or rate is inside[-1]:
            return rate
        if share > ODD_ABSENT:
            break
    return None


def _refined(step: float, series: Array, hz: float, how: str) -> Rate | None:
    """The rate at a frequency of the scan; None where the phases lead away from it or periods are not alike."""
    got = refined(step, series, hz)
    if not abs(got.hz - hz) * len(series) * step < 1 or got.alike < ALIKE:
        return None
    many = float(t95(got.freedom)) if got.freedom >= 1 else float("nan")
    return Rate.of_period(1 / got.hz, got.sigma_hz / got.hz**2, many, cycles=len(series) * step * got.hz, how=how)


def _nothing(covered: float) -> NoRate:
    if covered < SHORT_S:
        return _too_short(covered)
    return NoRate("No motion in the picture repeats clearly.", "Mark three entries of the same hand instead.")


def _too_short(covered: float, maybe: tuple[Rate, ...] = ()) -> NoRate:
    return NoRate(
        f"{covered:.1f} s are too short to see a stroke repeat three times.",
        "Take a longer stretch, or mark the entries of one hand.",
        maybe,
    )


def _impossible(rate: Rate) -> NoRate:
    return NoRate(
        f"That would be {rate.strokes_per_min:.0f} strokes a minute counting each arm; nobody swims like that.",
        "Check the slow motion stated for this clip, and that no event was left out.",
        (rate,),
    )
