"""Tracks on frames that may come at uneven times, brought to the one rate that a file of tracks can say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: A frame this near its place on the even grid stands on it, as a share of the step. own judgement, no source
ON_GRID = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class EvenTracks:
    """``xyz`` (F, P, 3) and ``sigma`` (F, P) at ``rate_hz``; ``moved``: places were read between the frames."""

    xyz: NDArray[np.float64]
    sigma: NDArray[np.float64]
    rate_hz: float
    moved: bool


def at_one_rate(times_s: NDArray[np.float64], xyz: NDArray[np.float64], sigma: NDArray[np.float64]) -> EvenTracks:
    """The tracks as they are where their frames come evenly, else read on an even grid by straight lines.

    Parameters
    ----------
    times_s : (F,) float array
        Real time of each frame, rising. [s]
    xyz : (F, P, 3) float array
        NaN where unmarked. A place between two frames is read only where both hold it, so that no gap is closed.
    sigma : (F, P) float array

    Raises
    ------
    MarksError
        Times that are not known (slow motion that nobody has stated), that do not rise, or fewer than two.
    """
    times = np.asarray(times_s, float)
    if not np.isfinite(times).all():
        raise MarksError(
            "The slow motion of this clip is not known, so its frames have no rate.",
            "State it: desk.filmed(time_scale=...), 8 for 240 pictures a second stored as 30.",
        )
    if len(times) < 2 or (np.diff(times) <= 0).any():
        raise MarksError("A rate needs two frames or more at rising times.", "Mark a second frame.")
    steps = np.arange(len(times)) * (times[-1] - times[0]) / (len(times) - 1)
    if np.max(np.abs(times - times[0] - steps)) <= ON_GRID * steps[1]:
        return EvenTracks(xyz, sigma, 1 / float(steps[1]), False)
    step = float(np.median(np.diff(times)))
    grid = times[0] + np.arange(int((times[-1] - times[0]) / step + 1e-6) + 1) * step
    row = np.clip(np.searchsorted(times, grid, "right") - 1, 0, len(times) - 2)
    part = np.clip((grid - times[row]) / (times[row + 1] - times[row]), 0.0, 1.0)[:, None]
    spread = np.sqrt(_between(sigma**2, row, part, 2))
    return EvenTracks(_between(xyz, row, part[..., None], 1), spread, 1 / step, True)


def _between(
    values: NDArray[np.float64], row: NDArray[np.int64], part: NDArray[np.float64], power: int
) -> NDArray[np.float64]:
    """Weighted sums of a row and the next; a weight of zero does not need its row."""
    before, after = (1 - part) ** power, part**power
    low = np.where(before > 0, values[row], 0.0)
    high = np.where(after > 0, values[row + 1], 0.0)
    out: NDArray[np.float64] = before * low + after * high
    return out
