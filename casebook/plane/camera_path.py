"""The path of a moving camera as a noun: it makes motion against the water measurable."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.plane.moves import SHARED, carried, shown
from casebook.plane.propagate import STEP

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class CameraPath:
    """Where the picture of each frame lies in that of the reference frame.

    Attributes
    ----------
    kind : str
        ``along`` (the camera travels beside the swimmer) or ``turning`` (it turns on the spot); see ``plane.moves``.
    frames : (F,) int array, increasing
    reference : int
        One of them; its picture is taken for square to the lane.
    own : (F, k) float array
        Numbers of each frame, named in ``moves.OWN``.
    own_covariance : (F, k, k) float array
        What the marks of that frame leave open.
    slopes : (F, k, p) float array
        How ``own`` follows a change of ``params``.
    params, covariance : (p,), (p, p) float arrays
        What all frames share.
    centre_px : (2,) float array
        Of the picture. [px]
    level_rad : float
        Direction of the lane in the reference picture, along which a camera travels. [rad]
    how, limits : str, tuple of str
        How it was made; what is taken for granted and what does not fit.
    """

    kind: str
    frames: NDArray[np.int64]
    reference: int
    own: Array
    own_covariance: Array
    slopes: Array
    params: Array
    covariance: Array
    centre_px: Array
    level_rad: float = 0.0
    how: str = ""
    limits: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Of ``params``."""
        return (SHARED[self.kind],)

    @property
    def steps(self) -> tuple[float, ...]:
        """For differences."""
        return (1e-4,) * len(self.params)

    def carried(self, xy_px: ArrayLike, frames: ArrayLike, shift: ArrayLike | None = None) -> Array:
        """Places of the swimmer on frames, as the reference frame would show them.

        Parameters
        ----------
        xy_px : (..., 2) float array
            In straightened pictures. [px]
        frames : int array, broadcasts against ``xy_px`` without its last axis
        shift : (..., p) float array, optional
            Changes of ``params``.

        Returns
        -------
        (..., 2) float array
            NaN on frames that the path does not hold. [px]
        """
        row, known = self._rows(frames)
        own, shared = self.own[row], self.params
        if shift is not None:
            d = np.asarray(shift, float)
            own, shared = own + np.einsum("...kp,...p->...k", self.slopes[row], d), shared + d
        out = self._carried(np.asarray(xy_px, float), own, shared)
        return np.where(np.asarray(known)[..., None], out, np.nan)

    def sigma_px(self, frames: ArrayLike) -> Array:
        """Standard deviation of where the middle of a frame lies along the reference picture, without what is shared.

        Shape of ``frames``; NaN on frames that the path does not hold. [px]
        """
        row, known = self._rows(frames)
        own = self.own[row]
        slope = np.empty(own.shape)
        for i in range(own.shape[-1]):
            step = STEP * np.eye(own.shape[-1])[i]
            ends = [self._carried(self.centre_px, own + s * step, self.params) for s in (1, -1)]
            slope[..., i] = (ends[0] - ends[1])[..., 0] / (2 * STEP)
        variance = np.einsum("...i,...ij,...j->...", slope, self.own_covariance[row], slope)
        return np.where(known, np.sqrt(variance), np.nan)

    def at(self, frame: int, anchor_px: Array) -> tuple[Array, float, float, Array]:
        """One frame of a path along the lane: where a place of the reference picture is, turn [rad], ln size, and the
        covariance (3, 3) of ln size, turn and height.

        Raises
        ------
        CasebookError
            The path does not hold the frame, or the camera turns on the spot.
        """
        if self.kind != "along":
            raise CasebookError(
                "A camera that turns has no one scale and tilt for a whole frame.",
                "Take places into the reference frame (pool) instead.",
            )
        row, known = self._rows(frame)
        if not known:
            raise CasebookError(
                f"On frame {frame} too few fixed places are marked to know where the camera is.",
                "Mark or follow two fixed places there.",
                frame=frame,
            )
        own, spread = self.own[row], self.own_covariance[row]
        anchor = shown(self.kind, anchor_px, own, self.params, self.centre_px, level=self.level_rad)
        return anchor, float(own[2]), float(own[3]), spread[np.ix_([3, 2, 1], [3, 2, 1])]

    def _carried(self, xy: Array, own: Array, shared: Array) -> Array:
        return carried(self.kind, xy, own, shared, self.centre_px, level=self.level_rad)

    def _rows(self, frames: ArrayLike) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
        wanted = np.asarray(frames)
        row = np.clip(np.searchsorted(self.frames, wanted), 0, len(self.frames) - 1)
        return row, self.frames[row] == wanted
