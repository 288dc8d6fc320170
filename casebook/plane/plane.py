"""The plane of a shot: from picture pixels to level pixels and to metres, with the error of its own estimate."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

#: Names of ``Plane.params`` in their order.
PARAMS = ("ln_m_per_px", "tilt_rad", "water_offset_px")


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """Where level and up are in the picture, where still water is, and how long a pixel is in the swimmer's plane.

    Attributes
    ----------
    sign : int
        +1 if "forward" is to the right of the picture, -1 to the left. In head-on and rear views there is no forward in
        the picture, and x is to the swimmer's left: +1 swimming toward the camera, -1 away from it.
    params : (3,) float array
        ``[ln m_per_px, tilt_rad, water_offset_px]``. The first is NaN without a scale. Tilt is the direction of level
        in the picture, positive where a level line sinks toward the right. The offset is how far still water lies above
        ``anchor_px``, along the upward normal.
    covariance : (3, 3) float array
        Of ``params``. A parameter that is not known has NaN as its value or is not used, and zeros here.
    anchor_px : (2,) float array
        The place in the picture where level x is 0 and about which the tilt turns. [px]
    has_water : bool
        Still water is known; if not, z counts from ``anchor_px``, on the picture's upper edge.
    how : str
        How it was made, in a sentence or two.
    limits : tuple of str
        What this plane cannot see or takes for granted, one sentence each.
    """

    sign: int
    params: NDArray[np.float64]
    covariance: NDArray[np.float64]
    anchor_px: NDArray[np.float64]
    has_water: bool
    how: str = ""
    limits: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.sign not in (1, -1):
            raise CasebookError(f"A plane's sign is 1 or -1, not {self.sign}.", "Say which way the swimmer goes.")
        for name, shape in (("params", (3,)), ("covariance", (3, 3)), ("anchor_px", (2,))):
            array = np.array(getattr(self, name), float)
            if array.shape != shape:
                raise CasebookError(f"A plane's {name} has the shape {shape}, not {array.shape}.")
            array.setflags(write=False)
            object.__setattr__(self, name, array)
        if not (np.isfinite(self.params[1:]).all() and np.isfinite(self.covariance).all()):
            raise CasebookError("A plane's tilt, water offset or covariance is not a number.")

    @classmethod
    def given(
        cls,
        sign: int,
        *,
        m_per_px: float = math.nan,
        scale_sigma: float = 0.0,
        tilt_deg: float = 0.0,
        tilt_sigma_deg: float = 0.0,
        water_px: ArrayLike | None = None,
        water_sigma_px: float = 0.0,
        how: str = "given",
        limits: tuple[str, ...] = (),
    ) -> Plane:
        """A plane from values that are known already.

        Parameters
        ----------
        sign : int
            +1 swims to the right of the picture, -1 to the left.
        m_per_px, scale_sigma : float
            Metres per pixel, NaN if not known, and the relative standard deviation of it (0.02 is 2 %).
        tilt_deg, tilt_sigma_deg : float
            Direction of a level line, positive sinking to the right, and its standard deviation. [deg]
        water_px : (2,) float array, optional
            A point on the still water line. [px]
        water_sigma_px : float
            Standard deviation of the water line's height. [px]
        """
        if not (m_per_px > 0 or math.isnan(m_per_px)):
            raise CasebookError(f"A pixel cannot be {m_per_px} m long.", "Give a length above zero.")
        has_water = water_px is not None
        sigmas = [
            0.0 if math.isnan(m_per_px) else scale_sigma,
            math.radians(tilt_sigma_deg),
            water_sigma_px if has_water else 0.0,
        ]
        params = np.array([math.log(m_per_px), math.radians(tilt_deg), 0.0])
        anchor = np.zeros(2) if water_px is None else np.asarray(water_px, float)
        return cls(sign, params, np.diag(np.square(sigmas)), anchor, has_water, how, limits)

    @property
    def m_per_px(self) -> float:
        """Length of a pixel in the swimmer's plane; NaN without a scale. [m]"""
        return float(np.exp(self.params[0]))

    @property
    def scale_sigma(self) -> float:
        """Relative standard deviation of ``m_per_px``; NaN without a scale."""
        return math.sqrt(self.covariance[0, 0]) if self.has_scale else math.nan

    @property
    def tilt_deg(self) -> float:
        """Direction of level in the picture, positive where it sinks toward the right. [deg]"""
        return math.degrees(self.params[1])

    @property
    def tilt_sigma_deg(self) -> float:
        """Standard deviation of ``tilt_deg``. [deg]"""
        return math.degrees(math.sqrt(self.covariance[1, 1]))

    @property
    def water_px(self) -> NDArray[np.float64]:
        """A point on the still water line; NaN without one. Shape (2,) [px]"""
        if not self.has_water:
            return np.full(2, np.nan)
        tilt, offset = self.params[1:]
        return self.anchor_px + offset * np.array([math.sin(tilt), -math.cos(tilt)])

    @property
    def has_scale(self) -> bool:
        """Metres are known."""
        return bool(np.isfinite(self.params[0]))

    def level(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """Pixels counted forward and up, with the camera's tilt taken out.

        Parameters
        ----------
        xy_px : (..., 2) float array
            Places in the picture, x right, y down. [px]
        shift : (..., 3) float array, optional
            Changes of ``params``, with axes that broadcast against those of ``xy_px``: a batch of trial planes at once.

        Returns
        -------
        (..., 2) float array
            x forward along the swim direction, z up from still water; up from the picture's upper edge where no water
            line is known. NaN stays NaN. [px]
        """
        tilt, offset = self._at(shift, 1), self._at(shift, 2)
        d = np.asarray(xy_px, float) - self.anchor_px
        cos, sin = np.cos(tilt), np.sin(tilt)
        forward = self.sign * (d[..., 0] * cos + d[..., 1] * sin)
        up = d[..., 0] * sin - d[..., 1] * cos - offset
        return np.stack([forward, up], -1)

    def world(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """The same in metres; NaN without a scale. Shapes as in ``level``. [m]"""
        m_per_px = np.exp(self._at(shift, 0))
        return self.level(xy_px, shift) * np.asarray(m_per_px)[..., None]

    def picture(self, level_px: ArrayLike) -> NDArray[np.float64]:
        """Back from level coordinates to places in the picture, to draw what was computed. (..., 2) [px]"""
        tilt, offset = self.params[1:]
        q = np.asarray(level_px, float)
        forward, up = self.sign * q[..., 0], q[..., 1] + offset
        cos, sin = math.cos(tilt), math.sin(tilt)
        return self.anchor_px + np.stack([forward * cos + up * sin, forward * sin - up * cos], -1)

    def shifted(self, d_params: ArrayLike) -> Plane:
        """The plane with its parameters changed by ``d_params`` (3,)."""
        return replace(self, params=self.params + np.asarray(d_params, float))

    def _at(self, shift: ArrayLike | None, i: int) -> NDArray[np.float64]:
        own = self.params[i]
        return np.asarray(own) if shift is None else own + np.asarray(shift, float)[..., i]
