"""How a draft went, in sentences for the coach."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from casebook.marks.marks import Marks
    from casebook.marks.pose_search import Bodies


@dataclass(frozen=True, slots=True)
class DraftReport:
    """What was found on the frames of a draft.

    Attributes
    ----------
    frames : int
        Asked for.
    empty : tuple of int
        Frames on which no body was plausible.
    again : tuple of int
        Frames whose first look was not believed, so that the model was asked again in other ways.
    looks : int
        How often the model was asked in all.
    arms_exchanged, legs_exchanged : tuple of int
        Frames on which the model's left and right were exchanged.
    arms_untold, legs_untold : tuple of int
        Frames on which nothing told left from right, so that the limbs were left empty.
    """

    frames: int
    empty: tuple[int, ...]
    again: tuple[int, ...]
    looks: int
    arms_exchanged: tuple[int, ...] = ()
    legs_exchanged: tuple[int, ...] = ()
    arms_untold: tuple[int, ...] = ()
    legs_untold: tuple[int, ...] = ()

    @classmethod
    def of(
        cls,
        frames: NDArray[np.int64],
        taken: NDArray[np.float64],
        bodies: Bodies,
        swapped: Mapping[str, NDArray[np.bool_]],
        untold: Mapping[str, NDArray[np.bool_]],
    ) -> DraftReport:
        """From what the search found, the bodies taken (F, 33, 3), and where sides were exchanged or not to be told."""

        def those(mask: NDArray[np.bool_]) -> tuple[int, ...]:
            return tuple(frames[mask].tolist())

        return cls(
            len(frames),
            those(np.isnan(taken[:, 0, 0])),
            those(~bodies.believed),
            int(bodies.looks.sum()),
            those(swapped["arms"]),
            those(swapped["legs"]),
            those(untold["arms"]),
            those(untold["legs"]),
        )

    @property
    def found(self) -> int:
        """Frames with a body."""
        return self.frames - len(self.empty)

    @property
    def share_again(self) -> float:
        """Share of frames that needed further looks, 0 to 1."""
        return len(self.again) / self.frames if self.frames else 0.0

    def text(self) -> str:
        """The report in sentences."""
        told = [f"A swimmer was drafted on {self.found} of {_frames(self.frames)}."]
        if self.again:
            told.append(f"{_frames(len(self.again))} needed a second look ({self.share_again:.0%}).")
        if self.empty:
            told.append(f"Nothing plausible was found on {_stretches(self.empty)}: left empty.")
        for what, exchanged in (("arms", self.arms_exchanged), ("legs", self.legs_exchanged)):
            if exchanged:
                told.append(f"Left and right of the {what} were exchanged on {_frames(len(exchanged))}.")
        for what, untold in (("arms", self.arms_untold), ("legs", self.legs_untold)):
            if untold:
                told.append(f"Which of the {what} is left cannot be told on {_stretches(untold)}: left empty.")
        if self.found:
            told.append(
                "A draft is an offer: look at it before you accept it. Crown, neck, goggles and fingertips are for "
                "your hand alone."
            )
        else:
            told.append("Draw a box around the swimmer on the first frame, or mark by hand.")
        return " ".join(told)


@dataclass(frozen=True, slots=True, eq=False)
class Draft:
    """Drafted marks, and how they came about."""

    marks: Marks
    report: DraftReport


def _frames(count: int) -> str:
    return f"{count} frame{'' if count == 1 else 's'}"


def _stretches(frames: tuple[int, ...], most: int = 5) -> str:
    """Frames as stretches: "frames 3, 10 to 14"."""
    numbers = np.array(frames)
    parts = np.split(numbers, np.flatnonzero(np.diff(numbers) > 1) + 1)
    named = [str(p[0]) if len(p) == 1 else f"{p[0]} to {p[-1]}" for p in parts]
    rest = f" and {len(named) - most} more stretches" if len(named) > most else ""
    return f"frame{'' if len(frames) == 1 else 's'} {', '.join(named[:most])}{rest}"
