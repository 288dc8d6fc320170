"""Rate, length and speed: strokes a minute counting each arm, distance per cycle, and what a length took.

A rate comes from the strokes marked, else from a track, else from the picture itself. Distance and speed come from the
hip over whole cycles, and a length's seconds and strokes from what the coach counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.bands import Bands
from casebook.checkpoints.parts import Sheet, Value, spoilt
from casebook.checkpoints.result import CheckpointResult
from casebook.plane.propagate import Z95
from casebook.stroke.lengths import COUNT_SIGMA, HAND_TIMED_SIGMA_S, Length
from casebook.stroke.moment import Moment
from casebook.stroke.points import Unread
from casebook.stroke.rate import ARMS, FASTEST_STROKES, SLOWEST_STROKES, NoRate, Rate
from casebook.stroke.speed import CycleWay, NoPath, cycle_ways, hip_path, swings
from casebook.stroke.strokes import strokes_of
from casebook.stroke.tempo import rate_of_moments, rate_of_picture, rate_of_track

if TYPE_CHECKING:
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane
    from casebook.stroke.strokes import Stroke

CHECKPOINT = "rate"
RATES = {"strokes_per_min": ARMS, "cycles_per_min": 1}
WAYS = ("distance_per_cycle_m", "speed_m_s", "stroke_index", "pace_100_s", "speed_swing_pct")
LENGTHS = ("strokes_per_length", "seconds_per_length")
ORDER = (*RATES, *WAYS, *LENGTHS)
SPOILT_RATE = {k: f"With {k} the stroke rate is not the swimmer's own." for k in ("snorkel", "paddles", "fins")}
SPOILT_WAY = {k: f"With {k} distance and speed are not the swimmer's own." for k in ("paddles", "fins", "pull buoy")}
#: The band of strokes to a length is one for this pool. [m]
BAND_POOL_M = 25.0
_NOT_COUNTED = Unread(
    "Nobody has counted a length of this swim.", "Give strokes and seconds of a length: both, for one says little."
)


def measure_rate(
    shot: Shot,
    marks: Marks,
    plane: Plane,
    *,
    bands: Bands,
    events: Sequence[EventMark] = (),
    lengths: Sequence[Length] = (),
    about: Rate | None = None,
) -> CheckpointResult:
    """Measure rate, distance and speed of one shot, and the lengths of its swim.

    Parameters
    ----------
    shot : Shot
    marks : Marks
        Fingertip or wrist of one arm, or nothing: then the rate is read from the picture's own motion.
    plane : Plane
        Metres, and a camera that stands still or whose path is known, for distance and speed.
    bands : Bands
    events : sequence of EventMark
        A few entries of one hand are enough for a rate.
    lengths : sequence of Length
        Counted by the coach; else what the swim itself says.
    about : Rate, optional
        What the coach guesses, where one arm's motion cannot be told from both arms'.
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    near = near_side(shot) or "r"
    strokes = {side: strokes_of(shot, marks, plane, side, events) for side in (near, "lr".replace(near, ""))}
    side = max(strokes, key=lambda s: sum(np.isfinite(one.duration_s) for one in strokes[s]))
    if why := spoilt(shot, SPOILT_RATE):
        sheet.missing(tuple(RATES), "", why)
    else:
        _rates(sheet, shot, marks, strokes, side, about)
    if why := spoilt(shot, SPOILT_WAY) or _behind(shot):
        sheet.missing(WAYS, "", why)
    else:
        _ways(sheet, marks, plane, near, strokes[side])
    _lengths(sheet, tuple(lengths) or _of_swim(shot))
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))


def _rates(
    sheet: Sheet, shot: Shot, marks: Marks, strokes: dict[str, tuple[Stroke, ...]], side: str, about: Rate | None
) -> None:
    """Strokes and cycles a minute: of each whole stroke where strokes are known, else of the shot in one."""
    whole = [s for s in strokes[side] if np.isfinite(s.duration_s)]
    values = [_of_stroke(s) for s in whole]
    notes: list[str] = []
    if not values:
        got = _from_less(shot, marks, strokes, side, about)
        if isinstance(got, NoRate):
            maybe = ", or ".join(r.text() for r in got.candidates)
            reason = f"{got.reason} It may be {maybe}." if maybe else got.reason
            sheet.missing(tuple(RATES), "", Unread(reason, got.remedy))
            return
        sigma = got.half / Z95 if np.isfinite(got.half) else 0.0
        values, notes = (
            [Value(1, got.cycles_per_min, sigma, 0.0, ())],
            [f"Over {got.cycles:.1f} cycles, from {got.how}."],
        )
    mean = ARMS * float(np.mean([v.value for v in values]))
    if not SLOWEST_STROKES <= mean <= FASTEST_STROKES:
        reason = f"That would be {mean:.0f} strokes a minute counting each arm; nobody swims like that."
        sheet.missing(tuple(RATES), "", Unread(reason, "Check the slow motion stated for this clip."))
        return
    for quantity, many in RATES.items():
        own = [Value(v.number, many * v.value, many * v.sigma, 0.0, v.frames, v.stroke_class) for v in values]
        sheet.add(quantity, "", own, (0, 0), none=_NOT_COUNTED, notes=notes)


def _of_stroke(stroke: Stroke) -> Value:
    cycles = 60 / stroke.duration_s
    sigma = cycles * float(np.hypot(stroke.own_s("entry"), stroke.own_s("next_entry"))) / stroke.duration_s
    frames = tuple(sorted({f for m in (*stroke.found, stroke.next_entry) if isinstance(m, Moment) for f in m.frames}))
    return Value(stroke.number, cycles, sigma, 0.0, frames, stroke.stroke_class)


def _from_less(
    shot: Shot, marks: Marks, strokes: dict[str, tuple[Stroke, ...]], side: str, about: Rate | None
) -> Rate | NoRate:
    """A rate without one whole stroke: from the moments there are, from a track, from the picture."""
    moments = [m for own in strokes.values() for s in own for m in s.found]
    got: Rate | NoRate = rate_of_moments(moments)
    if not got and not getattr(got, "candidates", ()):
        tracked = rate_of_track(shot, marks, side, about)
        got = tracked if tracked else rate_of_picture(shot, about)
    return got


def _behind(shot: Shot) -> Unread | None:
    lane = shot.swim.lane if shot.swim is not None else "empty"
    if lane in ("", "empty"):
        return None
    return Unread("Swum behind somebody, whose wake carries.", "Film a length in an empty lane.")


def _ways(sheet: Sheet, marks: Marks, plane: Plane, near: str, strokes: Sequence[Stroke]) -> None:
    """Distance per cycle, speed and what follows, over whole cycles; and the swing of speed within them."""
    path = hip_path(sheet.shot, marks, plane, near)
    if isinstance(path, NoPath):
        sheet.missing(WAYS, "", Unread(path.reason, path.remedy))
        return
    ways = cycle_ways(path, strokes)
    none = Unread("No whole stroke lies in the hip's path.", "Track the hip from one entry of a hand to its next.")
    scale = path.scale_sigma
    for quantity, measure in _MEASURES.items():
        values = []
        for way in ways:
            value, sigma, by_scale = measure(way)
            values.append(Value(way.number, value, sigma, abs(value) * by_scale * scale, way.frames, way.stroke_class))
        sheet.add(quantity, "", values, (0, 0), none=none)
    swung = [Value(w.number, w.percent, w.sigma, 0.0, w.frames, w.stroke_class) for w in swings(path, strokes)]
    sheet.add("speed_swing_pct", "", swung, (0, 0), none=none)


#: Value, its own standard deviation, and with what power of the scale it goes.
_MEASURES = {
    "distance_per_cycle_m": lambda w: (w.metres, w.own_metres, 1.0),
    "speed_m_s": lambda w: (w.speed, w.own_speed, 1.0),
    "stroke_index": lambda w: (w.speed * w.metres, _index_sigma(w), 2.0),
    "pace_100_s": lambda w: (100 / w.speed, 100 * w.own_speed / w.speed**2, 1.0),
}


def _index_sigma(way: CycleWay) -> float:
    return float(np.hypot(way.metres * way.own_speed, way.speed * way.own_metres))


def _of_swim(shot: Shot) -> tuple[Length, ...]:
    """What the swim itself says of a length, where its pool is known."""
    swim = shot.swim
    pools = {"25 m": (25.0, "m"), "50 m": (50.0, "m"), "25 yd": (25.0, "yd")}
    if swim is None or swim.place not in pools or (swim.seconds is None and swim.strokes is None):
        return ()
    distance, unit = pools[swim.place]
    return (Length(swim.id, 1, distance, unit, swim.seconds, swim.strokes),)


def _lengths(sheet: Sheet, lengths: Sequence[Length]) -> None:
    """Strokes and seconds of each length, as counted."""
    own = Sheet(sheet.checkpoint, sheet.shot, sheet.bands)
    lengths = [one for one in lengths if one.is_whole]
    if any(abs(one.metres - BAND_POOL_M) > 0.01 for one in lengths):
        kept = {k: v for k, v in sheet.bands.bands.items() if k != "strokes_per_length"}
        own.bands = Bands(sheet.bands.level, kept)
    strokes = [Value(n.number, float(n.strokes), COUNT_SIGMA, 0.0, ()) for n in lengths if n.strokes is not None]
    seconds = [Value(n.number, n.seconds, HAND_TIMED_SIGMA_S, 0.0, ()) for n in lengths if n.seconds is not None]
    own.add("strokes_per_length", "", strokes, (0, 0), none=_NOT_COUNTED)
    own.add("seconds_per_length", "", seconds, (0, 0), none=_NOT_COUNTED)
    sheet.results += own.results
