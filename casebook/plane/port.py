"""A camera behind a flat window under water: where it draws a point, and the picture a plain pinhole would make."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.optics import value
from casebook.plane.refraction import ACRYLIC_INDEX, checked_index, water_index

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Newton steps at most; from below they climb to the root without ever passing it.
_ROUNDS = 60
#: A ray this steep (its tangent) sees nothing; keeps a search without a root from running away.
_STEEPEST = 1e6
#: How far a solved radius may be off, as a share of the distance.
_CLOSE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class FlatPort:
    """A pinhole looking square through a flat window into water.

    Attributes
    ----------
    focal_px : float
        Focal length in air, in pixels of the picture. [px]
    centre_px : (2,) float array
        Where the optical axis meets the picture. [px]
    distance_m : float
        From the window to the swimmer's plane, which is square to the axis. [m]
    behind_m, glass_m : float
        Lens to window, and thickness of the window. [m]
    focal_sigma, distance_sigma : float
        Relative standard deviations.
    water, glass : float
        Refractive indices.
    """

    focal_px: float
    centre_px: NDArray[np.float64]
    distance_m: float
    behind_m: float = 0.01
    glass_m: float = 0.003
    focal_sigma: float = 0.05
    distance_sigma: float = 0.10
    water: float = float(water_index())
    glass: float = ACRYLIC_INDEX

    def __post_init__(self) -> None:
        checked_index(self.water)
        object.__setattr__(self, "centre_px", np.array(self.centre_px, float))
        if not (self.focal_px > 0 and self.distance_m > 0 and self.behind_m >= 0 and self.glass_m >= 0):
            raise CasebookError(
                f"A window with focal length {self.focal_px} px and distance {self.distance_m} m makes no sense.",
                "Give focal length and distance above zero, lens to window and thickness of zero or more.",
            )

    @classmethod
    def of_field(cls, field_deg: float, size: tuple[int, int], distance_m: float, **more: float) -> FlatPort:
        """From the horizontal field of view in air, as a maker states it. [deg]

        ``size`` is that of the picture (width, height) [px]; ``more`` as the attributes.
        """
        if not 5.0 < field_deg < 150.0:
            raise CasebookError(
                f"A straight-line lens has no field of view of {field_deg} degrees.",
                "Choose the camera's linear or narrow field, or mark straight lines and let the lens be estimated.",
            )
        focal = size[0] / 2 / math.tan(math.radians(field_deg / 2))
        return cls(focal, (np.asarray(size, float) - 1) / 2, distance_m, **more)

    @property
    def names(self) -> tuple[str, ...]:
        """Of the parameters."""
        return ("port_ln_focal", "port_ln_distance")

    @property
    def params(self) -> NDArray[np.float64]:
        """Logarithms of focal length [px] and distance [m]."""
        return np.log([self.focal_px, self.distance_m])

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Of ``params``."""
        return np.diag(np.square([self.focal_sigma, self.distance_sigma]))

    @property
    def steps(self) -> tuple[float, ...]:
        """For differences."""
        return (1e-4, 1e-4)

    @property
    def how(self) -> str:
        """In a sentence."""
        return (
            f"A flat window before water of index {self.water:.3f}, swimmer {self.distance_m:g} m behind it, is taken "
            f"out: uncorrected, the picture's corners are {self.corner_pct():.0f} % too large."
        )

    def corner_pct(self) -> float:
        """How much larger a short radial length is drawn in the corner than in the middle. [%]"""
        u = float(np.hypot(*self.centre_px)) / self.focal_px
        middle = self._radius(np.zeros(()), self.distance_m)[1]
        return float(100 * (middle / self._radius(np.asarray(u), self.distance_m)[1] - 1))

    def straight(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """Places as a pinhole without window and water would draw what lies in the swimmer's plane.

        The size in the middle of the picture stays; ``shift`` (..., 2) changes ``params``. (..., 2) [px]
        """
        log_focal, log_distance = self.params
        focal, far = np.exp(value(log_focal, shift, 0)), np.exp(value(log_distance, shift, 1))
        d = np.asarray(xy_px, float) - self.centre_px
        u = np.linalg.norm(d, axis=-1) / focal
        radius, _ = self._radius(u, far)
        middle = self._radius(np.zeros(()), far)[1]
        with np.errstate(invalid="ignore", divide="ignore"):
            grown = np.where(u > 0, radius / (u * middle), 1.0)
        return self.centre_px + d * grown[..., None]

    def bent(self, xy_px: ArrayLike) -> NDArray[np.float64]:
        """Back to where the window lets the picture show them; NaN beyond all light. (..., 2) [px]"""
        d = np.asarray(xy_px, float) - self.centre_px
        v = np.linalg.norm(d, axis=-1) / self.focal_px
        u = self._tangent(v * self._radius(np.zeros(()), self.distance_m)[1], np.asarray(self.distance_m))
        with np.errstate(invalid="ignore", divide="ignore"):
            shrunk = np.where(v > 0, u / v, 1.0)
        return self.centre_px + d * shrunk[..., None]

    def project(self, points_m: ArrayLike) -> NDArray[np.float64]:
        """Where points in water are drawn.

        Parameters
        ----------
        points_m : (..., 3) float array
            In the camera's axes from the lens: right, down, forward. [m]

        Returns
        -------
        (..., 2) float array
            NaN for points that are not behind the window. [px]
        """
        p = np.asarray(points_m, float)
        aside = np.linalg.norm(p[..., :2], axis=-1)
        far = p[..., 2] - self.behind_m - self.glass_m
        u = self._tangent(aside, np.where(far > 0, far, np.nan))
        with np.errstate(invalid="ignore", divide="ignore"):
            direction = np.where(aside[..., None] > 0, p[..., :2] / aside[..., None], 0.0)
        return self.centre_px + self.focal_px * u[..., None] * direction

    def _radius(self, u: NDArray[np.float64], far: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """How far from the axis a ray is at distance ``far`` behind the window, and the slope of that. [m]

        ``u`` is the tangent of the ray's angle in air.
        """
        in_glass, glass_slope = _inside(u, self.glass)
        in_water, water_slope = _inside(u, self.water)
        far = np.asarray(far, float)
        radius = self.behind_m * u + self.glass_m * in_glass + far * in_water
        return radius, self.behind_m + self.glass_m * glass_slope + far * water_slope

    def _tangent(self, radius: NDArray[np.float64], far: NDArray[np.float64]) -> NDArray[np.float64]:
        """Tangent of the angle in air of the ray that reaches ``radius`` at ``far``, by Newton's method from the axis.

        The radius grows ever more slowly with the tangent, so each step ends short of the root and none passes it.
        """
        u = np.zeros(np.broadcast_shapes(radius.shape, far.shape))
        for _ in range(_ROUNDS):
            at, slope = self._radius(u, far)
            step = (radius - at) / slope
            u = np.minimum(u + step, _STEEPEST)
            if not (np.abs(step) > _CLOSE * (1 + u)).any():
                break
        missed = np.abs(self._radius(u, far)[0] - radius) > 1e-9 * (1 + np.abs(radius))
        return np.where(missed, np.nan, u)


def _inside(u: NDArray[np.float64], index: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Tangent in a medium of a ray whose tangent in air is ``u`` (Snell's law), and its slope against ``u``."""
    n2 = index * index
    root = np.sqrt(n2 + (n2 - 1) * u * u)
    return u / root, n2 / root**3
