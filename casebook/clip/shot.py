"""A swim (one effort on one day) and a shot (a stretch of a clip that shows it in one view)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError
from casebook.words import CAMERAS, DIRECTIONS, EFFORTS, KITS, PLACES, VIEWS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.clip import Clip


@dataclass(frozen=True, slots=True)
class Swim:
    """One effort on one day. Results pool the passes of one swim and never two swims."""

    id: str
    date: str = ""
    effort: str = "steady"
    kit: str = "none"
    place: str = "25 m"
    lane: str = "empty"
    seconds: float | None = None
    strokes: int | None = None
    note: str = ""

    def __post_init__(self) -> None:
        _one_of("effort", self.effort, EFFORTS)
        _one_of("kit", self.kit, KITS)
        _one_of("place", self.place, PLACES)


@dataclass(frozen=True, slots=True)
class Stretch:
    """File frames ``start`` to ``stop`` (exclusive) that were slowed down ``scale`` times; None: not known."""

    start: int
    stop: int
    scale: float | None = 1.0


@dataclass(frozen=True, slots=True)
class Shot:
    """A stretch of a clip with one swimmer, one view, one direction.

    Parameters
    ----------
    id : str
        Name of the shot inside its case; also the name of its marks file.
    clip : Clip
    view, direction : str
        Keys of ``words.VIEWS`` and ``words.DIRECTIONS``.
    start, stop : int
        First frame and the frame after the last, in the clip's own frame numbers.
    camera : str
        Key of ``words.CAMERAS``.
    stretches : tuple of Stretch
        Slow motion, where the file's time runs slower than the pool's. Empty: real time throughout.
    mirrored : bool
        The file shows left as right (front cameras of phones). Never changes the picture; it is stated on the page.
    """

    id: str
    clip: Clip
    view: str
    direction: str
    start: int
    stop: int
    swim: Swim | None = None
    swimmer: str = ""
    camera: str = "still"
    stretches: tuple[Stretch, ...] = ()
    mirrored: bool = False

    def __post_init__(self) -> None:
        _one_of("view", self.view, tuple(VIEWS))
        _one_of("direction", self.direction, tuple(DIRECTIONS))
        _one_of("camera", self.camera, tuple(CAMERAS))
        if not 0 <= self.start < self.stop <= self.clip.n_frames:
            raise CasebookError(
                f'Shot "{self.id}" asks for frames {self.start} to {self.stop}, but its clip has frames 0 to '
                f"{self.clip.n_frames}.",
                "Set start and stop inside the clip.",
            )

    @property
    def frames(self) -> NDArray[np.int64]:
        """The shot's frame numbers, in the clip's own counting."""
        return np.arange(self.start, self.stop)

    @property
    def times(self) -> NDArray[np.float64]:
        """Real time of every frame of the clip. Shape (clip.n_frames,) [s]; NaN where the slow motion is not known."""
        return real_times(self.clip.times, self.stretches)

    @property
    def sign(self) -> int:
        """+1 if the swimmer moves to the right of the picture, -1 to the left, 0 in head-on views."""
        return {"right": 1, "left": -1}.get(self.direction, 0)


def near_side(shot: Shot) -> str:
    """The side of the swimmer toward a side camera, ``l`` or ``r``; empty in other views.

    A camera stands on the right of a swimmer who goes to the right of the picture; a mirrored file turns that over.
    """
    if not shot.view.startswith("side"):
        return ""
    return "l" if (shot.direction == "left") != shot.mirrored else "r"


def real_times(file_times: ArrayLike, stretches: tuple[Stretch, ...]) -> NDArray[np.float64]:
    """Pool time of each frame from the file's time and the slow-motion stretches.

    Parameters
    ----------
    file_times : (N,) float array
        The file's own seconds.
    stretches : tuple of Stretch
        Frames in no stretch run at real time. Inside a stretch, file time is divided by its scale.

    Returns
    -------
    (N,) float array
        Real seconds from the first frame; NaN from the first frame of unknown scale on, since nothing after it has a
        known distance to the start.
    """
    times = np.asarray(file_times, float)
    if times.size == 0:
        return times
    scale = np.ones(len(times))
    for part in stretches:
        scale[part.start : part.stop] = np.nan if part.scale is None else part.scale
    # A frame's scale governs the interval that starts at it.
    steps = np.diff(times) / scale[:-1]
    return np.concatenate([[0.0], np.cumsum(steps)])


def _one_of(what: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise CasebookError(f'"{value}" is not a {what} that casebook knows.', f"Use one of: {', '.join(allowed)}.")
