"""Every moment of one arm that its marks show: points passing the water line and the shoulder, motions that start.

What can be read depends on the view. From the side under water or at the water line: everything. From the side over
water: the hand entering and the wrist leaving. Head-on under water the surface has no one height in the picture, so the
hand coming into sight and going out of it counts. In other views: what the coach sets.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.stroke.arm import FINGERTIP, SHOULDER, WRIST, Arm, clock_of
from casebook.stroke.events import no_water
from casebook.stroke.moment import Moment, NoMoment, half_frame
from casebook.stroke.onset import DOWNWARD_ARMS_PER_S, MOTIONS, STEADY_S, Motion
from casebook.stroke.passing import HOLD_S, Passings, appearances, passings
from casebook.stroke.search import first_crossing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.plane.plane import Plane

    Array: TypeAlias = NDArray[np.float64]

#: Events that are a point passing a line: the points needed. They tell the strokes apart.
PASSING: dict[str, tuple[int, ...]] = {"entry": (FINGERTIP,), "shoulder": (SHOULDER, WRIST), "exit": (WRIST,)}
WHOLE_VIEWS = ("side_under", "side_split")
HEAD_ON_UNDER = ("front_under", "rear_under")
#: A camera over water looks down, and a hand beside the plane of the water line looks too high or too low: 10 cm at 22
#: degrees. In arm lengths; alike for every stroke. computed
BESIDE_ARMS = 0.05
#: Full reach is looked for no longer than this before the hand is under the shoulder. [s] own judgement, no source
LONGEST_SET_UP_S = 2.0
#: A track of fewer frames shows no motion.
LEAST_TRACK = 5
#: The same event of an arm never comes again sooner: well under the 0.86 s of a cycle at 140 strokes a minute, each
#: arm. own judgement, no source [s]
LEAST_APART_S = 0.25
_MARK_ALL = "Mark shoulder, elbow, wrist and fingertip on every frame from entry until the hand is under the shoulder."


class ArmMoments:
    """One arm's marks over a shot, ready to be searched.

    Parameters
    ----------
    shot : Shot
    arm : Arm
    plane : Plane
    arm_px : float
        Length of the arm in the picture, NaN: by the marks at full reach. [px]
    """

    def __init__(self, shot: Shot, arm: Arm, plane: Plane, arm_px: float = np.nan) -> None:
        self.shot, self.arm, self.plane = shot, arm, plane
        self._clock = clock_of(shot)
        self._real = shot.times
        self._known_px = arm_px
        self.level = plane.level(arm.xy)
        self._pool = None
        if plane.path is not None:
            pool = plane.pool(arm.xy, arm.frames[:, None])
            self._pool = pool[:, WRIST, 0]
            # Heights against the pool, where the camera bobs.
            self.level = np.where(np.isfinite(pool), pool, self.level)

    def at(self, name: str, clock: float, sigma_s: float, frames: NDArray[np.int64], shared_s: float = 0.0) -> Moment:
        """A moment at an instant of the clock, as unsure as half a frame at least."""
        low = int(self._clock.searchsorted(clock, "right")) - 1
        low = min(max(low, 0), len(self._clock) - 2) if len(self._clock) > 1 else 0
        high = min(low + 1, len(self._clock) - 1)
        span = self._clock.item(high) - self._clock.item(low)
        share = (clock - self._clock.item(low)) / span if span > 0 else 0.0
        frame, time = low + share, self._real.item(low) + share * (self._real.item(high) - self._real.item(low))
        sigma = max(half_frame(self._real, frame), math.hypot(sigma_s, shared_s))
        read = tuple(sorted(set(frames.tolist())))
        return Moment(name, self.arm.side, time, sigma, frame, read, shared_s=shared_s)

    def passages(self, name: str) -> list[Moment]:
        """All moments of one of ``PASSING``."""
        if self.why_not(name):
            return []
        arm, points = self.arm, PASSING[name]
        value = self._height(name)
        rows = np.flatnonzero(np.isfinite(value))
        if self.shot.view in HEAD_ON_UNDER:
            got = appearances(arm.clock[rows], arm.step, "before" if name == "entry" else "after")
            return self._inside(name, got, rows, 0.0)
        sigma = np.sqrt((arm.sigma_px[rows][:, points] ** 2).sum(1))
        by_hand = bool(arm.by_hand[rows][:, points].all())
        # Seen from under water a hand above it is not there, and so a track begins at entry and ends at exit.
        beyond = {"entry": "before", "exit": "after"}.get(name, "") if self.shot.view.endswith("under") else ""
        got = passings(arm.clock[rows], value[rows], sigma, arm.step, independent=by_hand, beyond=beyond)
        water = 0.0 if name == "shoulder" else float(np.sqrt(self.plane.covariance[2, 2]))
        if self.shot.view == "side_above":
            water = float(np.hypot(water, BESIDE_ARMS * self.arm_px))
        return self._inside(name, got, rows, water)

    def _inside(self, name: str, got: Passings, rows: NDArray[np.int64], shared_px: float) -> list[Moment]:
        """Passages inside the shot as moments; its first and last frames show no coming and going."""
        frames = self.arm.frames[rows]
        first, last = (self._clock[f] for f in (self.shot.start, self.shot.stop - 1))
        found, before = [], -np.inf
        for c, s, v, r in zip(got.clock, got.sigma_s, got.rate, got.rows, strict=True):
            # A point that lingers at its line passes it more than once; the hand does not.
            if first < c < last and c - before >= LEAST_APART_S:
                found.append(self.at(name, float(c), float(s), frames[r], shared_px / float(v)))
                before = float(c)
        return found

    def _height(self, name: str) -> Array:
        """(K,) signal that passes zero upward at the event. [px]"""
        if name == "entry":
            return -self.level[:, FINGERTIP, 1]
        if name == "exit":
            return self.level[:, WRIST, 1]
        return self.level[:, SHOULDER, 0] - self.level[:, WRIST, 0]

    def why_not(self, name: str) -> tuple[str, str] | None:
        """Why an event cannot be read in this shot whatever is marked, and what to do; None where it can."""
        view = self.shot.view
        if view not in (*WHOLE_VIEWS, *HEAD_ON_UNDER, "side_above"):
            return "In this view no water line can be told.", "Set the event at its frame, or film from the side."
        if name not in ("entry", "exit") and view not in WHOLE_VIEWS:
            head_on = "Head-on the hand moves toward or away from the camera"
            why = head_on if view in HEAD_ON_UNDER else "Through the surface an arm under water is bent"
            return f"{why}, so this cannot be seen.", "Film from the side, under water or at the water line."
        if view == "rear_under" and name == "entry":
            # On the demo swimmer a hand came into sight behind the body 0.26 s after its entry.
            return "From behind the body hides the hand as it goes in.", "Set the entry at its frame, or film head-on."
        if view in HEAD_ON_UNDER:
            return None
        if name in ("entry", "exit") and not self.plane.has_water:
            return "The water line is not drawn.", "Draw the still water line on a frame."
        if name == "catch" and self.plane.path is None:
            return no_water(self.shot)
        return None

    def missing(self, name: str) -> NoMoment:
        """What to say of a passage that was not found."""
        why = self.why_not(name)
        if why is None:
            point = {"entry": "fingertip", "exit": "wrist"}.get(name, "shoulder and wrist")
            line = "shoulder" if name == "shoulder" else "water line"
            reason = f"The marks do not show it: {point} must be marked close before and after passing the {line}."
            why = reason, f"Mark {point} there, or set the event at its frame."
        return NoMoment(name, self.arm.side, *why)

    @cached_property
    def _motion(self) -> Motion | None:
        rows = np.flatnonzero(self.arm.complete)
        if len(rows) < LEAST_TRACK:
            return None
        return Motion(self.arm.part(rows), self.level[rows], None if self._pool is None else self._pool[rows])

    def when(self, frame: float) -> float:
        """The clock at a frame, fractional or not. [s]"""
        last = len(self._clock) - 2
        if last < 0:
            return float(self._clock[0])
        low = min(max(int(frame), 0), last)
        first = self._clock.item(low)
        return first + (frame - low) * (self._clock.item(low + 1) - first)

    def motions(self, begins: Sequence[float], unders: Sequence[Moment | None]) -> list[dict[str, Moment | NoMoment]]:
        """End of extension, past the body and catch of each stroke, by their names; all strokes at once.

        Parameters
        ----------
        begins : sequence of float
            Frame of each stroke's entry, or of the last moment of the stroke before; NaN for neither.
        unders : sequence of Moment or None
            When its hand is under the shoulder.
        """
        rows = [None if u is None else self._set_up_rows(b, u) for b, u in zip(begins, unders, strict=True)]
        known = [r for r in rows if r is not None]
        columns = {name: iter(self._started(name, known)) for name in MOTIONS}
        reason = "A motion starts between frames, and too few in a row are marked."
        too_few = NoMoment("", self.arm.side, reason, _MARK_ALL)
        out: list[dict[str, Moment | NoMoment]] = []
        for r in rows:
            one: dict[str, Moment | NoMoment] = {}
            for name in MOTIONS:
                why = self._why[name]
                found = next(columns[name]) if r is not None and why is None else replace(too_few, event=name)
                one[name] = found if why is None else NoMoment(name, self.arm.side, *why)
            out.append(one)
        return out

    @cached_property
    def _why(self) -> dict[str, tuple[str, str] | None]:
        return {name: self.why_not(name) for name in MOTIONS}

    def _set_up_rows(self, begins: float, under: Moment) -> tuple[int, int] | None:
        """First and last row of the track from entry until the hand is under the shoulder, without a gap."""
        if self._motion is None:
            return None
        clock, at = self._motion.arm.clock, self.when(under.frame)
        earliest = at - LONGEST_SET_UP_S
        first, last = np.searchsorted(clock, [max(self.when(begins), earliest) if begins == begins else earliest, at])
        last = min(int(last), len(clock) - 1)
        gaps = np.flatnonzero(np.diff(clock[first : last + 1]) > 2.5 * self._motion.arm.step)
        first = int(first) + (int(gaps[-1]) + 1 if len(gaps) else 0)
        return (first, last) if last - first >= LEAST_TRACK else None

    def _started(self, name: str, rows: Sequence[tuple[int, int]]) -> list[Moment | NoMoment]:
        """Where one motion starts in each stretch of rows."""
        if not rows or self._motion is None or self._why[name] is not None:
            return []
        first, last = np.array(rows).T
        slow = 0.0
        if name == "end_of_extension":
            slow, last = DOWNWARD_ARMS_PER_S * self.arm_px, self._halfway(first, last)
        start, arm = self._motion.onsets(name, first, last, slow), self._motion.arm
        low = np.floor(np.nan_to_num(start.row)).astype(int)
        high = np.ceil(np.nan_to_num(start.row)).astype(int)
        clock = np.interp(np.nan_to_num(start.row), np.arange(len(arm.clock)), arm.clock)
        # Where a motion creeps into being its shape, and not its marks, decides where it starts, stroke after stroke.
        creeps = start.sigma_s > STEADY_S
        own, shared = np.where(creeps, 0.0, start.sigma_s), np.where(creeps, start.sigma_s, 0.0)
        nowhere = NoMoment(name, self.arm.side, "The motion does not start in the marked frames.", _MARK_ALL)
        return [
            self.at(name, float(clock[i]), float(own[i]), arm.frames[[low[i], high[i]]], float(shared[i]))
            if np.isfinite(start.row[i])
            else nowhere
            for i in range(len(rows))
        ]

    def _halfway(self, first: NDArray[np.int64], last: NDArray[np.int64]) -> NDArray[np.int64]:
        """Rows at which the forearm is halfway down, where the end of extension is over."""
        motion = self._motion
        assert motion is not None
        at = first[:, None] + np.arange(int((last - first).max()) + 1)
        slope = motion.forearm_deg[np.minimum(at, len(motion.arm.clock) - 1)]
        signal = np.where(at <= last[:, None], slope - 45.0, np.nan)
        down = first_crossing(signal, max(1, round(HOLD_S / self.arm.step)))
        return np.where(np.isnan(down), last, np.minimum(last, first + np.ceil(np.nan_to_num(down)).astype(int)))

    @cached_property
    def arm_px(self) -> float:
        """Length of the arm in the picture: as known, or the longest it is usually seen. [px]"""
        if np.isfinite(self._known_px):
            return self._known_px
        limbs = np.linalg.norm(np.diff(self.level[:, : FINGERTIP + 1], axis=1), axis=-1).sum(1)
        return float(np.nanpercentile(limbs, 90)) if np.isfinite(limbs).any() else 0.0
