"""What stands between the swimmer and the picture, undone: a chain of parts that each turn a picture straight.

A part knows its own parameters and how sure they are, so that a plane can carry that doubt into every result.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, runtime_checkable

import numpy as np

from casebook.plane.propagate import block_covariance

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


class Part(Protocol):
    """One thing that bends the picture: a lens, a window under water, a slanting look at a flat surface.

    ``names`` (q of them), ``params`` (q,), ``covariance`` (q, q) and ``steps`` (q,) for differences. ``straight`` takes
    places in the picture to where a plain pinhole would draw them, the size in the middle kept; ``bent`` takes them
    back. ``how`` is a sentence.
    """

    @property
    def names(self) -> tuple[str, ...]: ...
    @property
    def params(self) -> NDArray[np.float64]: ...
    @property
    def covariance(self) -> NDArray[np.float64]: ...
    @property
    def steps(self) -> tuple[float, ...]: ...
    @property
    def how(self) -> str: ...

    def straight(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]: ...
    def bent(self, xy_px: ArrayLike) -> NDArray[np.float64]: ...


@runtime_checkable
class Divided(Protocol):
    """A part that treats one side of a line otherwise than the other, so that marks near it cannot be placed."""

    def unclear(self, xy_px: ArrayLike, sigma_px: ArrayLike) -> NDArray[np.bool_]: ...


@dataclass(frozen=True, slots=True, eq=False)
class Optics:
    """Parts in the order in which they are undone: the lens first, then the window.

    Attributes
    ----------
    parts : tuple of Part
    limits : tuple of str
        What is taken for granted, one sentence each.
    """

    parts: tuple[Part, ...]
    limits: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Of all parameters."""
        return tuple(name for part in self.parts for name in part.names)

    @property
    def params(self) -> NDArray[np.float64]:
        """All parameters, (q,)."""
        return np.concatenate([np.empty(0), *(part.params for part in self.parts)])

    @property
    def covariance(self) -> NDArray[np.float64]:
        """Of ``params``, (q, q)."""
        return block_covariance(*(part.covariance for part in self.parts))

    @property
    def steps(self) -> tuple[float, ...]:
        """For differences."""
        return tuple(step for part in self.parts for step in part.steps)

    @property
    def how(self) -> str:
        """In sentences."""
        return " ".join(part.how for part in self.parts)

    def straight(self, xy_px: ArrayLike, shift: ArrayLike | None = None) -> NDArray[np.float64]:
        """Places as a plain pinhole would draw them.

        Parameters
        ----------
        xy_px : (..., 2) float array [px]
        shift : (..., q) float array, optional
            Changes of ``params``, broadcasting against ``xy_px`` without its last axis.

        Returns
        -------
        (..., 2) float array
            NaN where the picture shows nothing that a straight ray could reach. [px]
        """
        xy, at = np.asarray(xy_px, float), 0
        for part in self.parts:
            own = None if shift is None else np.asarray(shift, float)[..., at : at + len(part.params)]
            xy, at = part.straight(xy, own), at + len(part.params)
        return xy

    def unclear(self, xy_px: ArrayLike, sigma_px: ArrayLike) -> NDArray[np.bool_]:
        """Marks (..., 2) with their errors (...) that lie too near a line where the picture breaks. (...) [px]"""
        out = np.zeros(np.shape(sigma_px), bool)
        for part in self.parts:
            if isinstance(part, Divided):
                out |= part.unclear(xy_px, sigma_px)
        return out

    def bent(self, xy_px: ArrayLike) -> NDArray[np.float64]:
        """Back into the picture as it was filmed, to draw what was computed. (..., 2) [px]"""
        xy = np.asarray(xy_px, float)
        for part in reversed(self.parts):
            xy = part.bent(xy)
        return xy


def value(own: float | NDArray[np.float64], shift: ArrayLike | None, i: int) -> NDArray[np.float64]:
    """A parameter with its change, if any."""
    return np.asarray(own, float) if shift is None else own + np.asarray(shift, float)[..., i]
