"""Breathing: side, rhythm, how long the face is out, when against the arms, and what head and front hand do in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.breathing_lift import front_arm_drop, goggle, head_lift, passes_head
from casebook.checkpoints.drawing import Drawing, Still
from casebook.checkpoints.parts import Sheet, Value, crop_around, path, spoilt
from casebook.checkpoints.result import CheckpointResult
from casebook.stroke.arm import clock_of
from casebook.stroke.breath import Breaths, against_arm, breaths_of, strokes_between
from casebook.stroke.cycle_edges import CycleEdges, cycle_edges, moments_of
from casebook.stroke.head import FACE, FaceTurn, face_turn
from casebook.stroke.points import Unread, points_of
from casebook.words import SIDES, VIEWS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.checkpoints.bands import Bands
    from casebook.clip.shot import Shot
    from casebook.marks.events import EventMark
    from casebook.marks.marks import Marks
    from casebook.plane.plane import Plane

    Array = NDArray[np.float64]

CHECKPOINT = "breathing"
ORDER = (
    "breath_every_strokes", "breath_time_s", "breath_start_pct", "breath_back_s", "breath_back_entry_s",
    "breath_lift_m", "breath_goggle_m", "front_arm_drop_m",
)  # fmt: skip
SPOILT = {"snorkel": "With a snorkel the head does not turn to breathe."}
TROUGH = "The water beside the head is lower than still water while he moves: a mouth in that trough breathes."
BY_EYE = "Whether the swimmer breathes out under water is seen by eye: steady bubbles, held, or a burst."
_IN_SECONDS = ("breath_time_s", "breath_back_s", "breath_back_entry_s")
_SLOW = Unread("How much the file was slowed down is not known.", "State it; angles still serve.")
_CUT = Unread("No breath is marked from beginning to end.", "Mark ear, mouth, crown and neck through the whole breath.")
_AWAY = Unread("The face turns away from the camera.", "Film the breath from its own side, or head-on.")
_PASSES = Unread(
    "The hand over the water is not marked as it passes the head.",
    "Film with the camera at the water line and mark wrist and crown there; the entry is used beside it.",
)


def measure_breathing(
    shot: Shot, marks: Marks, plane: Plane, *, bands: Bands, events: Sequence[EventMark] = ()
) -> CheckpointResult:
    """Measure every breath of a shot.

    Parameters
    ----------
    shot : Shot
        Head-on, or from the breathing side. Without a marked face the rhythm still comes from ``stroke_class`` events.
    marks : Marks
        Mouth, crown and neck (from the side) or both ears (head-on) through the breath; goggles; the fingertips of
        both hands, or entries as events.
    plane : Plane
        Heights need its water line and a scale.
    bands : Bands
    events : sequence of EventMark
    """
    sheet = Sheet(CHECKPOINT, shot, bands)
    if why := spoilt(shot, SPOILT):
        sheet.missing(ORDER, "", why)
        return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results))
    edges = cycle_edges(shot, marks, plane, events)
    face = face_turn(shot, points_of(shot, marks, plane, FACE), near_side(shot))
    breaths = breaths_of(face) if isinstance(face, FaceTurn) else face
    stills: tuple[Still, ...] = ()
    _rhythm(sheet, breaths, face.points.frames if isinstance(face, FaceTurn) else np.empty(0, int), edges, events)
    if isinstance(breaths, Unread) or isinstance(face, Unread):
        sheet.missing(ORDER[1:], "", breaths if isinstance(breaths, Unread) else _PASSES)
    else:
        for side in np.unique(breaths.side):
            if side == face.away:
                sheet.missing(ORDER[1:], str(side), _AWAY)
                continue
            _of_side(_Side(sheet, face, breaths, str(side)), marks, plane, edges)
        stills = _stills(face, breaths)
    return CheckpointResult(CHECKPOINT, shot.id, tuple(sheet.results), stills, (), f"as seen {VIEWS[shot.view]}")


def _rhythm(
    sheet: Sheet,
    breaths: Breaths | Unread,
    face_frames: NDArray[np.int64],
    edges: CycleEdges | Unread,
    events: Sequence[EventMark],
) -> None:
    """Strokes from breath to breath, by the turns of the face or by the classes that the coach gave his strokes."""
    clock = clock_of(sheet.shot)
    frame_of = np.arange(len(clock))
    if isinstance(breaths, Breaths):
        middles = np.where(np.isfinite(breaths.duration_s), (breaths.start_s + breaths.end_s) / 2, np.nan)
        # A breath that is cut off stands at the middle of what is seen.
        frames = face_frames[breaths.rows].mean(1)
        middles = np.where(np.isfinite(middles), middles, np.interp(frames, frame_of, clock))
        sides = [str(s) for s in breaths.side]
    else:
        named = sorted((e for e in events if e.value in ("breath_l", "breath_r")), key=lambda e: e.frame)
        middles = np.interp([e.frame for e in named], frame_of, clock) if named else np.empty(0)
        sides = [e.value[-1] for e in named]
    why: Unread | None = None
    if not len(middles):
        why = breaths if isinstance(breaths, Unread) else None
    elif len(middles) < 2:
        why = Unread("Only one breath is seen.", "Take a longer stretch, or two passes of the same swim.")
    elif isinstance(edges, Unread):
        why = edges
    if why is not None or isinstance(edges, Unread):
        sheet.missing(["breath_every_strokes"], "", why or _PASSES)
        return
    entries = {s: moments_of(edges.strokes.get(s, ()), "entry", clock)[0] for s in "lr"}
    counted = strokes_between(middles, _usable(entries, edges, middles))
    frames = np.interp(middles, clock, frame_of).round().astype(int)
    values = [
        Value(k + 2, float(n), 0.0, 0.0, (int(frames[k]), int(frames[k + 1])), f"breath_{sides[k + 1]}")
        for k, n in enumerate(counted)
        if n > 0
    ]
    none = Unread("No entry of a hand is known between two breaths.", "Mark the entries, or set them as events.")
    sheet.add("breath_every_strokes", "", values, (len(values), len(counted)), none=none, notes=[BY_EYE])


def _usable(entries: dict[str, np.ndarray], edges: CycleEdges, middles: np.ndarray) -> dict[str, np.ndarray]:
    """Entries of the hands that are known all through the breaths; by the cycles where none is."""
    usual = float(np.median(np.diff(edges.starts)))
    first, last = middles[0], middles[-1]
    through = {
        s: t
        for s, t in entries.items()
        if len(t) > 1 and t[0] < first + usual and t[-1] > last - usual and np.diff(t).max() < 1.5 * usual
    }
    return through or {edges.side: edges.starts}


@dataclass(frozen=True, slots=True)
class _Side:
    """The breaths to one side."""

    sheet: Sheet
    face: FaceTurn
    breaths: Breaths
    side: str

    def add(
        self, quantity: str, value: Array, sigma: Array, common: ArrayLike, none: Unread, notes: Sequence[str] = ()
    ) -> None:
        """One quantity of all breaths to this side; the arrays are of all breaths of the shot."""
        own = np.flatnonzero(self.breaths.side == self.side)
        shared = np.broadcast_to(np.asarray(common, float), value.shape)
        spans = self.face.points.frames[self.breaths.rows]
        told = [
            Value(int(k) + 1, float(value[k]), float(sigma[k]), float(shared[k]), (int(spans[k, 0]), int(spans[k, 1])),
                  f"breath_{self.side}")
            for k in own
        ]  # fmt: skip
        needed = int((np.diff(self.breaths.rows[own], axis=1) + 1).sum())
        seen = sum(int(np.isfinite(self.face.turn[a : b + 1]).sum()) for a, b in self.breaths.rows[own])
        self.sheet.add(quantity, self.side, told, (seen, needed), none=none, notes=notes)

    def missing(self, quantities: Sequence[str], why: Unread) -> None:
        """Not measured on this side."""
        self.sheet.missing(quantities, self.side, why)


def _of_side(of: _Side, marks: Marks, plane: Plane, edges: CycleEdges | Unread) -> None:
    shot, face, breaths = of.sheet.shot, of.face, of.breaths
    how = [f"The face counts as out from 45 degrees on, by {face.how}.", BY_EYE]
    both = np.hypot(breaths.start_sigma_s, breaths.end_sigma_s)
    passed = passes_head(shot, marks, plane, face.points, breaths, of.side)
    if not face.points.real:
        of.missing(_IN_SECONDS, _SLOW)
    else:
        of.add("breath_time_s", breaths.duration_s, both, 2 * breaths.shared_s, _CUT, how)
        if isinstance(passed, Unread):
            of.missing(["breath_back_s"], passed)
        else:
            back = np.hypot(passed[1], breaths.end_sigma_s)
            of.add("breath_back_s", passed[0] - breaths.end_s, back, breaths.shared_s, _CUT)
    _against_arm(of, edges)
    for quantity, found, notes in (
        ("breath_lift_m", head_lift(shot, plane, face, breaths), ()),
        ("breath_goggle_m", goggle(shot, marks, plane, breaths), (TROUGH,)),
        ("front_arm_drop_m", front_arm_drop(shot, marks, plane, breaths, edges, of.side), ()),
    ):
        if isinstance(found, Unread):
            of.missing([quantity], found)
        else:
            of.add(quantity, *found, _CUT, notes)


def _against_arm(of: _Side, edges: CycleEdges | Unread) -> None:
    quantities, breaths = ("breath_start_pct", "breath_back_entry_s"), of.breaths
    if isinstance(edges, Unread):
        of.missing(quantities, edges)
        return
    entries, unsure = moments_of(edges.strokes.get(of.side, ()), "entry", clock_of(of.sheet.shot))
    if not len(entries):
        remedy = "Mark that hand's fingertip through its entry, or set the entry as an event."
        of.missing(quantities, Unread(f"No entry of the {SIDES[of.side]} hand is known.", remedy))
        return
    against = against_arm(breaths, {of.side: entries}, max(of.face.points.step / 2, float(np.median(unsure))))
    usual = float(np.median(np.diff(edges.starts)))
    around = Unread(
        f"The {SIDES[of.side]} hand's entries do not enclose a breath.", "Take a longer stretch of the clip."
    )
    none = around if np.isfinite(breaths.start_s[breaths.side == of.side]).any() else _CUT
    of.add("breath_start_pct", against.start_pct, against.start_sigma, 100 * breaths.shared_s / usual, none)
    if of.face.points.real:
        of.add("breath_back_entry_s", against.back_before_s, against.back_sigma, breaths.shared_s, none)


def _stills(face: FaceTurn, breaths: Breaths) -> tuple[Still, ...]:
    """Face turned furthest, and the first frame with it back in."""
    out = []
    for k in range(len(breaths)):
        side = str(breaths.side[k])
        row, back = int(breaths.row[k]), int(breaths.rows[k][1])
        xy = face.points.xy[row]
        names = face.points.names
        head = [xy[names.index(n)] for n in ("neck", "crown")]
        seen = xy[np.isfinite(xy).all(-1)]
        drawing = Drawing((path(head),), (), (path([*_middle(head, xy, names)]),))
        out.append(
            Still(
                int(face.points.frames[row]),
                "turned",
                "Face fully turned",
                drawing,
                k + 1,
                crop_around(seen, 0.8),
                side,
            )
        )
        if np.isfinite(breaths.end_s[k]):
            frame = int(face.points.frames[back]) + 1
            out.append(Still(frame, "back", "Face back in", Drawing(), k + 1, None, side))
    return tuple(out)


def _middle(head: Sequence[np.ndarray], xy: np.ndarray, names: Sequence[str]) -> list[np.ndarray]:
    """From the head's axis (or between the ears) to the mouth."""
    ears = [xy[names.index(f"ear_{s}")] for s in "lr"]
    axis = np.nanmean(np.array(head), axis=0) if np.isfinite(head).all() else np.array(ears).mean(0)
    return [axis, xy[names.index("mouth")]]
