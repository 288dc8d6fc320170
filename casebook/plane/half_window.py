"""A camera at the water line, half in air and half behind its flat window in water: the lower half made to size.

What lies under water is drawn larger by about the water's index, away from the middle of the picture, and what lies
over it is not. Shrunk back, both halves have one scale, and a limb that dips in no longer jumps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.plane.optics import Optics, value
from casebook.plane.refraction import water_index
from casebook.plane.unsquare import USUAL_FOCAL, NotSquare
from casebook.plane.water import fit_water

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from casebook.marks.lines import LineMark

#: How unsure the focal length in air is where nobody stated it: relative. own estimate, no source
FOCAL_SIGMA = 0.2
#: common practice, no source [px]
MARGIN_PX = 3.0
#: A mark within so many of its standard deviations of the water line may belong to either half. On simulated strokes
#: intervals of what is read at the line held the truth most often from 2 on.
NEAR_SIGMAS = 2.0
LIMIT = (
    "The camera is taken to look through a flat window, its lens at the water line: what lies under water is drawn "
    'back to size. If the window is a dome, write window = "dome" into the shot.'
)


@dataclass(frozen=True, slots=True, eq=False)
class HalfWindow:
    """A part of ``Optics``: below a line in the picture, light came through water and a flat window.

    Attributes
    ----------
    focal_px : float
        Focal length in air. [px]
    centre_px : (2,) float array
        Where the optical axis meets the picture. [px]
    water_px : (2,) float array
        A place on the water line. [px]
    tilt_rad : float
        Direction of the water line, positive where it sinks toward the right.
    margin_px : float
        So far below the line the picture is still taken to be air: the marked water lines themselves lie there. [px]
    focal_sigma : float
        Relative standard deviation.
    water : float
        Refractive index.
    """

    focal_px: float
    centre_px: NDArray[np.float64]
    water_px: NDArray[np.float64]
    tilt_rad: float = 0.0
    margin_px: float = MARGIN_PX
    focal_sigma: float = FOCAL_SIGMA
    water: float = float(water_index())

    @property
    def names(self) -> tuple[str, ...]:
        """Of the parameters."""
        return ("half_window_ln_focal",)

    @property
    def params(self) -> NDArray[np.float64]:
        """Logarithm of the focal length [px]."""
        return np.log([self.focal_px])

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Of ``params``."""
        return np.array([[self.focal_sigma**2]])

    @property
    def steps(self) -> tuple[float, ...]:
        """For differences."""
        return (1e-3,)

    @property
    def how(self) -> str:
        """In a sentence."""
        return f"What lies under water is drawn back to size (flat window, index of water {self.water:.3f})."

    def straight(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """Places as a camera all in air would draw what lies in the swimmer's plane. (..., 2) [px]

        ``shift`` (..., 1) changes ``params``.
        """
        xy = np.asarray(xy_px, float)
        focal = np.exp(value(self.params[0], shift, 0))
        d = xy - self.centre_px
        u = np.linalg.norm(d, axis=-1) / focal
        # Snell's law between tangents: of u in air, u / sqrt(n^2 + (n^2 - 1) u^2) in water.
        shrunk = 1 / np.sqrt(self.water**2 + (self.water**2 - 1) * u**2)
        return self.centre_px + d * np.where(self._under(xy), shrunk, 1.0)[..., None]

    def bent(self, xy_px: ArrayLike) -> NDArray[np.float64]:
        """Back into the picture; NaN where no light comes from. (..., 2) [px]"""
        xy = np.asarray(xy_px, float)
        d = xy - self.centre_px
        v2 = np.sum(d * d, -1) / self.focal_px**2
        with np.errstate(invalid="ignore", divide="ignore"):
            grown = self.water / np.sqrt(1 - (self.water**2 - 1) * v2)
        return self.centre_px + d * np.where(self._under(xy), grown, 1.0)[..., None]

    def unclear(self, xy_px: ArrayLike, sigma_px: ArrayLike) -> NDArray[np.bool_]:
        """Marks (..., 2) so near the water line that nobody can say through what they were seen. (...) [px]"""
        return np.asarray(np.abs(self._below(np.asarray(xy_px, float))) < NEAR_SIGMAS * np.asarray(sigma_px, float))

    def _below(self, xy: NDArray[np.float64]) -> NDArray[np.float64]:
        """How far below the water line in the picture. [px]"""
        d = xy - self.water_px
        return np.asarray(d[..., 1] * math.cos(self.tilt_rad) - d[..., 0] * math.sin(self.tilt_rad))

    def _under(self, xy: NDArray[np.float64]) -> NDArray[np.bool_]:
        return self._below(xy) > self.margin_px


def half_window(lines: Sequence[LineMark], size: tuple[int, int], field_deg: float | None = None) -> Optics | None:
    """What a picture half in air and half in water needs undone; None where no water line is marked.

    Parameters
    ----------
    lines : sequence of LineMark
        All marked on the shot; the ``water`` lines among them count.
    size : (width, height) [px]
    field_deg : float, optional
        Horizontal field of view in air, as the maker states it. [deg]
    """
    water = [line for line in lines if line.line == "water"]
    if not water:
        return None
    fit = fit_water(water)
    centre = (np.asarray(size, float) - 1) / 2
    if field_deg is None:
        focal, sigma = USUAL_FOCAL * max(size), FOCAL_SIGMA
    else:
        focal, sigma = size[0] / 2 / math.tan(math.radians(field_deg / 2)), 0.05
    margin = MARGIN_PX + 2 * fit.moves_px
    window = HalfWindow(focal, centre, np.asarray(fit.anchor_px, float), fit.tilt_rad, margin, sigma)
    return Optics((window, NotSquare(focal, centre, rim_sigma=0.0)), (LIMIT,))
