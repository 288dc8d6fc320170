"""How often 95 % intervals hold the truth, for any checkpoint: a harness of three functions.

A sampler yields clips (anything that the other two understand), ``measure`` returns the values of a clip with their
errors, ``truth`` the true value of one of them by a path that shares nothing with measuring. A new checkpoint brings
these three and a list of quantities.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Z95 = 1.959964


@dataclass(frozen=True)
class Value:
    """One stroke's value of a quantity: ``sigma`` by marking alone, ``common`` shared; NaN where it was refused."""

    quantity: str
    stroke: Hashable
    value: float
    sigma: float
    common: float


@dataclass(frozen=True)
class Mean:
    """The mean of some strokes of one clip and half its interval."""

    quantity: str
    strokes: tuple[Hashable, ...]
    value: float
    half: float


@dataclass
class Tally:
    """Per quantity: errors of strokes with both parts of sigma, errors of means with half intervals, refusals."""

    strokes: dict[str, list[tuple[float, float, float]]] = field(default_factory=dict)
    means: dict[str, list[tuple[float, float]]] = field(default_factory=dict)
    refused: dict[str, int] = field(default_factory=dict)

    def seen(self, quantity: str) -> int:
        """Strokes asked for, measured or refused."""
        return len(self.strokes.get(quantity, ())) + self.refused.get(quantity, 0)

    def share_refused(self, quantity: str) -> float:
        return self.refused.get(quantity, 0) / max(1, self.seen(quantity))

    def covered(self, quantity: str) -> float:
        """Share of strokes whose 95 % interval holds the truth."""
        error, sigma, common = np.array(self.strokes[quantity]).T
        return float(np.mean(np.abs(error) < Z95 * np.hypot(sigma, common)))

    def covered_means(self, quantity: str) -> float:
        """Share of means whose interval of these strokes holds the true mean of these strokes."""
        error, half = np.array(self.means[quantity]).T
        return float(np.mean(np.abs(error) < half))

    def row(self, quantity: str) -> str:
        """One line of the printed table."""
        error, sigma, common = np.array(self.strokes[quantity]).T
        half = Z95 * np.hypot(sigma, common)
        means = ""
        if self.means.get(quantity):
            of_means = np.array(self.means[quantity])[:, 1]
            means = f" | {len(of_means)} means {100 * self.covered_means(quantity):5.1f} %, half {of_means.mean():.3f}"
        return (
            f"{quantity:28s} {len(error):5d} strokes, {100 * self.share_refused(quantity):4.1f} % refused: covered "
            f"{100 * self.covered(quantity):5.1f} %, half width {half.mean():7.3f} (marking alone "
            f"{Z95 * sigma.mean():7.3f}), bias {error.mean():+8.4f}, 90 % of errors under "
            f"{np.quantile(np.abs(error), 0.9):.3f}{means}"
        )

    def table(self) -> str:
        """All quantities."""
        return "\n".join(self.row(quantity) for quantity in self.strokes)


def simulate(
    clips: Iterable[Any],
    measure: Callable[[Any], Iterable[Value | Mean]],
    truth: Callable[[Any, str, Hashable], float],
) -> Tally:
    """Measure every clip and hold each value against its truth; a truth of NaN leaves the stroke out."""
    tally = Tally()
    for clip in clips:
        for got in measure(clip):
            if isinstance(got, Mean):
                true = np.mean([truth(clip, got.quantity, s) for s in got.strokes])
                if np.isfinite(true):
                    tally.means.setdefault(got.quantity, []).append((got.value - true, got.half))
                continue
            true = truth(clip, got.quantity, got.stroke)
            if not np.isfinite(true):
                continue
            if np.isfinite(got.value):
                tally.strokes.setdefault(got.quantity, []).append((got.value - true, got.sigma, got.common))
            else:
                tally.refused[got.quantity] = tally.refused.get(got.quantity, 0) + 1
    return tally
