"""The coach's desk: one shot with its marks, lines, scales, events, plane and bands laid out."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from casebook.case import covering
from casebook.case.camera import CameraFacts, edge_marks, fixed_marks, optics_for, path_for
from casebook.case.checklist import Checklist, checklist
from casebook.case.observations import counted, keep_length
from casebook.case.settings import FILE, keep_row, read_settings
from casebook.case.walls import told_events
from casebook.checkpoints.answers import near_side
from casebook.checkpoints.bands import Bands, load_bands
from casebook.checkpoints.catch import CatchResult
from casebook.checkpoints.measure import BodyFacts, measure
from casebook.checkpoints.pool import BodyErrors, is_pass_of, pool
from casebook.errors import CasebookError
from casebook.files import write_atomic
from casebook.marks.events import EventMark, read_events
from casebook.marks.fixed import EdgeMark, FixedMark, write_edges, write_fixed
from casebook.marks.follow_fixed import follow_fixed
from casebook.marks.lines import LineMark, read_lines, write_lines
from casebook.marks.marks import Origin
from casebook.marks.scales import LengthMark, read_scales, write_scales
from casebook.marks.store import MarkStore
from casebook.marks.track import track
from casebook.plane.make import plane_of
from casebook.plane.plane import Plane
from casebook.stroke.lengths import UNITS, Length

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from casebook.case.case import Case
    from casebook.checkpoints.result import CheckpointResult
    from casebook.clip.cover import Cover
    from casebook.clip.shot import Shot
    from casebook.marks.head_covers import HeadCovers
    from casebook.marks.marks import Marks


class Desk:
    """One shot of a case, ready to work on.

    ``store`` is opened when first used and saves every change at once; ``marks`` are the current ones. ``plane`` is
    computed afresh from the lines and lengths on disk each time it is asked for.
    """

    def __init__(self, case: Case, shot: Shot) -> None:
        self.case = case
        self.shot = shot
        self._found: dict[str, tuple[tuple[bytes, ...], Any]] = {}

    def __repr__(self) -> str:
        return f"Desk({self.case.alias}: {self.shot.id})"

    @property
    def out(self) -> Path:
        """Folder of results."""
        return self.case.out

    @cached_property
    def store(self) -> MarkStore:
        """The mark store of this shot."""
        return MarkStore(self._beside(".csv"), self.shot.clip.times, by=self.case.coach)

    @property
    def marks(self) -> Marks:
        """The marks as they stand now."""
        return self.store.marks

    @property
    def lines(self) -> list[LineMark]:
        """Water line, lane and plumb lines as drawn."""
        path = self._beside(".lines.csv")
        return read_lines(path) if path.is_file() else []

    @property
    def lengths(self) -> list[LengthMark]:
        """Known lengths marked in the picture."""
        path = self._beside(".scales.toml")
        return read_scales(path) if path.is_file() else []

    @property
    def events(self) -> list[EventMark]:
        """Events and stroke classes as set by the coach."""
        path = self._beside(".events.csv")
        return read_events(path) if path.is_file() else []

    @property
    def told_events(self) -> list[EventMark]:
        """The coach's events, with the classes of strokes that face and wall tell where he has not said."""
        facts = self.camera
        return told_events(self.shot, self.marks, self.plane, self.events, facts.from_wall_m, dive=facts.dive)

    def draw_water(self, frame: int, left: tuple[float, float], right: tuple[float, float]) -> None:
        """Keep the still water line of a frame by two places on it, as far apart as can be. [px]"""
        mark = LineMark(frame, "water", *left, *right, by=self.case.coach)
        others = [m for m in self.lines if (m.frame, m.line) != (frame, "water")]
        write_lines(self._beside(".lines.csv"), [*others, mark])

    def draw_length(
        self,
        frame: int,
        left: tuple[float, float],
        right: tuple[float, float],
        length_m: float,
        give_or_take_m: float,
        what: str,
        distance_ratio: float = 1.0,
        distance_sigma: float = 0.0,
    ) -> None:
        """Keep a known length by its two ends [px]; ``what`` says in words what was marked.

        ``give_or_take_m`` is meant as everywhere on a page: true in 19 of 20 cases, two standard deviations.
        ``distance_ratio`` is camera-to-swimmer over camera-to-marking: 1 where the length lies in the swimmer's lane at
        his own distance; 0.7 for a rope behind a swimmer at 70 % of its distance.
        """
        mark = LengthMark(
            frame, *left, *right, length_m, give_or_take_m / 2,
            what=what, distance_ratio=distance_ratio, distance_sigma=distance_sigma,
        )  # fmt: skip
        others = [m for m in self.lengths if (m.frame, m.what) != (frame, what)]
        write_scales(self._beside(".scales.toml"), [*others, mark])

    def keep_place(
        self, frame: int, name: str, at: tuple[float, float], distance_ratio: float = 1.0, distance_sigma: float = 0.0
    ) -> None:
        """Keep a place fixed to the pool, such as a tile corner, as one frame shows it [px]; ratio as for a length."""
        mark = FixedMark(
            frame, name, *at, by=self.case.coach, distance_ratio=distance_ratio, distance_sigma=distance_sigma
        )
        others = [m for m in self.fixed if (m.frame, m.name) != (frame, name)]
        write_fixed(self._beside(".fixed.csv"), [*others, mark])

    def follow_places(self) -> int:
        """Follow the places fixed to the pool between the frames they were kept on; returns how many were found."""
        own = [m for m in self.fixed if m.origin >= Origin.confirmed]
        found = follow_fixed(self.shot, own)
        write_fixed(self._beside(".fixed.csv"), [*own, *found])
        return len(found)

    def keep_edge(self, frame: int, name: str, places: Sequence[tuple[float, float]]) -> None:
        """Keep places along something straight in the pool, three or more, by which the lens is found. [px]"""
        others = [m for m in edge_marks(self._beside(".edges.csv")) if (m.frame, m.edge) != (frame, name)]
        mine = [EdgeMark(frame, name, x, y, by=self.case.coach) for x, y in places]
        write_edges(self._beside(".edges.csv"), [*others, *mine])

    @property
    def plane(self) -> Plane:
        """Pixels to true directions and, where a length is known, metres."""
        path = self._cached(
            "path", (".fixed.csv", ".edges.csv", ".lines.csv"), lambda: path_for(self.shot, self.fixed, self.optics)
        )
        return plane_of(self.shot, self.lines, self.lengths, optics=self.optics, path=path)

    @property
    def camera(self) -> CameraFacts:
        """What the coach stated of this shot's camera."""
        return self.case.camera(self.shot.id)

    @property
    def fixed(self) -> list[FixedMark]:
        """Places fixed to the pool, by which a moving camera is followed."""
        return fixed_marks(self._beside(".fixed.csv"))

    @property
    def optics(self) -> Any:
        """What lens and window do to the pictures, where that is known."""
        return self._cached(
            "optics",
            (".edges.csv", ".lines.csv"),
            lambda: optics_for(self.shot, self.camera, edge_marks(self._beside(".edges.csv")), self.lines),
        )

    def _cached(self, key: str, endings: tuple[str, ...], make: Callable[[], Any]) -> Any:
        """What is found from files beside the marks, until one of them changes."""
        paths = [self._beside(ending) for ending in endings]
        now = tuple(path.read_bytes() if path.is_file() else b"" for path in paths)
        if key not in self._found or self._found[key][0] != now:
            self._found[key] = now, make()
        return self._found[key][1]

    @property
    def bands(self) -> Bands:
        """Target bands of the swimmer's level; a coach's own replace any of them.

        ``bands.toml`` in the case is for this swimmer; one beside the case's folder is for all cases that lie there.
        """
        own, squad = (folder / "bands.toml" for folder in (self.case.folder, self.case.folder.resolve().parent))
        # Stiff shoulders and children: change and symmetry are shown, and no picture is held up to them.
        child = self.case.minor or self.case.level == "age_group"
        return load_bands(
            self.case.level,
            own if own.is_file() else None,
            squad_toml=squad if squad.is_file() else None,
            events=self.case.events,
            spare_shoulders=child or "shoulder" in self.case.stiff.lower(),
        )

    def catch(self) -> CatchResult:
        """The catch, measured: ``measure("catch")``."""
        found = self.measure("catch")
        assert isinstance(found, CatchResult)
        return found

    def measure(self, checkpoint: str, *, alone: bool = False) -> CheckpointResult | CatchResult:
        """Any checkpoint, measured: in this shot and in the other passes of its swim, whose strokes are added.

        ``alone``: in this shot and no other.
        """
        own = measure(
            checkpoint,
            self.shot,
            self.marks,
            self.plane,
            bands=self.bands,
            events=self.told_events,
            facts=BodyFacts(
                self.case.arm_length,
                self.case.stature,
                self.case.distance(self.shot.id),
                self.counted,
            ),
        )
        return own if alone else self.with_passes(own, [d.measure(checkpoint, alone=True) for d in self.passes])

    def with_passes(
        self, own: CheckpointResult | CatchResult, others: Sequence[CheckpointResult | CatchResult]
    ) -> CheckpointResult | CatchResult:
        """This shot's result with the strokes of other passes of its swim, each measured alone, added."""
        if not others:
            return own
        body = BodyErrors.of(self.case.arm_length, self.case.stature)
        return pool(own, others, body=body, from_side=bool(near_side(self.shot)))

    @cached_property
    def passes(self) -> tuple[Desk, ...]:
        """The other passes of this shot's swim, filmed from the same side."""
        others = (self.case.desk(name) for name in self.case.passes(self.shot.id))
        return tuple(desk for desk in others if is_pass_of(self.shot, desk.shot))

    def track(self, points: Sequence[str] | None = None) -> int:
        """Follow points between the coach's marks and keep what was found; returns how many places that is.

        Earlier tracked places of these points go where they are not found again; all of it is one change to undo. All
        points that are marked unless given.
        """
        found = track(self.shot, self.marks, points)
        return self.store.renew(found, self.shot.frames, [Origin.tracked])

    @property
    def counted(self) -> tuple[Length, ...]:
        """Lengths of this shot's swim as counted at the pool side."""
        return counted(self.case.folder, self._swim)

    def count_length(
        self,
        seconds: float | None = None,
        strokes: int | None = None,
        *,
        number: int = 0,
        distance: float = 0.0,
        unit: str = "",
        from_wall: float | None = None,
        swim: str = "",
        note: str = "",
    ) -> Length:
        """Write down what was counted in one length, in observations.csv.

        Strokes count both arms. The swim is this shot's, the distance its pool's, the number the next one, unless
        given; a number that stands there already is replaced. For a part of a length, ``from_wall`` says where the
        watch was started, counted from the wall pushed off from, and ``distance`` how far it ran.
        """
        swim = swim or self._swim
        pool, _, pool_unit = (self.shot.swim.place if self.shot.swim else "").partition(" ")
        if not distance and pool_unit not in UNITS:
            raise CasebookError("How long the length is does not follow from the swim.", 'Give distance=25, unit="m".')
        taken = [one.number for one in counted(self.case.folder, swim)]
        length = Length(
            swim, number or max(taken, default=0) + 1, distance or float(pool), unit or (pool_unit or "m"), seconds,
            strokes, note, from_wall,
        )  # fmt: skip
        keep_length(self.case.folder, length)
        return length

    @property
    def _swim(self) -> str:
        return self.shot.swim.id if self.shot.swim else ""

    def checklist(self) -> Checklist:
        """What is still missing for which checkpoint; ``.about()`` says how the shot was filmed."""
        return checklist(self)

    def filmed(self, **said: str | float | bool | Sequence[Sequence[float]]) -> Desk:
        """Keep in case.toml how this shot was filmed; returns the desk as it then is.

        Any of ``view``, ``direction``, ``camera``, ``mirrored``, ``start``, ``stop``, ``distance_m``, ``from_wall_m``
        (hip to the wall pushed off from, in the first picture), ``dive`` and either
        ``time_scale`` (1 real time; 8 for 240 pictures a second stored as 30; 0 not known) or ``stretches``
        (``[[from_frame, to_frame, scale], ...]``, where slow motion sets in and ends). Raises CaseError, and keeps
        nothing, if a value is not one that casebook knows.
        """
        rows = [row for row in read_settings(self.case.folder)["shot"] if row["id"] == self.shot.id]
        row = {key: value for key, value in rows[0].items() if not ({key, *said} >= {"time_scale", "stretches"})}
        text = (self.case.folder / FILE).read_text("utf-8")
        keep_row(self.case.folder, "shot", row | said, ("id",))
        try:
            from casebook.case.case import Case

            return Desk(opened := Case.open(self.case.folder), opened.shot(self.shot.id))
        except CasebookError:
            write_atomic(self.case.folder / FILE, text)
            raise

    def cover(
        self, kind: str, frame: int, box: Sequence[float], name: str = "", start: int | None = None,
        stop: int | None = None,
    ) -> Desk:  # fmt: skip
        """Cover a part of the picture: a bystander everywhere; head, cap, suit or tattoo in what others are shown.

        ``box`` is left, top, right, bottom on one frame [px]. The cover holds for the whole shot, one of the head for
        that frame alone, or from frame ``start`` to ``stop`` (exclusive); a second box with the same ``name`` lets it
        move evenly from one to the other. Returns the desk as it then is.
        """
        covering.cover(self, kind, frame, box, name, start, stop)
        return self._afresh()

    def uncover(self, name: str) -> Desk:
        """Take away a cover by its name; returns the desk as it then is."""
        covering.uncover(self, name)
        return self._afresh()

    def cover_heads(self) -> HeadCovers:
        """Cover the swimmer's head on every frame, for what others are shown; says how that went."""
        return covering.cover_heads(self)

    @property
    def covers(self) -> tuple[Cover, ...]:
        """What is covered in this shot."""
        return covering.covers_of(self.case.folder, self.shot.id)

    def _afresh(self) -> Desk:
        from casebook.case.case import Case

        return Desk(opened := Case.open(self.case.folder), opened.shot(self.shot.id))

    def _beside(self, ending: str) -> Path:
        return self.case.folder / "marks" / f"{self.shot.id}{ending}"
