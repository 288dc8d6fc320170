"""Which frames to mark for a checkpoint: proposed from what is known of the strokes so far, and said to be so.

For the catch these are three stills of each stroke: full reach, forearm halfway down, forearm first straight down. Four
points on three stills of two strokes are 24 clicks. What is known may be marks that tell the forearm's way (drafted,
tracked or set), moments that the coach has set, or a single reach, from which the rest is counted on evenly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.catch_reading import ABOUT_HALFWAY_DEG, DOWN_DEG, HALFWAY_DEG, REACH_DEG
from casebook.marks.marks import Marks, Origin
from casebook.plane.geometry import inclination_deg
from casebook.stroke.arm import arm_of
from casebook.stroke.reading import forearm, read
from casebook.stroke.setup import set_ups

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.plane.plane import Plane
    from casebook.stroke.setup import SetUp

#: The stills of the catch in their order, as a coach says them, and the forearm's inclination there. [deg]
STILLS: dict[str, tuple[str, float]] = {
    "reach": ("full reach", 0.0),
    "halfway": ("forearm halfway down", HALFWAY_DEG),
    "straight_down": ("forearm first straight down", DOWN_DEG),
}
#: From full reach to each still, where nothing but the reach is known. [s] own judgement, no source
USUAL_S = {"reach": 0.0, "halfway": 0.25, "straight_down": 0.42}
#: Of the time from the end of extension to the wrist under the shoulder, where only these two moments are known.
#: own judgement, no source
USUAL_SHARE = {"reach": 0.0, "halfway": 0.45, "straight_down": 0.8}
#: Marked stills nearer than this to a proposed one belong to the same stroke. [s]
SAME_STROKE_S = 0.6
STROKES = 2
#: From one reach of an arm to its next, where only one is known. [s] common practice, no source
USUAL_STROKE_S = 1.5
#: The fingertip that no draft has: so far beyond the wrist, in forearm lengths.
HAND = 0.7


@dataclass(frozen=True, slots=True)
class Proposal:
    """A frame to mark: what it should show, from what that was taken, and whether the coach has marked one."""

    frame: int
    key: str
    title: str
    why: str
    done: bool = False


def catch_stills(
    shot: Shot, marks: Marks, plane: Plane, events: Sequence[EventMark], side: str, strokes: int = STROKES
) -> tuple[Proposal, ...]:
    """Frames proposed for the catch of one arm in time order, at most ``strokes`` strokes; none while nothing is known.

    A still that the coach has marked with all four points stands in the place of its proposal, as done.
    """
    times = shot.times if np.isfinite(shot.times[shot.start : shot.stop]).all() else shot.clip.times
    own = _stills_by_hand(marks, plane, side)
    rows: list[Row] = []
    # What is read off marks counts before what is counted on from a moment, and that before a lone reach.
    for more in (
        _from_marks(shot, marks, plane, side),
        _from_moments(shot, times, events, side),
        _evenly(shot, times, own),
    ):
        rows += [r for r in more if all(_apart(r, other, times) >= SAME_STROKE_S for other in rows)]
    rows.sort(key=lambda row: row[0]["reach"])
    found = []
    for number, (frames, why) in enumerate(rows[:strokes], 1):
        for key, frame in frames.items():
            title, _ = STILLS[key]
            done = _nearest(own[key], frame, times)
            place = frame if done is None else done
            found.append(Proposal(place, key, f"{title}, stroke {number}", why, done is not None))
    return tuple(sorted(found, key=lambda p: p.frame))


Row = tuple[dict[str, int], str]


def _from_marks(shot: Shot, marks: Marks, plane: Plane, side: str) -> list[Row]:
    """From the forearm's way through drafted, tracked or set marks, where they are dense enough to tell it."""
    arm = arm_of(shot, with_stand_in(marks, side), side)
    if len(arm.frames) < 5:
        return []
    rows = []
    for stroke in set_ups(shot, arm, plane):
        if not stroke.dense:
            continue
        frames = {"reach": int(np.interp(stroke.begins, stroke.arm.clock, stroke.arm.frames) + 0.5)}
        for key in ("halfway", "straight_down"):
            at = _instant(stroke, STILLS[key][1])
            if at is not None:
                frames[key] = at
        if len(frames) == len(STILLS):
            rows.append((frames, "read off the marks so far"))
    return rows


def _instant(stroke: SetUp, target: float) -> int | None:
    how = stroke.plan(forearm, target)
    if how is None:
        return None
    clock = float(read(how, stroke.level[how.rows])[1])
    if not np.isfinite(clock):
        return None
    # The first frame on which it is so, not the last before.
    return int(np.ceil(np.interp(clock, stroke.arm.clock, stroke.arm.frames) - 0.25))


def with_stand_in(marks: Marks, side: str) -> Marks:
    """The same marks, and where elbow and wrist are marked and the fingertip is not, one that continues the forearm."""
    names = [f"{n}_{side}" for n in ("shoulder", "elbow", "wrist", "fingertip")]
    out = marks.pick(names)
    elbow, wrist, tip = out.xy[:, 1], out.xy[:, 2], out.xy[:, 3]
    missing = ~np.isfinite(tip).all(-1) & np.isfinite(elbow).all(-1) & np.isfinite(wrist).all(-1)
    tip[missing] = wrist[missing] + HAND * (wrist - elbow)[missing]
    out.sigma_px[missing, 3] = out.sigma_px[missing, 2]
    out.origin[missing, 3] = int(Origin.drafted)
    return out


def _from_moments(shot: Shot, times: NDArray[np.float64], events: Sequence[EventMark], side: str) -> list[Row]:
    """From the end of extension and the wrist under the shoulder, as the coach set them."""
    own = sorted((e for e in events if e.side in ("", side)), key=lambda e: e.frame)
    rows = []
    for start in (e for e in own if e.event == "end_of_extension"):
        end = next((e for e in own if e.event == "shoulder" and e.frame > start.frame), None)
        first = float(np.interp(start.frame, np.arange(len(times)), times))
        last = first + USUAL_S["straight_down"] / USUAL_SHARE["straight_down"]
        why = "counted on from the end of the reach that you set"
        if end is not None and (stop := float(np.interp(end.frame, np.arange(len(times)), times))) - first < 2:
            last, why = stop, "shared out between the two moments that you set"
        rows.append(({k: _frame(times, first + s * (last - first)) for k, s in USUAL_SHARE.items()}, why))
    return [row for row in rows if _inside(shot, row)]


def _evenly(shot: Shot, times: NDArray[np.float64], own: dict[str, list[int]]) -> list[Row]:
    """From each reach that is marked, by the timing of an earlier stroke or else the usual one."""
    rows: list[Row] = []
    delays, why = dict(USUAL_S), "counted on from the reach that you marked, by a usual stroke's timing"
    reaches = [f for i, f in enumerate(own["reach"]) if not i or times[f] - times[own["reach"][i - 1]] >= SAME_STROKE_S]
    for reach in reaches:
        frames = {key: _frame(times, times[reach] + delay) for key, delay in delays.items()}
        rows.append((frames, why))
        marked = {key: _nearest(own[key], frame, times) for key, frame in frames.items() if frame < len(times)}
        if len(marked) == len(STILLS) and all(frame is not None for frame in marked.values()):
            delays = {key: float(times[frame] - times[reach]) for key, frame in marked.items() if frame is not None}
            why = "counted on from the reach that you marked, by the timing of the stroke before"
    if len(rows) == 1:
        again = _frame(times, times[reaches[0]] + USUAL_STROKE_S)
        rows.append(({"reach": again}, "about a stroke after the reach that you marked; look for it nearby"))
    return [row for row in rows if _inside(shot, row)]


def _stills_by_hand(marks: Marks, plane: Plane, side: str) -> dict[str, list[int]]:
    """Frames with all four points by the coach's hand, by what they show."""
    own = marks.pick([f"{n}_{side}" for n in ("shoulder", "elbow", "wrist", "fingertip")])
    by_hand = np.isfinite(own.xy).all((-1, -2)) & (own.origin >= int(Origin.confirmed)).all(-1)
    frames, level = own.frames[by_hand], plane.level(own.xy[by_hand])
    slope = inclination_deg(level[:, 1], level[:, 2])
    shows = {
        "reach": slope < REACH_DEG - 5,
        "halfway": np.abs(slope - HALFWAY_DEG) <= ABOUT_HALFWAY_DEG,
        "straight_down": np.abs(slope - DOWN_DEG) <= ABOUT_HALFWAY_DEG,
    }
    return {key: [int(f) for f in frames[which]] for key, which in shows.items()}


def _nearest(frames: Sequence[int], frame: int, times: NDArray[np.float64]) -> int | None:
    near = [f for f in frames if abs(times[f] - times[frame]) < SAME_STROKE_S / 2]
    return min(near, key=lambda f: abs(f - frame)) if near else None


def _frame(times: NDArray[np.float64], at: float) -> int:
    """The frame nearest to an instant; the one after the last where the clip has ended by then."""
    return len(times) if at > times[-1] else int(np.argmin(np.abs(times - at)))


def _apart(a: Row, b: Row, times: NDArray[np.float64]) -> float:
    return abs(float(times[a[0]["reach"]] - times[b[0]["reach"]]))


def _inside(shot: Shot, row: Row) -> bool:
    return all(shot.start <= frame < shot.stop for frame in row[0].values())
