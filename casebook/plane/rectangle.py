"""A plane from four or more points of a rectangle, seen from any direction: the picture is laid flat first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.marks.lines import LineMark
from casebook.marks.scales import LengthMark
from casebook.plane.homography import homography
from casebook.plane.make import plain_plane
from casebook.plane.optics import Optics
from casebook.plane.propagate import jacobian
from casebook.plane.reach import carried_marks, with_parts

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.shot import Shot
    from casebook.plane.plane import Plane

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A slanting look at a flat surface, undone: straight pictures show the surface, and all planes along it, to scale.

    Attributes
    ----------
    params : (8,) float array
        The homography from picture to laid picture, its ninth number being 1, in units of ``unit_px`` about
        ``middle_px``.
    covariance : (8, 8) float array
    middle_px, unit_px : (2,) float array, float
        Of the marked points; size and place there stay about as they are. [px]
    """

    params: Array
    covariance: Array
    middle_px: Array
    unit_px: float

    @property
    def names(self) -> tuple[str, ...]:
        """Of the parameters."""
        return tuple(f"laid_{i}{j}" for i in range(3) for j in range(3))[:8]

    @property
    def steps(self) -> tuple[float, ...]:
        """For differences."""
        return (1e-5,) * 8

    @property
    def how(self) -> str:
        """In a sentence."""
        return "The picture is laid flat by the points of a rectangle."

    def straight(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> Array:
        """Places in the laid picture; NaN on the surface's horizon. ``shift`` (..., 8). (..., 2) [px]"""
        own = self.params if shift is None else self.params + np.asarray(shift, float)
        p = (np.asarray(xy_px, float) - self.middle_px) / self.unit_px
        x, y = p[..., 0], p[..., 1]
        down = own[..., 6] * x + own[..., 7] * y + 1
        with np.errstate(divide="ignore", invalid="ignore"):
            u = (own[..., 0] * x + own[..., 1] * y + own[..., 2]) / down
            v = (own[..., 3] * x + own[..., 4] * y + own[..., 5]) / down
        return self.middle_px + self.unit_px * np.where((down > 0)[..., None], np.stack([u, v], -1), np.nan)

    def bent(self, xy_px: ArrayLike) -> Array:
        """Back into the picture as it was filmed. (..., 2) [px]"""
        back = np.linalg.inv(np.append(self.params, 1.0).reshape(3, 3))
        q = (np.asarray(xy_px, float) - self.middle_px) / self.unit_px @ back[:, :2].T + back[:, 2]
        return self.middle_px + self.unit_px * q[..., :2] / q[..., 2:]


def laid(surface_m: ArrayLike, picture_px: ArrayLike, sigma_px: float) -> tuple[Laid, Array]:
    """The part that lays a picture flat, and where the known places then lie, (N, 2) [px].

    Parameters
    ----------
    surface_m : (N, 2) float array
        Known places, x to the right of the picture, y up in it. [m]
    picture_px : (N, 2) float array [px]
    sigma_px : float
        Standard deviation per coordinate of each. [px]
    """
    surface, picture = np.asarray(surface_m, float), np.asarray(picture_px, float)
    homography(surface, picture)  # Refuses what cannot serve.
    middle, unit = picture.mean(0), float(np.sqrt(np.mean(np.sum((picture - picture.mean(0)) ** 2, -1))))
    size = float(np.sqrt(np.mean(np.sum((surface - surface.mean(0)) ** 2, -1))))
    target = (surface - surface.mean(0)) * np.array([1.0, -1.0]) / size

    def of_marks(marks: Array) -> Array:
        found = [homography((row.reshape(-1, 2) - middle) / unit, target).matrix.ravel()[:8] for row in marks]
        return np.array(found)

    slopes = jacobian(of_marks, picture.ravel(), step=1e-3)
    part = Laid(of_marks(picture.ravel()[None])[0], sigma_px**2 * slopes @ slopes.T, middle, unit)
    return part, middle + unit * target


def plane_of_rectangle(
    shot: Shot,
    frame: int,
    surface_m: ArrayLike,
    picture_px: ArrayLike,
    *,
    sigma_px: float = 2.0,
    sigma_m: float = 0.0,
    distance_ratio: float = 1.0,
    distance_sigma: float = 0.0,
    what: str = "rectangle",
    lines: Sequence[LineMark] = (),
    lengths: Sequence[LengthMark] = (),
    optics: Optics | None = None,
) -> Plane:
    """The swimmer's plane from a rectangle that is parallel to it: tiles of the side wall, a frame hung in the lane.

    A camera that is not square to the lane is put right by it: the plane's lengths hold wherever the swimmer is.

    Parameters
    ----------
    shot : Shot
    frame : int
    surface_m, picture_px, sigma_px
        As for ``laid``; upright in the pool where y of the surface is.
    sigma_m : float
        Standard deviation of the rectangle's size. [m]
    distance_ratio, distance_sigma : float
        Camera to swimmer over camera to rectangle, both square to it.
    what : str
        In words.
    lines, lengths
        Others marked on the shot, used as in ``plane_of``.
    optics : Optics, optional
        Undone first.

    Raises
    ------
    CasebookError
        Fewer than four points, or three of four on a line.
    """
    surface, picture = np.asarray(surface_m, float), np.asarray(picture_px, float)
    part, there = laid(surface, picture if optics is None else optics.straight(picture), sigma_px)
    whole = Optics((*(optics.parts if optics else ()), part), optics.limits if optics else ())
    flat = shot.view in ("bottom", "top")
    edge = _along(surface, 1 if flat else 0)
    if edge is None:
        raise CasebookError(
            f"The {what} has no two points straight above each other.",
            "Take corners of a rectangle that stands upright.",
        )
    # In the laid picture the rectangle lies where it was laid; what marking it adds is in the part's own covariance.
    i, j = _farthest(surface)
    size = float(np.linalg.norm(surface[i] - surface[j]))
    known = LengthMark(frame, *_ends(there, i, j), size, sigma_m, 0.0, what, distance_ratio, distance_sigma)
    level = LineMark(frame, "lane" if flat else "plumb", *_ends(there, *edge), 0.0)

    def made(d: Array | None) -> Plane:
        own = [*carried_marks(lines, whole, None, d), level], [*carried_marks(lengths, whole, None, d), known]
        return plain_plane(shot, *own)

    return with_parts(made(None), made, whole, None)


def _farthest(surface: Array) -> tuple[int, int]:
    apart = np.linalg.norm(surface[:, None] - surface, axis=-1)
    i, j = np.unravel_index(int(np.argmax(apart)), apart.shape)
    return int(i), int(j)


def _ends(places: Array, i: int, j: int) -> tuple[float, float, float, float]:
    return float(places[i, 0]), float(places[i, 1]), float(places[j, 0]), float(places[j, 1])


def _along(surface: Array, same: int) -> tuple[int, int] | None:
    """The two farthest points that share a coordinate."""
    apart = np.abs(surface[:, None] - surface)
    length = np.where(apart[..., same] < 1e-9, apart[..., 1 - same], 0.0)
    i, j = np.unravel_index(int(np.argmax(length)), length.shape)
    return (int(i), int(j)) if length[i, j] > 0 else None
