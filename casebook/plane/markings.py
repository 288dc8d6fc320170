"""Pool markings of known length, as data, and a known length made from one."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from casebook.errors import CasebookError
from casebook.marks.marks import HAND_SIGMA_PX
from casebook.marks.scales import LengthMark
from casebook.words import VIEWS

#: Directions that lie in the picture, by the first word of the view.
_SEEN: dict[str, tuple[str, ...]] = {
    "side": ("lane", "up"),
    "front": ("across", "up"),
    "rear": ("across", "up"),
    "bottom": ("lane", "across"),
    "top": ("lane", "across"),
}


@dataclass(frozen=True, slots=True)
class Marking:
    """A pool marking: ``length_m`` with ``sigma_m`` [m], which way it runs, where it lies, and who says so."""

    key: str
    what: str
    length_m: float
    sigma_m: float
    along: str
    where: str
    source: str

    def serves(self, view: str) -> bool:
        """It runs along the picture in this view (a key of ``words.VIEWS``), so that its length can be seen."""
        return self.along in _SEEN[view.split("_")[0]]


@cache
def markings() -> dict[str, Marking]:
    """All known markings by key."""
    data = tomllib.loads(Path(__file__).with_name("pool_markings.toml").read_text("utf-8"))
    return {key: Marking(key, **table) for key, table in data.items() if key != "schema"}


def marking_length(
    key: str,
    view: str,
    frame: int,
    ends_px: tuple[float, float, float, float],
    *,
    sigma_px: float = HAND_SIGMA_PX,
    distance_ratio: float = 1.0,
    distance_sigma: float = 0.0,
) -> LengthMark:
    """A known length from a pool marking whose two ends were marked.

    Parameters
    ----------
    key : str
        Key of ``markings()``.
    view : str
        Key of ``words.VIEWS``.
    frame : int
    ends_px : (x0, y0, x1, y1) [px]
    sigma_px : float
        Standard deviation per coordinate of each end. [px]
    distance_ratio, distance_sigma : float
        Camera to swimmer over camera to marking, with its standard deviation: a rope or a floor line seldom lies at the
        swimmer's own distance.

    Raises
    ------
    CasebookError
        No such marking, or it runs toward the camera in this view.
    """
    known = markings()
    if key not in known:
        raise CasebookError(f'"{key}" is not a pool marking that casebook knows.', f"Use one of: {', '.join(known)}.")
    marking = known[key]
    if not marking.serves(view):
        better = ", ".join(k for k, m in known.items() if m.serves(view))
        raise CasebookError(
            f"The {marking.what} runs toward or away from the camera {VIEWS[view]}: its length cannot be seen.",
            f"Mark one of: {better}.",
        )
    return LengthMark(
        frame,
        *ends_px,
        length_m=marking.length_m,
        sigma_m=marking.sigma_m,
        sigma_px=sigma_px,
        what=marking.what,
        distance_ratio=distance_ratio,
        distance_sigma=distance_sigma,
    )
