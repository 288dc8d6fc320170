"""The picture to aim for: the demo swimmer as a calm, softly shaded figure on a transparent ground. numpy alone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.aim_moments import MOMENTS, moment_s
from casebook.demo.body import Body, make_body
from casebook.demo.camera import Camera
from casebook.demo.paint import Kit, reflectance
from casebook.demo.raster import rasterize
from casebook.demo.swimmer import Swimmer
from casebook.errors import CasebookError
from casebook.marks.points import POINTS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array: TypeAlias = NDArray[np.float64]

#: Where the lens stands against the middle of the trunk, by view, for a swimmer who swims to the right; far off, so
#: that near and far arm are drawn at one scale. [m]
LENSES: dict[str, tuple[float, float, float]] = {
    "side_under": (0.0, -12.0, 0.0),
    "side_split": (0.0, -12.0, 0.0),
    "side_above": (0.0, -11.0, 4.8),
    "front_under": (12.0, 0.0, -0.8),
    "front_above": (11.5, 0.0, 2.6),
    "rear_under": (-12.0, 0.0, -0.8),
    "rear_above": (-11.5, 0.0, 2.6),
}
#: A swimmer who shows what a coach asks for, without a breath.
MODEL = Swimmer(breathing="none", early_forearm=1.0, pitch=4.0, depth=0.12)
#: Tones from shade to light. Red, green, blue.
SKIN = np.array([[0.42, 0.27, 0.22], [0.80, 0.57, 0.42], [0.985, 0.86, 0.73]])
SUIT = np.array([[0.045, 0.10, 0.13], [0.09, 0.21, 0.26], [0.27, 0.44, 0.50]])
CAP = np.array([[0.50, 0.52, 0.51], [0.86, 0.85, 0.81], [1.0, 0.995, 0.97]])
#: Painted with this, red, green and blue tell how much of a place is skin, suit and cap.
MASK = Kit(skin=(1, 0, 0), suit=(0, 1, 0), stripe=(0, 1, 0), cap=(0, 0, 1), goggles=(0, 1, 0))
#: What lies farther from the lens takes on this cool tone.
FAR = np.array([0.26, 0.47, 0.54])
#: Empty share of the picture along its tighter side.
MARGIN = 0.03
FINE_STEPS_M = (0.010, 0.005)
PLACES_IN_PIXEL = ((-0.25, -0.25), (0.25, -0.25), (-0.25, 0.25), (0.25, 0.25))


@dataclass(frozen=True, slots=True, eq=False)
class AimFigure:
    """A figure to aim for.

    Attributes
    ----------
    rgba : (H, W, 4) uint8 array
        Colours are not multiplied with the opacity.
    joints_px : dict
        Every markable point -> (2,) float array, pixel centres at integers. [px]
    swimmer : Swimmer
        Who is shown; ``time_s`` is when.
    time_s : float
    side : str
        Of the arm whose moment it is.
    """

    rgba: NDArray[np.uint8]
    joints_px: dict[str, Array]
    swimmer: Swimmer
    time_s: float
    side: str


def aim_figure(
    view: str,
    direction: str,
    moment: str = "straight_down",
    size: tuple[int, int] = (1600, 800),
    swimmer: Swimmer = MODEL,
    side: str = "",
) -> AimFigure:
    """Draw the whole swimmer at a moment of the stroke.

    Parameters
    ----------
    view : str
        Key of ``words.VIEWS``, from the side, head-on or from behind.
    direction : str
        Where the swimmer goes: left or right for a side view; toward or away otherwise.
    moment : str
        Key of ``aim_moments.MOMENTS``: reach, halfway (forearm 45 degrees down), straight_down (90) and others.
    size : (int, int)
        Width and height; the swimmer fills the tighter one. [px]
    swimmer : Swimmer
    side : str
        Whose arm: ``l`` or ``r``; empty means the arm nearer the lens, the right one if they are equally near.

    Raises
    ------
    CasebookError
        A view, direction or moment for which there is no figure.
    """
    turned = direction == "left"
    _check(view, direction, moment)
    side = side or ("l" if turned else "r")
    swimmer = replace(swimmer, breathing=side) if moment == "breath" else swimmer
    time_s = moment_s(swimmer, moment, side)
    body = make_body(*FINE_STEPS_M)
    vertices, normals = body.posed(swimmer.bones(time_s), swimmer.stature_m)
    joints = {name: xyz[0] for name, xyz in swimmer.joints(time_s).items()}
    camera = _camera(view, turned, joints["mid"], size)
    xy, depth = camera.project(vertices, time_s)
    scale, offset = _fit(xy, size)
    rgba = _drawn(body, vertices, normals, scale * xy + offset, depth, camera, size)
    points, _ = camera.project(np.stack([joints[name] for name in POINTS]), time_s)
    return AimFigure(rgba, dict(zip(POINTS, scale * points + offset, strict=True)), swimmer, time_s, side)


def _check(view: str, direction: str, moment: str) -> None:
    allowed = ("left", "right") if view.startswith("side") else ("toward",) if view.startswith("front") else ("away",)
    for what, value, words in (
        ("view", view, tuple(LENSES)),
        ("moment", moment, tuple(MOMENTS)),
        ("direction", direction, allowed),
    ):
        if value not in words:
            raise CasebookError(
                f'There is no figure to aim for with {what} "{value}".', f"Use one of: {', '.join(words)}."
            )


def _camera(view: str, turned: bool, middle: Array, size: tuple[int, int]) -> Camera:
    lens = np.array(LENSES[view]) * ([1.0, -1.0, 1.0] if turned else [1.0, 1.0, 1.0])
    x, y, z = (middle + lens).tolist()
    return Camera(view, (x, y, z), (middle[0], middle[1], middle[2]), float(size[0]), size)


def _fit(xy: Array, size: tuple[int, int]) -> tuple[float, Array]:
    """Scale and shift of pixels that place the whole swimmer in the middle of the picture."""
    low, high = xy.min(0), xy.max(0)
    room = np.array(size) * (1.0 - 2 * MARGIN)
    scale = float((room / (high - low)).min())
    return scale, (np.array(size) - 1.0) / 2.0 - scale * (low + high) / 2.0


def _drawn(
    body: Body, vertices: Array, normals: Array, xy: Array, depth: Array, camera: Camera, size: tuple[int, int]
) -> NDArray[np.uint8]:
    """Colours and opacity from four places in each pixel."""
    total = np.zeros((size[0] * size[1], 4))
    toward = -camera.pose(0.0)[1][2]
    for place in PLACES_IN_PIXEL:
        found = rasterize(xy, depth, body.triangles, size, place)
        normal = found.interpolated(normals, body.triangles)
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        rest = found.interpolated(body.vertices, body.triangles)
        mask = reflectance(MASK, rest, body.part[body.triangles[found.triangle, 0]])
        colour = _toned(mask, normal, toward, found.depth - float(np.median(depth)))
        total[found.pixel, :3] += colour
        total[found.pixel, 3] += 1.0
    cover = total[:, 3:]
    colour = total[:, :3] / np.maximum(cover, 1.0)
    picture = np.concatenate([np.clip(colour, 0, 1), cover / len(PLACES_IN_PIXEL)], 1)
    return (255 * picture + 0.5).astype(np.uint8).reshape(size[1], size[0], 4)


def _toned(mask: Array, normal: Array, toward: Array, behind: Array) -> Array:
    """Three tones for each material, from shade to light, and a cool veil over what is farther off.

    ``mask`` (F, 3) holds the shares of skin, suit and cap; ``toward`` (3,) points to the lens; ``behind`` (F,) is how
    much farther off than the middle of the body a place is. [m]
    """
    lamp = np.array([0.30, 0.0, 0.95]) + 0.75 * toward
    # Three numbers a place are too few to be worth a linear algebra library's threads.
    light = 0.5 + 0.5 * np.einsum("fi,i->f", normal, lamp / np.linalg.norm(lamp))
    facing = np.clip(np.einsum("fi,i->f", normal, toward), 0, 1)
    light = light * (0.62 + 0.38 * np.sqrt(facing))  # Edges turn to shade, so that an arm stands out from the trunk.
    share = np.clip(mask, 0, 1)
    share = share / np.maximum(share.sum(1, keepdims=True), 1e-6)
    colour = sum(share[:, i : i + 1] * _ramp(light, tones) for i, tones in enumerate((SKIN, SUIT, CAP)))
    veil = 0.42 * np.clip((behind + 0.05) / 0.45, 0, 1)
    return np.asarray(colour + veil[:, None] * (FAR - colour))


def _ramp(light: Array, tones: Array) -> Array:
    stops = np.array([0.12, 0.58, 0.98])
    return np.stack([np.interp(light, stops, tones[:, c]) for c in range(3)], 1)
