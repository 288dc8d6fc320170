"""A lens that bends straight lines, by the polynomial model of OpenCV: radial k1, k2, k3 and tangential p1, p2."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

NAMES = ("k1", "k2", "k3", "p1", "p2", "centre_x_px", "centre_y_px")
#: Where a calibration was filmed.
MEDIA = ("air", "water")
#: Newton steps at most, and how close they must come. [share of the focal length]
_ROUNDS, _CLOSE = 40, 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Lens:
    """Radial and tangential distortion.

    A straight picture's place (x, y), counted from the centre in units of ``focal_px``, is drawn at
    x (1 + k1 r2 + k2 r2^2 + k3 r2^3) + 2 p1 x y + p2 (r2 + 2 x^2), and for y with p1 and p2 exchanged (the model of
    OpenCV's camera calibration, as its manual prints it).

    Attributes
    ----------
    focal_px : float
        Unit of the model. From a calibration it is the focal length; from straight lines alone, where the focal length
        cannot be known, any fixed number (the k's go with it). [px]
    params : (7,) float array
        k1, k2, k3, p1, p2 and the centre [px], as ``NAMES``.
    covariance : (7, 7) float array
    medium : str
        ``air`` or ``water``: where the lines or the pattern were filmed. What was filmed through a window into water
        holds lens and window together.
    how : str
        How it was found, in a sentence.
    """

    focal_px: float
    params: NDArray[np.float64]
    covariance: NDArray[np.float64] = field(default_factory=lambda: np.zeros((7, 7)))
    medium: str = "air"
    how: str = "The lens's distortion is taken out as given."

    def __post_init__(self) -> None:
        for name, shape in (("params", (7,)), ("covariance", (7, 7))):
            array = np.array(getattr(self, name), float)
            if array.shape != shape or not np.isfinite(array).all():
                raise CasebookError(f"A lens's {name} are {shape[0]} numbers: {', '.join(NAMES)}.")
            array.setflags(write=False)
            object.__setattr__(self, name, array)
        if not self.focal_px > 0:
            raise CasebookError(f"A lens has no focal length of {self.focal_px} px.", "Give a length above zero.")
        if self.medium not in MEDIA:
            raise CasebookError(f'A lens cannot be calibrated in "{self.medium}".', f"Use one of: {', '.join(MEDIA)}.")

    @property
    def names(self) -> tuple[str, ...]:
        """Of the parameters."""
        return tuple(f"lens_{name}" for name in NAMES)

    @property
    def steps(self) -> tuple[float, ...]:
        """For differences."""
        return (*(1e-5,) * 5, 1e-2, 1e-2)

    @property
    def centre_px(self) -> NDArray[np.float64]:
        """Where nothing is bent. (2,) [px]"""
        return self.params[5:]

    def bent(self, xy_px: ArrayLike) -> NDArray[np.float64]:
        """From a straight picture into the one that the lens draws. (..., 2) [px]"""
        x = (np.asarray(xy_px, float) - self.centre_px) / self.focal_px
        return self.centre_px + self.focal_px * _drawn(x, self.params)[0]

    def straight(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """Places as a lens without distortion would draw them.

        ``shift`` (..., 7) changes ``params``. NaN where the polynomial folds back over itself, so that no one place
        belongs to the pixel. (..., 2) [px]
        """
        own = self.params if shift is None else self.params + np.asarray(shift, float)
        centre = own[..., 5:]
        seen = (np.asarray(xy_px, float) - centre) / self.focal_px
        return centre + self.focal_px * _undrawn(seen, own)

    def straight_and_stretch(self, xy_px: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Straight places (..., 2) [px], and how they change with the place in the picture, (..., 2, 2)."""
        straight = self.straight(xy_px)
        slopes = _drawn((straight - self.centre_px) / self.focal_px, self.params)[1]
        return straight, np.asarray(np.linalg.inv(slopes))


def _drawn(x: NDArray[np.float64], own: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Places (..., 2) bent by the model, and its slopes (..., 2, 2); ``own`` (..., 7)."""
    k1, k2, k3, p1, p2 = (own[..., i] for i in range(5))
    u, v = x[..., 0], x[..., 1]
    r2 = u * u + v * v
    grown = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
    slope = 2 * (k1 + r2 * (2 * k2 + 3 * r2 * k3))
    out = np.stack(
        [u * grown + 2 * p1 * u * v + p2 * (r2 + 2 * u * u), v * grown + p1 * (r2 + 2 * v * v) + 2 * p2 * u * v], -1
    )
    cross = u * v * slope + 2 * p1 * u + 2 * p2 * v
    along = np.stack([grown + u * u * slope + 2 * p1 * v + 6 * p2 * u, cross], -1)
    down = np.stack([cross, grown + v * v * slope + 6 * p1 * v + 2 * p2 * u], -1)
    return out, np.stack([along, down], -2)


def _undrawn(seen: NDArray[np.float64], own: NDArray[np.float64]) -> NDArray[np.float64]:
    """The places that the model draws at ``seen``, by Newton's method from ``seen`` itself."""
    x = np.array(np.broadcast_to(seen, np.broadcast_shapes(seen.shape, (*own.shape[:-1], 2))))
    with np.errstate(all="ignore"):
        for _ in range(_ROUNDS):
            at, slope = _drawn(x, own)
            off = seen - at
            a, b, c, d = (slope[..., i, j] for i in range(2) for j in range(2))
            det = a * d - b * c
            step = np.stack([d * off[..., 0] - b * off[..., 1], a * off[..., 1] - c * off[..., 0]], -1) / det[..., None]
            x = x + step
            if not (np.abs(step) > _CLOSE).any():
                break
        at, slope = _drawn(x, own)
        det = slope[..., 0, 0] * slope[..., 1, 1] - slope[..., 0, 1] * slope[..., 1, 0]
        good = (np.abs(at - seen).max(-1) < 1e-9) & (det > 0) & ~_past_fold(x, own)
    return np.where(good[..., None], x, np.nan)


def _past_fold(x: NDArray[np.float64], own: NDArray[np.float64]) -> NDArray[np.bool_]:
    """A place lies beyond a radius at which the radial polynomial turns back, though there it may rise again."""
    k1, k2, k3 = (own[..., i, None] for i in range(3))
    r2 = np.sum(x * x, -1)[..., None] * np.linspace(0, 1, 17)
    return ((1 + r2 * (3 * k1 + r2 * (5 * k2 + 7 * r2 * k3))) <= 0).any(-1)
