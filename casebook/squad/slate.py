"""The slate that each swimmer holds up: a card with a huge number and a square marker that a machine reads.

The markers are those of OpenCV's ArUco module, 5 x 5 cells in a black edge, a hundred of them; marker 7 is number 7. In
this dictionary any two differ in at least seven cells, however turned. The card carries its marker twice, large and
small, so that a hand or a wave over one of them leaves the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.errors import SquadError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Grey = NDArray[np.uint8]

#: Numbers that there are slates for.
NUMBERS = range(1, 100)
#: Cells along a marker's side, with its black edge.
CELLS = 7
#: The card: A4, upright. The rest: left, top, side of the two markers; left, top, width, height of the number. [mm]
CARD_MM = (210.0, 297.0)
LARGE_MM = (30.0, 24.0, 150.0)
SMALL_MM = (152.0, 208.0, 46.0)
FIGURE_MM = (10.0, 186.0, 132.0, 90.0)
#: A picture is looked at no wider than this: larger ones gain little and take long. [px]
LOOK_WIDTH = 1920
#: A marker's cells may be misread in so many of its 25 before it counts as not read: none, as a wrong number costs more
#: than a slate to type. A cell of the black edge may be misread in one of six.
MISREAD_RATE, EDGE_MISREAD_RATE = 0.0, 0.17
#: A square smaller than this is no slate that one could hope to read. [px]
_LEAST_SIDE_PX = 18
#: A square that could be a marker: least contrast between its light and dark cells (of 255), and how even its edge is.
_LEAST_CONTRAST, _EDGE_DARK = 40.0, 0.85


@dataclass(frozen=True, slots=True)
class Seen:
    """What one picture shows: numbers read, and how many slates look like one and cannot be read."""

    numbers: frozenset[int] = frozenset()
    unread: int = 0


def opencv() -> Any:
    """The OpenCV module; SquadError if it or a system library that it needs is missing."""
    try:
        import cv2
    except (ImportError, OSError) as error:
        raise SquadError(
            f"Slates can be neither drawn nor found: OpenCV does not load ({error}).",
            "On a bare Linux machine it needs the system libraries libGL.so.1 and libgthread-2.0.so.0 (Debian and "
            "Ubuntu: the packages libgl1 and libglib2.0-0). Cutting by time works without it.",
        ) from None
    return cv2


def marker_cells(number: int) -> NDArray[np.bool_]:
    """The marker of a number, (7, 7) bool, True where it is white.

    Raises
    ------
    SquadError
        There is no slate for that number.
    """
    if number not in NUMBERS:
        raise SquadError(
            f"There is no slate with the number {number}.", f"Use numbers from {NUMBERS[0]} to {NUMBERS[-1]}."
        )
    return np.asarray(_dictionary().generateImageMarker(number, CELLS) > 127)


def slates_in(picture: NDArray[np.uint8]) -> Seen:
    """The slates that a picture shows.

    Parameters
    ----------
    picture : (H, W, 3) uint8 RGB

    Returns
    -------
    Seen
        A number counts only if its marker is read without a fault.
    """
    grey = _grey(picture)
    numbers, rejected = _read(grey)
    if not numbers:
        numbers, more = _read(_lifted(grey))
        rejected = [*rejected, *more]
    return Seen(numbers, 0 if numbers else _like_markers(grey, rejected))


def _grey(picture: NDArray[np.uint8]) -> Grey:
    cv2 = opencv()
    grey = cv2.cvtColor(np.ascontiguousarray(picture), cv2.COLOR_RGB2GRAY)
    if grey.shape[1] > LOOK_WIDTH:
        size = (LOOK_WIDTH, round(grey.shape[0] * LOOK_WIDTH / grey.shape[1]))
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    return np.asarray(grey)


def _lifted(grey: Grey) -> Grey:
    """The same with its contrast raised place by place, for dim pictures and for blue water."""
    cv2 = opencv()
    return np.asarray(cv2.createCLAHE(clipLimit=4.0, tileGridSize=(8, 8)).apply(cv2.GaussianBlur(grey, (3, 3), 0)))


def _read(grey: Grey) -> tuple[frozenset[int], list[NDArray[np.float32]]]:
    _, ids, rejected = _detector().detectMarkers(grey)
    found = [] if ids is None else [int(i) for i in np.ravel(ids)]
    return frozenset(n for n in found if n in NUMBERS), [np.reshape(r, (4, 2)) for r in rejected]


def _like_markers(grey: Grey, corners: list[NDArray[np.float32]]) -> int:
    """How many of these squares have a marker's look: one even dark edge on white, dark and light cells within."""
    cv2 = opencv()
    return sum(_like_marker(grey, s) for s in corners if cv2.contourArea(s) >= _LEAST_SIDE_PX**2)


def _like_marker(grey: Grey, corners: NDArray[np.float32]) -> bool:
    cv2 = opencv()
    side = 8 * (CELLS + 2)
    # One cell more on every side: the white of the card around the marker.
    inner = np.array([[8, 8], [side - 8, 8], [side - 8, side - 8], [8, side - 8]], np.float32)
    patch = cv2.warpPerspective(grey, cv2.getPerspectiveTransform(corners, inner), (side, side))
    cells = patch.reshape(CELLS + 2, 8, CELLS + 2, 8)[:, 2:6, :, 2:6].mean((1, 3))
    around = np.concatenate([cells[0], cells[-1], cells[1:-1, 0], cells[1:-1, -1]])
    marker = cells[1:-1, 1:-1]
    edge = np.concatenate([marker[0], marker[-1], marker[1:-1, 0], marker[1:-1, -1]])
    light, dark = float(np.median(around)), float(np.median(edge))
    if light - dark < _LEAST_CONTRAST:
        return False
    middle = (light + dark) / 2
    inside = marker[1:-1, 1:-1] > middle
    even = (edge < middle).mean() >= _EDGE_DARK and (around > middle).mean() >= _EDGE_DARK
    return bool(even and 4 <= inside.sum() <= 21)


@cache
def _dictionary() -> Any:
    aruco = opencv().aruco
    return aruco.getPredefinedDictionary(aruco.DICT_5X5_100)


@cache
def _detector() -> Any:
    aruco = opencv().aruco
    how = aruco.DetectorParameters()
    how.errorCorrectionRate, how.maxErroneousBitsInBorderRate = MISREAD_RATE, EDGE_MISREAD_RATE
    # Smallest marker's outline against the picture's longer side: 20 px a side in a picture 1920 wide.
    how.minMarkerPerimeterRate = 0.03
    how.adaptiveThreshWinSizeMin, how.adaptiveThreshWinSizeMax, how.adaptiveThreshWinSizeStep = 5, 37, 16
    how.adaptiveThreshConstant = 5
    how.perspectiveRemovePixelPerCell = 6
    how.polygonalApproxAccuracyRate = 0.05
    return aruco.ArucoDetector(_dictionary(), how)
