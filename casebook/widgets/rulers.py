"""What is read off one frame while it is marked: a straight line laid on it, a distance or angle, and its error.

Each ruler turns marks and plane into what is drawn and what is said. The give or take holds in 19 of 20 cases: to first
order, from the error of every mark used and from that of the plane, as far as the value hangs on it. It knows nothing
of a limb that points toward the camera.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.catch_reading import STEEPEST_DEG
from casebook.checkpoints.drawing import Drawing, Label, Point
from casebook.plane.geometry import height_over_line, inclination_deg, joint_angle_deg, line_steepness_deg
from casebook.plane.measured import Measured
from casebook.plane.propagate import Z95, block_covariance, first_order, jacobian
from casebook.widgets.scene import across, spoken

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.marks.lines import LineMark
    from casebook.plane.plane import Plane

    Array: TypeAlias = NDArray[np.float64]

#: A mark while it is being set: x, y and the standard deviation of each. [px]
Spot = tuple[float, float, float]
#: Width of the lane's corridor where nothing else is asked for. [cm], [% of shoulder breadth]
#: common practice, no source
CORRIDOR_CM, CORRIDOR_SHARE = 30.0, 100.0
#: Step of a place for differences. [px]
STEP_PX = 0.01
#: Size of an angle's arc as a share of its shorter leg.
ARC = 0.35


@dataclass(frozen=True, slots=True)
class Shown:
    """What a ruler says, without a full stop, and what it draws [px]. Empty words: points are missing."""

    words: str = ""
    drawing: Drawing = field(default_factory=Drawing)


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """One frame as a ruler sees it.

    Attributes
    ----------
    spots : dict of str to Spot
        All points marked on the frame.
    chosen : tuple of str
        The points that the ruler is laid on, in the order of its ``slots``.
    plane : Plane
    size : (width, height) of the picture [px]
    lanes : sequence of LineMark
        Lane lines that hold for the frame.
    width : float
        Of the corridor: [cm] where the plane has a scale, else [% of shoulder breadth]; NaN for the usual one.
    """

    spots: Mapping[str, Spot]
    chosen: tuple[str, ...]
    plane: Plane
    size: tuple[int, int]
    lanes: Sequence[LineMark] = ()
    width: float = math.nan

    def has(self, *points: str) -> bool:
        return all(p in self.spots for p in points)

    def at(self, point: str) -> Point:
        return self.spots[point][:2]

    def read(self, points: Sequence[str], how: Callable[[Array], Array], *, metres: bool = False) -> Measured:
        """A value with its error; ``how`` takes level places (B, n, 2) [px], or [m], and gives (B,)."""
        return with_error(how, [self.spots[p] for p in points], self.plane, metres=metres)


@dataclass(frozen=True, slots=True)
class Ruler:
    """One way to read a frame.

    Attributes
    ----------
    key : str
    name : str
        As a coach says it.
    slots : tuple of (str, str)
        What each of its points is for, and which point that is to begin with.
    look : callable
    has_width, is_fixed : bool
        A width can be given; the points cannot be changed.
    """

    key: str
    name: str
    slots: tuple[tuple[str, str], ...]
    look: Callable[[Sight], Shown]
    has_width: bool = False
    is_fixed: bool = False


def with_error(how: Callable[[Array], Array], spots: Sequence[Spot], plane: Plane, *, metres: bool = False) -> Measured:
    """A value read off marks, with its standard deviation to first order from marks and plane."""
    places, n = np.array(spots, float), len(spots)

    def of(x: Array) -> Array:
        xy, shift = x[:, : 2 * n].reshape(-1, n, 2), x[:, None, 2 * n :]
        return how(plane.world(xy, shift) if metres else plane.level(xy, shift))

    x = np.concatenate([places[:, :2].ravel(), np.zeros(len(plane.params))])
    step = np.concatenate([np.full(2 * n, STEP_PX), plane.steps])
    covariance = block_covariance(np.diag(np.repeat(places[:, 2] ** 2, 2)), plane.covariance)
    variance = first_order(jacobian(of, x, step), covariance)[0, 0]
    return Measured(float(of(x[None])[0]), float(np.sqrt(variance)))


def told(value: Measured, unit: str, where: str = "", times: float = 1.0) -> str:
    """A number without its sign, where it is, and its give or take, in whole units.

    >>> told(Measured(-0.524, 0.021), " cm", "behind the shoulder", times=100)
    '52 cm behind the shoulder, give or take 4'
    """
    size = f"{abs(value.value) * times:.0f}{unit} {where}".rstrip()
    return f"{size}, give or take {max(1.0, value.sigma * Z95 * times):.0f}"


def catch(sight: Sight) -> Shown:
    """Forearm below the horizontal, and the elbow over the straight line from shoulder to fingertip."""
    shoulder, elbow, wrist, tip = sight.chosen
    if not sight.has(elbow, wrist):
        return Shown()
    slope = sight.read([elbow, wrist], lambda p: inclination_deg(p[:, 0], p[:, 1]))
    side = "below" if slope.value >= 0 else "above"
    words = f"forearm {told(slope, '°', f'{side} the horizontal')}"
    if not sight.has(*sight.chosen):
        return Shown(words)
    over = _over_line(sight, shoulder, tip, elbow, "% of the arm")
    return Shown(f"{words}; {over.words}", over.drawing)


def reach(sight: Sight) -> Shown:
    """A straight line between two points, and how far a third stands off it."""
    a, b, off = sight.chosen
    if not sight.has(a, b, off) or len({a, b, off}) < 3:
        return Shown()
    return _over_line(sight, a, b, off, "cm" if sight.plane.has_scale else "% of the line")


def _over_line(sight: Sight, a: str, b: str, off: str, unit: str) -> Shown:
    """Height of ``off`` over the line from ``a`` to ``b``: in cm, or as a share of the line or of the arm along it."""
    line, name = ((sight.at(a), sight.at(b)),), spoken(off)
    steep = sight.read([a, b], lambda p: line_steepness_deg(p[:, 0], p[:, 1]))
    if not steep.value <= STEEPEST_DEG:
        return Shown(f"the line is too steep to say whether the {name} is above", Drawing(reference=line))
    names = [a, off, *([off.replace("elbow", "wrist")] if unit == "% of the arm" else []), b]
    foot = _foot(sight.at(off), *line[0])

    def height(p: Array) -> Array:
        h = height_over_line(p[:, 1], p[:, 0], p[:, -1])
        if unit == "cm":
            return 100 * h
        chain = p if unit == "% of the arm" else p[:, [0, -1]]
        return 100 * h / np.linalg.norm(np.diff(chain, axis=1), axis=-1).sum(-1)

    value = sight.read(names, height, metres=unit == "cm")
    beyond = abs(value.value) > Z95 * value.sigma
    where = ("above" if value.value > 0 else "below") if beyond else "off"
    words = f"{name} {told(value, f' {unit}', f'{where} the straight line')}"
    if not beyond:
        words += ": it may be on it"
    drawing = Drawing(reference=line, measure=((sight.at(off), foot),), labels=(_beside(foot, value, unit),))
    return Shown(words, drawing)


def under_water(sight: Sight) -> Shown:
    """How far a point is under the still water line."""
    (point,) = sight.chosen
    if not sight.has(point):
        return Shown()
    if not sight.plane.has_water:
        return Shown("draw the water line to read how deep a point is")
    scaled = sight.plane.has_scale
    depth = sight.read([point], lambda p: -p[:, 0, 1], metres=scaled)
    unit, times = _unit(scaled)
    side = "under" if depth.value >= 0 else "above"
    level = sight.plane.level(np.array(sight.at(point)))
    foot = _point(sight.plane.picture(np.array([level[0], 0.0])))
    words = f"{spoken(point)} {told(depth, unit, f'{side} the water line', times)}"
    drawing = Drawing(
        measure=((sight.at(point), foot),), labels=(_beside(_middle(sight.at(point), foot), depth, unit, times),)
    )
    return Shown(words, drawing)


def plumb(sight: Sight) -> Shown:
    """A plumb line through one point, and how far another is ahead of it."""
    hung, point = sight.chosen
    if not sight.has(hung):
        return Shown()
    x = sight.plane.level(np.array(sight.at(hung)))[0]
    ends = sight.plane.picture(np.array([[x, 0.0], [x, -100.0]]))
    line = across(_point(ends[0]), _point(ends[1]), sight.size)
    drawing = Drawing(reference=(line,) if line else ())
    if not sight.has(point) or point == hung:
        return Shown("", drawing)
    scaled = sight.plane.has_scale
    ahead = sight.read([hung, point], lambda p: p[:, 1, 0] - p[:, 0, 0], metres=scaled)
    unit, times = _unit(scaled)
    z = sight.plane.level(np.array(sight.at(point)))[1]
    foot = _point(sight.plane.picture(np.array([x, z])))
    where = "ahead of" if ahead.value >= 0 else "behind"
    label = _beside(_middle(sight.at(point), foot), ahead, unit, times)
    return Shown(
        f"{spoken(point)} {told(ahead, unit, f'{where} the plumb line through the {spoken(hung)}', times)}",
        Drawing(reference=drawing.reference, measure=((sight.at(point), foot),), labels=(label,)),
    )


def body_axis(sight: Sight) -> Shown:
    """The line from hip to shoulder against the horizontal, head-up positive."""
    shoulder, hip = sight.chosen
    if not sight.has(shoulder, hip) or shoulder == hip:
        return Shown()
    tilt = sight.read([hip, shoulder], lambda p: -inclination_deg(p[:, 0], p[:, 1]))
    line = across(sight.at(hip), sight.at(shoulder), sight.size)
    x, y = _middle(sight.at(hip), sight.at(shoulder))
    over = x, y - 0.12 * math.dist(sight.at(hip), sight.at(shoulder))  # clear of the line
    where = "head-up" if tilt.value >= 0 else "head-down"
    return Shown(
        f"body axis {told(tilt, '°', where)}",
        Drawing(reference=(line,) if line else (), labels=(Label(over, f"{abs(tilt.value):.0f}°"),)),
    )


def angle(sight: Sight) -> Shown:
    """The angle at the middle one of three points, 180 straight."""
    a, corner, b = sight.chosen
    if len(set(sight.chosen)) < 3 or not sight.has(*sight.chosen):
        return Shown()
    value = sight.read(sight.chosen, lambda p: joint_angle_deg(p[:, 0], p[:, 1], p[:, 2]))
    arc = _arc(*(np.array(sight.at(p)) for p in (a, corner, b)))
    legs = ((sight.at(a), sight.at(corner)), (sight.at(corner), sight.at(b)))
    ends = (
        "" if {a.split("_")[0], b.split("_")[0]} == _NEXT.get(corner.split("_")[0]) else f" to {spoken(a)}, {spoken(b)}"
    )
    label = Label(arc[len(arc) // 2], f"{value.value:.0f}°") if arc else None
    return Shown(
        f"{spoken(corner)}{ends} {told(value, '°')}",
        Drawing(reference=legs, measure=(arc,) if arc else (), labels=(label,) if label else ()),
    )


def lane(sight: Sight) -> Shown:
    """A corridor along the marked lane line, and how far a point is from its middle."""
    (point,) = sight.chosen
    if not sight.lanes:
        return Shown("draw a lane line to see its corridor")
    line = sight.lanes[0]
    a, b = (line.x0_px, line.y0_px), (line.x1_px, line.y1_px)
    half, said = _half_width(sight)
    middle = across(a, b, sight.size)
    if not half:
        return Shown(said, Drawing(reference=(middle,) if middle else ()))
    off = half * _normal(a, b)
    sides = [across(_point(a + k * off), _point(b + k * off), sight.size) for k in (-1, 1)]
    drawing = Drawing(reference=tuple(side for side in (middle, *sides) if side))
    if not sight.has(point):
        return Shown("", drawing)
    ends: list[Spot] = [(*a, line.sigma_px), (*b, line.sigma_px)]
    scaled = sight.plane.has_scale

    def aside(p: Array) -> Array:
        along = p[:, 1] - p[:, 0]
        d = p[:, 2] - p[:, 0]
        return (along[:, 0] * d[:, 1] - along[:, 1] * d[:, 0]) / np.linalg.norm(along, axis=-1)

    value = with_error(aside, [*ends, sight.spots[point]], sight.plane, metres=scaled)
    unit, times = _unit(scaled)
    foot = _foot(sight.at(point), a, b)
    inside = np.hypot(*np.subtract(sight.at(point), foot)) <= half
    label = _beside(_middle(sight.at(point), foot), value, unit, times)
    where = "inside" if inside else "outside"
    return Shown(
        f"{spoken(point)} {told(value, unit, 'off the lane line', times)}; {where} the corridor of {said}",
        Drawing(reference=drawing.reference, measure=((sight.at(point), foot),), labels=(label,)),
    )


def _half_width(sight: Sight) -> tuple[float, str]:
    """Half the corridor [px] and its width in words; 0 and what is missing where it cannot be known."""
    if sight.plane.has_scale:
        cm = CORRIDOR_CM if math.isnan(sight.width) else sight.width
        return cm / 200 / sight.plane.m_per_px, f"{cm:g} cm"
    if not sight.has("shoulder_l", "shoulder_r"):
        return 0.0, "draw a known length, or mark both shoulders, to see the lane's corridor"
    share = CORRIDOR_SHARE if math.isnan(sight.width) else sight.width
    breadth = float(np.hypot(*np.subtract(sight.at("shoulder_l"), sight.at("shoulder_r"))))
    return breadth * share / 200, "one shoulder breadth" if share == 100 else f"{share:g} % of shoulder breadth"


def _unit(scaled: bool) -> tuple[str, float]:
    return (" cm", 100.0) if scaled else (" px", 1.0)


def _beside(at: Point, value: Measured, unit: str, times: float = 1.0) -> Label:
    short = unit.removesuffix("of the arm").removesuffix("of the line").strip()
    return Label(at, f"{abs(value.value) * times:.0f} {short}")


def _middle(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2


def _foot(point: Point, a: Point, b: Point) -> Point:
    """The place on the line through ``a`` and ``b`` that is nearest to a point."""
    p, start, along = (np.array(v, float) for v in (point, a, np.subtract(b, a)))
    return _point(start + along * ((p - start) @ along) / (along @ along))


def _normal(a: Point, b: Point) -> Array:
    along = np.subtract(b, a).astype(float)
    return np.array([-along[1], along[0]]) / np.linalg.norm(along)


def _arc(a: Array, corner: Array, b: Array) -> tuple[Point, ...]:
    """The arc of an angle in the picture, from the leg to ``a`` to the leg to ``b``; none for a leg without length."""
    u, v = a - corner, b - corner
    radius = ARC * min(np.linalg.norm(u), np.linalg.norm(v))
    if radius == 0:
        return ()
    first = math.atan2(u[1], u[0])
    turn = (math.atan2(v[1], v[0]) - first + math.pi) % (2 * math.pi) - math.pi
    turns = first + turn * np.linspace(0, 1, 17)
    return tuple(_point(corner + radius * np.array([math.cos(t), math.sin(t)])) for t in turns)


def _point(xy: Array) -> Point:
    return float(xy[0]), float(xy[1])


#: The neighbours of a joint: an angle between them needs no more words than the joint's name.
_NEXT = {
    "elbow": {"shoulder", "wrist"}, "knee": {"hip", "ankle"}, "shoulder": {"hip", "elbow"}, "hip": {"shoulder", "knee"},
    "ankle": {"knee", "toe"}, "wrist": {"elbow", "fingertip"},
}  # fmt: skip
