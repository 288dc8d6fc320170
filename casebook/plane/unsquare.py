"""What nobody straightened: a camera held square by eye, and a lens or window that bends the rim of the picture.

Nothing is changed in the picture; only the doubt is carried, as parameters that are zero, give or take. It serves where
no lens, window or slant is known, and shrinks every claim that depends on it: little in the middle of the picture, much
toward its rim.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.plane.optics import Optics, value

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.plane.plane import Plane

#: How square a camera is held or mounted by eye, sideways and up or down. [deg] common practice, no source
HELD_SQUARE_DEG = 3.0
#: How strongly the rim may be bent, as a share at one focal length from the middle: a flat window before water makes it
#: (n^2 - 1) / 2 = 0.39 larger (Snell's law, n = 1.333, computed), the lens of a wide action camera smaller.
RIM_SIGMA = 0.3
#: Focal length in water as a share of the picture's longer side: of a phone or action camera in its straight-line mode,
#: 60 to 80 degrees across in air. own estimate, no source
USUAL_FOCAL = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class NotSquare:
    """A part of ``Optics`` that leaves the picture as it is and carries the doubt.

    Attributes
    ----------
    focal_px : float
        Focal length in the medium of the swimmer. [px]
    centre_px : (2,) float array
        Middle of the picture. [px]
    square_sigma_deg : float
        Standard deviation of how far the camera looks off square, sideways and up or down. [deg]
    rim_sigma : float
        Standard deviation of the bending at one focal length from the middle, as a share; 0 where lens and window are
        straightened by other parts.
    """

    focal_px: float
    centre_px: NDArray[np.float64]
    square_sigma_deg: float = HELD_SQUARE_DEG
    rim_sigma: float = RIM_SIGMA

    @classmethod
    def of_size(cls, size: tuple[int, int], **more: float) -> NotSquare:
        """For a picture of a size (width, height) [px] whose focal length is not known; ``more`` as the attributes."""
        return cls(USUAL_FOCAL * max(size), (np.asarray(size, float) - 1) / 2, **more)

    @property
    def names(self) -> tuple[str, ...]:
        """Of the parameters."""
        return ("aside_rad", "up_rad", "rim")

    @property
    def params(self) -> NDArray[np.float64]:
        """Zeros, (3,): looks aside and up [rad], bending of the rim."""
        return np.zeros(3)

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Of ``params``, (3, 3)."""
        held = np.radians(self.square_sigma_deg)
        return np.diag(np.square([held, held, self.rim_sigma]))

    @property
    def steps(self) -> tuple[float, ...]:
        """For differences."""
        return (1e-4, 1e-4, 1e-3)

    @property
    def how(self) -> str:
        """In a sentence."""
        bent = " and the rim of the picture may be bent" if self.rim_sigma else ""
        return f"The camera is taken to look square, give or take {2 * self.square_sigma_deg:.0f} degrees{bent}."

    def straight(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """Places as a square, straight-line camera would draw them. (..., 2) [px]

        ``shift`` (..., 3) changes ``params``, broadcasting against ``xy_px`` without its last axis.
        A slanting look at a plane is undone by the homography of a turn about the lens, the size in the middle kept.
        """
        d = (np.asarray(xy_px, float) - self.centre_px) / self.focal_px
        if shift is None:
            return d * self.focal_px + self.centre_px
        aside, up, rim = (value(0.0, shift, i) for i in range(3))
        d = d * (1 - rim * np.sum(d * d, -1))[..., None]
        nearer = 1 + d[..., 0] * np.tan(aside) + d[..., 1] * np.tan(up)
        return d / nearer[..., None] * self.focal_px + self.centre_px

    def bent(self, xy_px: ArrayLike) -> NDArray[np.float64]:
        """The same places: nothing was changed. (..., 2) [px]"""
        return np.asarray(xy_px, float)


def with_doubt(plane: Plane, size: tuple[int, int]) -> Plane:
    """A plane for which no lens, window or slant is known, carrying that doubt; any other plane as it is.

    Say ``Optics(())`` for a camera that is known to look square and to bend nothing.
    ``size`` is that of the picture (width, height). [px]
    """
    if plane.optics is not None or plane.path is not None:
        return plane
    return replace(plane, optics=Optics((NotSquare.of_size(size),)))
