"""How wrong an uncorrected picture is, place by place: the off-axis error of a lens, a window, a slanting look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.plane.optics import Optics, Part

    Array = NDArray[np.float64]

#: Half a step over which a picture's stretch is taken. [px]
_NEAR_PX = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class ErrorMap:
    """What a short length is drawn too long by, against the same length in the middle of the picture.

    Attributes
    ----------
    x_px, y_px : (W,), (H,) float arrays
        The grid. [px]
    percent : (H, W) float array
        In the worse of the directions at each place; positive: drawn too long. NaN where the picture shows nothing that
        a straight ray could reach. [%]
    shift_px : (H, W) float array
        How far a place is drawn from where a pinhole would draw it. [px]
    size : (width, height) [px]
    sentence : str
    """

    x_px: Array
    y_px: Array
    percent: Array
    shift_px: Array
    size: tuple[int, int]
    sentence: str

    def inside(self, percent: float) -> NDArray[np.bool_]:
        """Where lengths are off by less than this, (H, W)."""
        with np.errstate(invalid="ignore"):
            return np.abs(self.percent) < percent


def error_map(optics: Optics | Part, size: tuple[int, int], columns: int = 96) -> ErrorMap:
    """The error that leaving ``optics`` out would make, over the picture.

    Parameters
    ----------
    optics : Optics or one Part
    size : (width, height) of the picture [px]
    columns : int
        Of the grid; its rows keep it square.
    """
    if columns < 2:
        raise CasebookError(f"A map of {columns} column shows nothing.", "Take 2 or more.")
    width, height = size
    rows = max(2, round(columns * height / width))
    x, y = np.linspace(0, width - 1, columns), np.linspace(0, height - 1, rows)
    places = np.stack(np.meshgrid(x, y), -1)
    middle = _stretch(optics, (np.asarray(size, float) - 1) / 2)
    own = _stretch(optics, places) / np.exp(np.mean(np.log(middle)))
    error = 100 * (1 / own - 1)
    worst = np.argmax(np.abs(np.where(np.isfinite(error), error, 0)), -1)[..., None]
    percent = np.take_along_axis(error, worst, -1)[..., 0]
    shift = np.linalg.norm(optics.straight(places) - places, axis=-1)
    return ErrorMap(x, y, percent, shift, size, _sentence(percent))


def _stretch(optics: Optics | Part, places: Array) -> Array:
    """The two principal stretches of straightening at places (..., 2): (..., 2), NaN where there are none."""
    ways = [(optics.straight(places + d) - optics.straight(places - d)) / (2 * _NEAR_PX) for d in _NEAR_PX * np.eye(2)]
    slopes: Array = np.stack(ways, -1)
    known: NDArray[np.bool_] = np.asarray(np.isfinite(slopes).all((-1, -2)))
    values = np.linalg.svd(np.where(known[..., None, None], slopes, np.eye(2)), compute_uv=False)
    return np.where(known[..., None], values, np.nan)


def _sentence(percent: Array) -> str:
    h, w = percent.shape
    edge = np.concatenate([percent[0], percent[-1], percent[:, 0], percent[:, -1]])
    half = percent[h // 4 : h - h // 4, w // 4 : w - w // 4]
    dark = int(np.isnan(percent).sum())
    out = (
        f"Without correction a short length is off by up to {_most(half):.0f} % in the middle half of the picture and "
        f"by up to {_most(edge):.0f} % at its rim, against the middle."
    )
    return out + (" Parts of the rim show nothing that can be measured." if dark else "")


def _most(percent: Array) -> float:
    known = np.abs(percent[np.isfinite(percent)])
    return float(known.max()) if known.size else float("nan")
