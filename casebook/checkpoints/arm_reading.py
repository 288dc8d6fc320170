"""Reading one arm at the moments of its strokes: values with their errors, for every arm checkpoint but the catch.

The catch reads between frames by its own means, for its moments are defined by the arm's shape. Here a moment is an
event of the stroke, and the arm is where the marks around that event say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.catch_strokes import ArmLength, arm_in_picture
from casebook.checkpoints.parts import Value, heights_m, no_scale, plane_sigma
from casebook.plane.propagate import jacobian
from casebook.stroke.arm import arm_of
from casebook.stroke.events import stroke_events
from casebook.stroke.moment import Moment, NoMoment, moment_at
from casebook.stroke.points import Points, Smooth, Unread, points_of, smooth
from casebook.stroke.setup import SetUp, set_ups
from casebook.stroke.strokes import Stroke, strokes_of
from casebook.words import SIDES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.checkpoints.parts import Sheet
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane

    Array: TypeAlias = NDArray[np.float64]

#: Points of the arm and what it is held against, in the order of every array here.
ARM = ("shoulder", "elbow", "wrist", "fingertip", "hip")
SHOULDER, ELBOW, WRIST, FINGERTIP, HIP = range(5)
#: A moment is read between marks that are at most this many frames apart, or on a mark this near to it.
WIDEST_GAP, NEAREST = 3, 1.0
STEP_PX = 1e-2
_ARM_ONLY = (SHOULDER, ELBOW, WRIST, FINGERTIP)
#: An arm that goes in leans toward the camera or away and looks shorter by a little. Relative, own judgement, no source
IN_AIR_SIGMA = 0.05
WHAT_TO_MARK = "Mark shoulder, elbow, wrist and fingertip on the key stills, or on every frame of a stroke."
#: By how much two limbs of an arm near full reach lean out of the picture plane differently: standard deviation, from
#: simulated swimmers. [deg]
LEAN_APART_DEG = 5.0


@dataclass(frozen=True, slots=True)
class Occasion:
    """A moment of one stroke at which the arm is read, or why there is none."""

    number: int
    stroke_class: str
    moment: Moment | NoMoment


@dataclass(frozen=True, slots=True, eq=False)
class ArmOnShot:
    """One arm over a shot: strokes, set-ups, points and their smoothed places.

    ``points`` and ``track`` hold ``ARM`` of the side; ``length`` is the arm's own, None where it is not known.
    """

    shot: Shot
    plane: Plane
    side: str
    strokes: tuple[Stroke, ...]
    set_ups: tuple[SetUp, ...]
    events: Sequence[EventMark]
    points: Points
    track: Smooth
    length: ArmLength | None

    @property
    def is_marked(self) -> bool:
        """Any point of the arm is marked."""
        return bool(np.isfinite(self.points.level[:, :HIP]).all(-1).any())

    def occasions(self, event: str) -> tuple[Occasion, ...]:
        """One event of every stroke. A stroke that the shot cuts off before it counts only if it has it."""
        found = [Occasion(s.number, s.stroke_class, s.moment(event)) for s in self.strokes]
        last = len(found) - 1
        return tuple(o for i, o in enumerate(found) if isinstance(o.moment, Moment) or 0 < i < last or last == 0)

    def reaches(self) -> tuple[Occasion, ...]:
        """Full reach of every set-up: where the fingers tip in a track, the first still of a stroke otherwise."""
        length = self.length.px if self.length else np.nan
        out = []
        for s in self.set_ups:
            moment = stroke_events(self.shot, s, length, self.events)[0]
            if isinstance(moment, NoMoment) and not s.dense:
                moment = moment_at(self.shot.times, "end_of_extension", self.side, s.frames[0])
            out.append(Occasion(s.number, s.stroke_class, moment))
        return tuple(out)

    @property
    def length_in_air(self) -> ArmLength | None:
        """The arm as long as its limbs look when the hand goes in, all of it over water; None where not marked."""
        sums = []
        for o in self.occasions("entry"):
            rows = self.around(o.moment.frame, _ARM_ONLY) if isinstance(o.moment, Moment) else None
            if rows is not None:
                limbs = np.diff(self.track.at[rows[0][round(rows[1])], :HIP], axis=0)
                sums.append(float(np.linalg.norm(limbs, axis=-1).sum()))
        if not sums:
            return None
        length = float(np.median(sums))
        return ArmLength(length, IN_AIR_SIGMA * length, False, len(sums))

    def around(self, frame: float, needs: Sequence[int]) -> tuple[NDArray[np.int64], float] | None:
        """Rows around a fractional frame that carry these points, and how far the second counts; None without any."""
        known = np.flatnonzero(np.isfinite(self.points.level[:, list(needs)]).all((-1, -2)))
        frames = self.points.frames[known]
        if not len(known):
            return None
        after = int(np.searchsorted(frames, frame))
        if 0 < after < len(known) and frames[after] - frames[after - 1] <= WIDEST_GAP:
            share = (frame - frames[after - 1]) / (frames[after] - frames[after - 1])
            return known[[after - 1, after]], float(share)
        nearest = int(np.argmin(np.abs(frames - frame)))
        return (known[[nearest, nearest]], 0.0) if abs(frames[nearest] - frame) <= NEAREST else None

    def missing(self, frame: float, needs: Sequence[int]) -> Unread:
        """Which of the points are not marked near a frame."""
        lost = [ARM[i] for i in needs if self.around(frame, [i]) is None] or [ARM[i] for i in needs]
        names = _listed(lost)
        return Unread(
            f"Not marked there: {names} of the {SIDES[self.side]} arm.",
            f"Mark {names} around frame {round(frame)}, or hide what cannot be seen.",
        )


def arm_on_shot(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    side: str,
    events: Sequence[EventMark] = (),
    arm_length: Measured | None = None,
) -> ArmOnShot:
    """One arm of a shot, ready to be read."""
    found = set_ups(shot, arm_of(shot, marks, side), plane, events)
    length = arm_in_picture(found, plane, arm_length)
    points = points_of(shot, marks, plane, [f"{name}_{side}" for name in ARM])
    strokes = strokes_of(shot, marks, plane, side, events, arm_px=length.px if length else np.nan)
    return ArmOnShot(shot, plane, side, strokes, found, events, points, smooth(points), length)


@dataclass(frozen=True, slots=True)
class Reading:
    """What is read of an arm at a moment.

    Attributes
    ----------
    quantity : str
    needs : tuple of int
        Points of ``ARM`` without which it cannot be read.
    of : callable
        (..., 5, 2) level pixels -> (...) value, in the quantity's unit but for its scale.
    scale : str
        ``""`` (angles), ``arm`` (pixels to % of the arm) or ``m`` (pixels to metres).
    water : bool
        It is a height over still water.
    joint : bool
        It is a joint's angle, 180 straight. Limbs that leave the picture plane by different angles look straighter than
        they are, a straight joint most.
    air : bool
        It is read over the water. A window at the water line enlarges what is under it by a third, so that the arm
        must be measured in the air too.
    """

    quantity: str
    needs: tuple[int, ...]
    of: Callable[[Array], Array]
    scale: str = ""
    water: bool = False
    joint: bool = False
    air: bool = False

    def refused(self, arm: ArmOnShot) -> Unread | None:
        """Why it cannot be read in this shot at all; None where it can."""
        if self.scale == "m":
            return heights_m(arm.plane) if self.water else no_scale(arm.plane)
        if self.scale == "arm" and self._arm(arm) is None:
            return Unread(
                "The length of the arm is not known.",
                "Mark the arm at full reach, or state the arm's length and mark a known length.",
            )
        return None

    def read(self, arm: ArmOnShot, occasion: Occasion) -> Value | Unread:
        """Its value at a moment, with the errors of marks, moment, plane and arm length to first order."""
        moment = occasion.moment
        if isinstance(moment, NoMoment):
            return Unread(moment.reason, moment.remedy)
        rows = arm.around(moment.frame, self.needs)
        if rows is None:
            return arm.missing(moment.frame, self.needs)
        (a, b), share = rows

        def joined(places: Array) -> Array:
            return np.asarray((1 - share) * places[a] + share * places[b])

        level, per = joined(arm.track.at), self._per(arm)
        value = float(self.of(level)) * per
        slopes = jacobian(lambda flat: self.of(flat.reshape(len(flat), len(ARM), 2)), level.ravel(), STEP_PX).ravel()
        # Neighbours share one fit or one track, so that joining two does not make the place surer than each.
        noise = np.repeat(joined(arm.track.sigma), 2)
        own = float(np.sqrt(np.nansum((slopes * noise) ** 2))) * per
        rate = abs(float(np.nansum(slopes * joined(arm.track.speed).ravel()))) * per
        by_plane = float(plane_sigma(arm.plane, lambda p: self._by(arm, p, a, b, share)))
        length = self._arm(arm)
        by_arm = value * length.sigma_px / length.px if self.scale == "arm" and length else 0.0
        by_space = bent_out_deg(value) if self.joint else 0.0
        common = float(np.sqrt(by_plane**2 + by_arm**2 + by_space**2 + (rate * moment.shared_s) ** 2))
        frames = tuple(sorted({int(arm.points.frames[r]) for r in (a, b)}))
        sigma = float(np.hypot(own, rate * moment.own_s))
        return Value(occasion.number, value, sigma, common, frames, occasion.stroke_class)

    def _per(self, arm: ArmOnShot, plane: Plane | None = None) -> float:
        if self.scale == "m":
            return (plane or arm.plane).m_per_px
        length = self._arm(arm)
        return 100 / length.px if self.scale == "arm" and length else 1.0

    def _arm(self, arm: ArmOnShot) -> ArmLength | None:
        """The arm's length where this is read."""
        return arm.length_in_air if self.air and arm.shot.view == "side_split" else arm.length

    def _by(self, arm: ArmOnShot, plane: Plane, a: int, b: int, share: float) -> float:
        """The value that the marks would have on a trial plane, up to what smoothing does, which is alike on all."""
        xy = arm.points.xy
        level = (1 - share) * plane.level(xy[a]) + share * plane.level(xy[b])
        per = self._per(arm, plane)
        length = self._arm(arm)
        if self.scale == "arm" and length and length.stated:
            # A stated arm is so many pixels only by the scale: a longer pixel makes it fewer.
            per *= plane.m_per_px / arm.plane.m_per_px
        return float(self.of(level)) * per


def bent_out_deg(seen_deg: float) -> float:
    """How far a joint may be from its angle as seen, because limbs lean out of the plane differently. [deg]

    To second order the bend in space is the hypotenuse of the bend as seen and of the difference in lean.

    >>> round(bent_out_deg(178.0), 1), round(bent_out_deg(150.0), 1)
    (3.4, 0.4)
    """
    bend = abs(180.0 - seen_deg)
    return float(np.hypot(bend, LEAN_APART_DEG) - bend)


def add_reading(
    sheet: Sheet, arm: ArmOnShot, reading: Reading, occasions: Sequence[Occasion], notes: Sequence[str] = ()
) -> None:
    """Read one quantity at every occasion and put the finding, or why there is none, on the sheet."""
    refused = reading.refused(arm)
    if refused is None and not occasions:
        refused = Unread(f"No stroke of the {SIDES[arm.side]} arm is marked so that this can be read.", WHAT_TO_MARK)
    if refused is not None:
        sheet.missing([reading.quantity], arm.side, refused)
        return
    got = [reading.read(arm, o) for o in occasions]
    values = [v for v in got if isinstance(v, Value)]
    gaps = [u for u in got if isinstance(u, Unread)]
    why = gaps[0] if gaps else Unread("It cannot be read.", WHAT_TO_MARK)
    said = [f"{len(gaps)} of {len(got)} strokes could not be read: {why.reason}"] if gaps and values else []
    read, asked = Counter(v.stroke_class for v in values), Counter(o.stroke_class for o in occasions)
    counted = {name: (read[name], asked[name]) for name in asked}
    sheet.add(reading.quantity, arm.side, values, counted, none=why, notes=[*notes, *said])


def _listed(items: Sequence[str]) -> str:
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1]
