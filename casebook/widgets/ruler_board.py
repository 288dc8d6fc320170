"""Which rulers are laid on the frames of one tool, and on which points: a small list to choose from."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from casebook.checkpoints.drawing import Drawing, Point
from casebook.errors import CasebookError, MarksError
from casebook.marks.marks import HAND_SIGMA_PX
from casebook.widgets.rulers import (
    CORRIDOR_CM,
    CORRIDOR_SHARE,
    Ruler,
    Shown,
    Sight,
    Spot,
    angle,
    body_axis,
    catch,
    lane,
    plumb,
    reach,
    under_water,
)
from casebook.widgets.scene import spoken, together

if TYPE_CHECKING:
    from casebook.marks.lines import LineMark
    from casebook.marks.store import MarkStore
    from casebook.plane.plane import Plane

#: Midpoints that a ruler may be laid on where both sides are marked, and the point that they lie between.
MIDDLES: dict[str, str] = {"shoulders": "shoulder", "hips": "hip", "ankles": "ankle"}
#: Of an arm and a leg: which joint an angle is first taken at, from what it may be taken.
_ANGLES = (("shoulder", "elbow", "wrist"), ("hip", "knee", "ankle"), ("knee", "ankle", "toe"))


def rulers_for(points: Sequence[str], view: str, side: str) -> tuple[Ruler, ...]:
    """The rulers that serve for these points in this view, laid on the points of one side where there are two."""

    def point(*names: str) -> str:
        wanted = [p for name in names for p in (f"{name}_{side}", name, f"{name}_{'r' if side == 'l' else 'l'}")]
        return next((p for p in wanted if p in points), points[0])

    bends = next((t for t in _ANGLES if all(f"{n}_{side}" in points for n in t)), ())
    three = [f"{n}_{side}" for n in bends] or [points[min(i, len(points) - 1)] for i in range(3)]
    arm = ("shoulder", "elbow", "wrist", "fingertip")
    found = []
    if view.startswith("side") and all(f"{n}_{side}" in points for n in arm):
        found.append(Ruler("catch", "forearm, elbow", tuple((n, f"{n}_{side}") for n in arm), catch, is_fixed=True))
        line = (("from", point("shoulder")), ("to", point("fingertip")), ("over it", point("elbow")))
        found.append(Ruler("reach", "shoulder–fingertip", line, reach))
    if view.startswith("side") and all(f"{n}_{side}" in points for n in ("shoulder", "hip")):
        ends = tuple((n, f"{n}_{side}") for n in ("shoulder", "hip"))
        found.append(Ruler("body", "body axis", ends, body_axis, is_fixed=True))
    if not view.startswith(("bottom", "top")):
        found.append(Ruler("water", "under the water", (("point", point("fingertip", "toe", "crown")),), under_water))
        ends = (("hangs through", point("shoulder", "hip")), ("to", point("fingertip", "knee")))
        found.append(Ruler("plumb", "plumb line", ends, plumb))
    if len(points) > 2:
        found.append(Ruler("angle", "angle", tuple(zip(("from", "corner", "to"), three, strict=True)), angle))
    middle = "hips" if {"hip_l", "hip_r"} <= set(points) else point("hip", "shoulder")
    found.append(Ruler("lane", "lane corridor", (("point", middle),), lane, has_width=True))
    return tuple(found)


@dataclass(slots=True)
class RulerBoard:
    """Rulers of one tool and which of them are on.

    Attributes
    ----------
    rulers : sequence of Ruler
    points : sequence of str
        That a ruler may be laid on.
    store : MarkStore
        Tells the error of each mark.
    size : (width, height) of the picture [px]
    plane, lines : callable
        The plane and the marked lines as they stand.
    """

    rulers: Sequence[Ruler]
    points: Sequence[str]
    store: MarkStore
    size: tuple[int, int]
    plane: Callable[[], Plane]
    lines: Callable[[], Sequence[LineMark]]
    on: list[str] = field(default_factory=list)
    _laid: dict[str, list[str]] = field(init=False)
    _width: float = math.nan

    def __post_init__(self) -> None:
        self._laid = {r.key: [p for _, p in r.slots] for r in self.rulers}

    @property
    def names(self) -> dict[str, str]:
        """All that a ruler may be laid on, as a coach says it."""
        both = [m for m in MIDDLES if set(_sides_of(m)) <= set(self.points)]
        return {p: spoken(p) for p in self.points} | {m: f"middle of {m}" for m in both}

    # -- choosing

    def turn(self, key: str, on: bool) -> None:
        """Lay a ruler on the frames or take it off."""
        self._ruler(key)
        self.on = [r.key for r in self.rulers if (r.key in self.on and r.key != key) or (r.key == key and on)]

    def alone(self, key: str) -> None:
        """One ruler and no other; none at all for an empty key."""
        self.on = [self._ruler(key).key] if key else []

    def lay(self, key: str, slot: int, point: str) -> None:
        """Take another point for a ruler."""
        ruler = self._ruler(key)
        if ruler.is_fixed or not 0 <= slot < len(ruler.slots) or point not in self.names:
            raise MarksError(f'The {ruler.name} cannot be laid on "{point}".', "Take a point that is marked here.")
        self._laid[key][slot] = point

    def widen(self, text: str) -> None:
        """Say how wide the lane's corridor is: [cm] with a scale, else [% of shoulder breadth]; empty: as usual."""
        try:
            width = float(text.replace(",", ".")) if text.strip() else math.nan
        except ValueError:
            width = 0.0
        if not (width > 0 or math.isnan(width)) or math.isinf(width):
            raise MarksError(f'The width "{text}" is not a number above zero.', "Write it like 30.")
        self._width = width

    def told(self) -> list[dict[str, Any]]:
        """The list as the browser is told it."""
        width = "" if math.isnan(self._width) else f"{self._width:g}"
        return [
            {
                "key": r.key,
                "name": r.name,
                "on": r.key in self.on,
                "slots": [[w, p] for (w, _), p in zip(r.slots, self._laid[r.key], strict=True) if not r.is_fixed],
                "width": width if r.has_width else None,
                "usual": self._usual() if r.has_width else "",
            }
            for r in self.rulers
        ]

    def _usual(self) -> str:
        try:
            scaled = self.plane().has_scale
        except CasebookError:
            scaled = False
        return f"{CORRIDOR_CM:g} cm" if scaled else f"{CORRIDOR_SHARE:g} %"

    # -- reading a frame

    def words(self, frame: int, marks: Mapping[str, Point]) -> str:
        """What the rulers that are on say of a frame, one line each; what each lacks where it can say nothing."""
        return "\n".join(self._said(r, shown) for r, shown in self._look(frame, marks))

    def drawing(self, frame: int, marks: Mapping[str, Point]) -> Drawing:
        """What the rulers that are on draw on a frame."""
        return together(*(shown.drawing for _, shown in self._look(frame, marks)))

    def _said(self, ruler: Ruler, shown: Shown) -> str:
        if shown.words:
            return shown.words
        laid = self._laid[ruler.key]
        if len(set(laid)) < len(laid):
            return f"{ruler.name}: choose {len(laid)} different points"
        wanted = [p for name in laid for p in (_sides_of(name) if name in MIDDLES else (name,))]
        return f"{ruler.name}: mark {', '.join(map(spoken, wanted))}"

    def _look(self, frame: int, marks: Mapping[str, Point]) -> list[tuple[Ruler, Shown]]:
        if not self.on:
            return []
        held, lanes = self.store.at(frame), [m for m in self.lines() if m.line == "lane"]
        nearest = min((abs(m.frame - frame) for m in lanes), default=0)
        spots: dict[str, Spot] = {
            p: (*xy, held[p].sigma_px if p in held and (held[p].x_px, held[p].y_px) == xy else HAND_SIGMA_PX)
            for p, xy in marks.items()
        }
        for middle in MIDDLES:
            left, right = _sides_of(middle)
            if left in spots and right in spots:
                spots[middle] = _between(spots[left], spots[right])
        here, plane = [m for m in lanes if abs(m.frame - frame) == nearest], _on_frame(self.plane(), frame)
        sights = {
            key: Sight(spots, tuple(laid), plane, self.size, here, self._width) for key, laid in self._laid.items()
        }
        return [(r, _shown(r, sights[r.key])) for r in self.rulers if r.key in self.on]

    def _ruler(self, key: str) -> Ruler:
        for ruler in self.rulers:
            if ruler.key == key:
                return ruler
        raise MarksError(f'There is no "{key}" to read here.', f"There are: {', '.join(r.key for r in self.rulers)}.")


def _sides_of(middle: str) -> tuple[str, str]:
    return f"{MIDDLES[middle]}_l", f"{MIDDLES[middle]}_r"


def _between(a: Spot, b: Spot) -> Spot:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, math.hypot(a[2], b[2]) / 2


def _on_frame(plane: Plane, frame: int) -> Plane:
    """The frame's own tilt and scale, where the camera's path tells them."""
    try:
        return plane.at(frame)
    except CasebookError:
        return plane


def _shown(ruler: Ruler, sight: Sight) -> Shown:
    try:
        return ruler.look(sight)
    except CasebookError as error:  # two marks in one place give no direction
        return Shown(f"{ruler.name}: {error.problem}")
