"""Marks made from the truth, as a coach with a known hand would have placed them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import HAND_SIGMA_PX, Marks, Origin
from casebook.marks.points import POINTS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from casebook.demo.truth import ClipTruth

#: What the catch needs of an arm, and what helps.
ARM_POINTS = ("shoulder", "elbow", "wrist", "fingertip")


@dataclass(frozen=True, slots=True)
class KeyStills:
    """Frames of one stroke that a coach would mark: tipping, halfway, straight down."""

    side: str
    number: int
    stroke_class: str
    reach: int
    halfway: int
    straight_down: int

    @property
    def frames(self) -> tuple[int, int, int]:
        """The three in order."""
        return self.reach, self.halfway, self.straight_down


def marks_from_truth(
    truth: ClipTruth,
    points: Sequence[str] | None = None,
    frames: ArrayLike | None = None,
    sigma_px: float = HAND_SIGMA_PX,
    seed: int = 0,
    *,
    origin: Origin = Origin.hand,
    marked: Sequence[str] = ("visible",),
) -> Marks:
    """Marks with independent noise.

    Parameters
    ----------
    truth : ClipTruth
    points : sequence of str, optional
        All 27 unless given.
    frames : (F,) int array, optional
        All frames unless given; sorted, each once.
    sigma_px : float
        Standard deviation per coordinate; 0 gives exact marks. [px]
    seed : int
        A mark depends on seed, frame and point alone, whatever else is asked for and in whatever order.
    origin : Origin
    marked : sequence of str
        Visibilities that get a mark. Points of another one are hidden: looked for and not to be seen.

    Returns
    -------
    Marks
        Their ``sigma_px`` is that of the noise, or the smallest that counts as exact (0.01 px).
    """
    names = tuple(points) if points is not None else truth.points
    chosen = np.unique(np.arange(len(truth.times)) if frames is None else np.asarray(frames, np.int64))
    columns = [truth.index(name) for name in names]
    noise = np.stack([_noise(seed, int(f)) for f in chosen]) if len(chosen) else np.empty((0, len(POINTS), 2))
    places = [POINTS.index(name) for name in names]
    xy = truth.xy[chosen][:, columns] + sigma_px * noise[:, places]
    shown = np.isin(truth.visible[chosen][:, columns], marked)
    out = Marks.from_arrays(names, chosen, np.where(shown[..., None], xy, np.nan), max(sigma_px, 0.01), origin)
    out.hidden[:] = ~shown
    out.origin[~shown] = int(origin)
    return out


def _noise(seed: int, frame: int) -> NDArray[np.float64]:
    return np.random.default_rng((seed, frame)).standard_normal((len(POINTS), 2))


def key_stills(truth: ClipTruth, side: str) -> tuple[KeyStills, ...]:
    """The three stills of every stroke of one arm that lies in the clip.

    The last frame before the fingers tip, the frame with the forearm nearest to halfway down, the first with the
    forearm straight down or past it; all as the picture shows the arm.
    """
    found = []
    for catch in truth.catches:
        if catch.side != side:
            continue
        for k, number in enumerate(catch.numbers):
            reach = int(np.searchsorted(truth.times, catch.events["end_of_extension"][k], "right")) - 1
            halfway = int(np.argmin(np.abs(truth.times - catch.instants["forearm_45"][k])))
            down = int(np.searchsorted(truth.times, catch.instants["forearm_90"][k]))
            found.append(KeyStills(side, int(number), str(catch.classes[k]), reach, halfway, down))
    return tuple(found)


def key_still_frames(truth: ClipTruth, side: str, strokes: int | None = None) -> NDArray[np.int64]:
    """Frames of the key stills of the first ``strokes`` strokes of one arm (all, unless given), increasing."""
    return np.array(sorted({f for still in key_stills(truth, side)[:strokes] for f in still.frames}), dtype=np.int64)
