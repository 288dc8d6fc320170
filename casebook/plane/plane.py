"""The plane of a shot: from picture pixels to level pixels and to metres, with the error of its own estimate."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.propagate import block_covariance

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.plane.camera_path import CameraPath
    from casebook.plane.optics import Optics

#: Names of the first three of ``Plane.params`` in their order.
PARAMS = ("ln_m_per_px", "tilt_rad", "water_offset_px")
#: Steps for differences with respect to them.
STEPS = (1e-4, 1e-4, 1e-2)


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """Where level and up are in the picture, where still water is, and how long a pixel is in the swimmer's plane.

    Attributes
    ----------
    sign : int
        +1 if "forward" is to the right of the picture, -1 to the left. In head-on and rear views there is no forward in
        the picture, and x is to the swimmer's left: +1 swimming toward the camera, -1 away from it.
    params : (n,) float array
        ``[ln m_per_px, tilt_rad, water_offset_px]``. The first is NaN without a scale. Tilt is the direction of level
        in the picture, positive where a level line sinks toward the right. The offset is how far still water lies above
        ``anchor_px``, along the upward normal. Then those of ``optics``, then those that all frames of ``path`` share;
        without either n is 3. ``names`` and ``steps`` go with them.
    covariance : (n, n) float array
        Of ``params``. A parameter that is not known has NaN as its value or is not used, and zeros here. Both may be
        handed over for the first three alone: optics and path then bring their own.
    anchor_px : (2,) float array
        The place in the picture where level x is 0 and about which the tilt turns. [px]
    has_water : bool
        Still water is known; if not, z counts from ``anchor_px``, on the picture's upper edge.
    how : str
        How it was made, in a sentence or two.
    limits : tuple of str
        What this plane cannot see or takes for granted, one sentence each.
    optics : Optics, optional
        What lens, window and water do to the picture; undone before anything else. ``anchor_px``, tilt and scale are
        then those of the straightened picture.
    still : bool
        The camera stands still in the pool.
    path : CameraPath, optional
        How a camera that moves does so, from places fixed to the pool.
    """

    sign: int
    params: NDArray[np.float64]
    covariance: NDArray[np.float64]
    anchor_px: NDArray[np.float64]
    has_water: bool
    how: str = ""
    limits: tuple[str, ...] = ()
    optics: Optics | None = None
    still: bool = False
    path: CameraPath | None = None

    def __post_init__(self) -> None:
        if self.sign not in (1, -1):
            raise CasebookError(f"A plane's sign is 1 or -1, not {self.sign}.", "Say which way the swimmer goes.")
        self._complete()
        n = 3 + sum(len(part.params) for part in self._parts)
        for name, shape in (("params", (n,)), ("covariance", (n, n)), ("anchor_px", (2,))):
            array = np.array(getattr(self, name), float)
            if array.shape != shape:
                raise CasebookError(f"A plane's {name} has the shape {shape}, not {array.shape}.")
            array.setflags(write=False)
            object.__setattr__(self, name, array)
        if not (np.isfinite(self.params[1:]).all() and np.isfinite(self.covariance).all()):
            raise CasebookError("A plane's tilt, water offset or covariance is not a number.")

    @property
    def _parts(self) -> tuple[Optics | CameraPath, ...]:
        return tuple(part for part in (self.optics, self.path) if part is not None)

    def _complete(self) -> None:
        """Three params and their covariance get those of optics and path beside them."""
        if self._parts and np.shape(self.params) == (3,) and np.shape(self.covariance) == (3, 3):
            params = np.concatenate([self.params, *(part.params for part in self._parts)])
            blocks = block_covariance(self.covariance, *(part.covariance for part in self._parts if len(part.params)))
            object.__setattr__(self, "params", params)
            object.__setattr__(self, "covariance", blocks)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of ``params``."""
        return (*PARAMS, *(name for part in self._parts for name in part.names))

    @property
    def steps(self) -> NDArray[np.float64]:
        """Steps of ``params`` for differences, (n,)."""
        return np.array([*STEPS, *(step for part in self._parts for step in part.steps)])

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
        optics: Optics | None = None,
        still: bool = False,
        path: CameraPath | None = None,
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
            A point on the still water line, in the straightened picture. [px]
        water_sigma_px : float
            Standard deviation of the water line's height. [px]
        optics, still, path
            As the attributes.
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
        return cls(sign, params, np.diag(np.square(sigmas)), anchor, has_water, how, limits, optics, still, path)

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
        """A point on the still water line, in the straightened picture; NaN without one. Shape (2,) [px]"""
        if not self.has_water:
            return np.full(2, np.nan)
        tilt, offset = self.params[1:3]
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
        shift : (..., n) or (..., 3) float array, optional
            Changes of ``params``, with axes that broadcast against those of ``xy_px``: a batch of trial planes at once.
            Three change the plane alone.

        Returns
        -------
        (..., 2) float array
            x forward along the swim direction, z up from still water; up from the picture's upper edge where no water
            line is known. NaN stays NaN. [px]
        """
        return self._level(self._straight(xy_px, shift), shift)

    def _level(self, straight_px: NDArray[np.float64], shift: ArrayLike | None) -> NDArray[np.float64]:
        tilt, offset = self._at(shift, 1), self._at(shift, 2)
        d = straight_px - self.anchor_px
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
        tilt, offset = self.params[1:3]
        q = np.asarray(level_px, float)
        forward, up = self.sign * q[..., 0], q[..., 1] + offset
        cos, sin = math.cos(tilt), math.sin(tilt)
        straight = self.anchor_px + np.stack([forward * cos + up * sin, forward * sin - up * cos], -1)
        return straight if self.optics is None else self.optics.bent(straight)

    @property
    def knows_pool(self) -> bool:
        """Motion against the water can be told: the camera stands still, or its path is known."""
        return self.still or self.path is not None

    def pool(self, xy_px: ArrayLike, frames: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """Level coordinates fixed to the pool: the camera's own motion is taken out too.

        Parameters
        ----------
        xy_px : (..., 2) float array
            Places in the pictures of ``frames``. [px]
        frames : int array
            The frame of each place; broadcasts against ``xy_px`` without its last axis. For (K, P, 2) give (K, 1).
        shift : (..., n) or (..., 3) float array, optional
            As for ``level``.

        Returns
        -------
        (..., 2) float array
            x along the swim direction and fixed to the pool, z up from still water, both in pixels of the path's
            reference frame (for a camera that stands still: of any frame, and the same as ``level``). NaN on frames
            that the path does not hold. ``pool_sigma_px`` says how unsure the camera's place on each frame is; what
            all frames share is among ``params``. [px]

        Raises
        ------
        CasebookError
            The camera moves and its path is not known, or the swimmer swims in a flume.
        """
        straight = self._straight(xy_px, shift)
        if self.path is not None:
            changed = self._changed(self.path, len(self.params) - len(self.path.params), shift)
            straight = self.path.carried(straight, frames, changed)
        elif not self.still:
            raise CasebookError(
                "The swimmer cannot be seen against the pool: the camera's path is not known, or the water flows.",
                "Mark a few places fixed to the pool (tile corners, rope marks) and follow them, or film from a stand.",
            )
        return self._level(straight, shift)

    def pool_x(self, xy_px: ArrayLike, frames: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """Along the swim direction and fixed to the pool, the first coordinate of ``pool``. (...) [px]"""
        return self.pool(xy_px, frames, shift)[..., 0]

    def pool_sigma_px(self, frames: ArrayLike) -> NDArray[np.float64]:
        """Standard deviation of ``pool_x`` by the camera's place on each frame alone, shape of ``frames``. [px]

        Zero for a camera that stands still. One frame's error counts as independent of the next one's.
        """
        frames = np.asarray(frames)
        return np.zeros(frames.shape) if self.path is None else self.path.sigma_px(frames)

    def at(self, frame: int) -> Plane:
        """The plane of one frame, with its own tilt, scale and place of x = 0: its ``level`` is ``pool`` of this one.

        Raises
        ------
        CasebookError
            The path does not hold the frame, or the camera turns on the spot: then no one tilt and scale serve a whole
            picture, and ``pool`` is the way.
        """
        if self.path is None:
            return self
        anchor, turn, ln_scale, covariance = self.path.at(frame, self.anchor_px)
        n = len(self.params) - len(self.path.params)
        params, own = self.params[:n].copy(), self.covariance[:n, :n].copy()
        params[0] += ln_scale
        params[1] -= turn
        params[2] *= math.exp(-ln_scale)
        own[:3, :3] += covariance
        return replace(self, params=params, covariance=own, anchor_px=anchor, path=None, still=True)

    def shifted(self, d_params: ArrayLike) -> Plane:
        """The plane with its parameters changed by ``d_params``, (n,) or (3,)."""
        d = np.asarray(d_params, float)
        return replace(self, params=self.params + np.concatenate([d, np.zeros(len(self.params) - len(d))]))

    def _straight(self, xy_px: ArrayLike, shift: ArrayLike | None) -> NDArray[np.float64]:
        xy = np.asarray(xy_px, float)
        return xy if self.optics is None else self.optics.straight(xy, self._changed(self.optics, 3, shift))

    def _changed(self, part: Optics | CameraPath, first: int, shift: ArrayLike | None) -> NDArray[np.float64] | None:
        """How far the parameters of a part, at ``first``, are from the part's own; None where they are the same."""
        last = first + len(part.params)
        own = self.params[first:last] - part.params
        d = None if shift is None else np.asarray(shift, float)
        if d is not None and d.shape[-1] >= last:
            return own + d[..., first:last]
        return own if own.any() else None

    def _at(self, shift: ArrayLike | None, i: int) -> NDArray[np.float64]:
        own = self.params[i]
        return np.asarray(own) if shift is None else own + np.asarray(shift, float)[..., i]
