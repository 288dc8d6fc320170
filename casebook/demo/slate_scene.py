"""A slate held into a rendered picture: turned, tilted, small, blurred, dim, under blue water, partly covered."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from casebook.squad.slate import CARD_MM, LARGE_MM, SMALL_MM, opencv
from casebook.squad.slate_picture import slate_picture

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Picture = NDArray[np.uint8]

#: What blue water leaves of red, green and blue over a few metres. own judgement, no source
BLUE_WATER = (0.18, 0.62, 0.80)
#: Tone of the hand that lies over a slate.
SKIN = (150, 110, 90)


@dataclass(frozen=True, slots=True)
class Held:
    """How a slate is held into a picture.

    Attributes
    ----------
    height : float
        Of the card in the picture, if it faced the camera [px].
    middle : (float, float)
        Of the card, as parts of the picture's width and height.
    turn, tilt, swing : float
        Turned in its plane; leaning back; turned to the side [deg].
    blur_px, noise : float
        Standard deviations of the blur [px] and of the noise (of 255).
    light : float
        1 full daylight; 0.15 dim.
    water : bool
        Seen through blue water.
    covered : float
        Part of the card's height that a hand covers from below.
    thumb : bool
        A thumb lies on the middle of both markers, so that they are seen and cannot be read.
    """

    height: float = 300.0
    middle: tuple[float, float] = (0.5, 0.5)
    turn: float = 0.0
    tilt: float = 0.0
    swing: float = 0.0
    blur_px: float = 0.0
    noise: float = 0.0
    light: float = 1.0
    water: bool = False
    covered: float = 0.0
    thumb: bool = False


def with_slate(picture: Picture, number: int, held: Held, seed: int = 0) -> Picture:
    """The picture with the slate of a number held into it; blur, light and noise are those of the whole picture."""
    return through_lens(_pasted(picture, _card(number, held), held), held, seed)


def through_lens(picture: Picture, held: Held, seed: int = 0) -> Picture:
    """A picture as a camera takes it in this light: blurred, dimmed, with noise."""
    cv2 = opencv()
    seen = picture.astype(np.float32)
    if held.blur_px > 0:
        seen = cv2.GaussianBlur(seen, (0, 0), held.blur_px)
    seen *= held.light
    if held.noise > 0:
        seen += held.noise * np.random.default_rng(seed).standard_normal(seen.shape, np.float32)
    return np.clip(np.rint(seen), 0, 255).astype(np.uint8)


def corners_of(held: Held, size: tuple[int, int]) -> NDArray[np.float32]:
    """The card's corners in a picture of (width, height): (4, 2) from its upper left, clockwise. [px]"""
    wide, high = held.height * CARD_MM[0] / CARD_MM[1], held.height
    flat = np.array([[-wide, -high, 0], [wide, -high, 0], [wide, high, 0], [-wide, high, 0]]) / 2
    turn, tilt, swing = np.deg2rad([held.turn, held.tilt, held.swing])
    about_z = [[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]]
    about_x = [[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]]
    about_y = [[np.cos(swing), 0, np.sin(swing)], [0, 1, 0], [-np.sin(swing), 0, np.cos(swing)]]
    space = flat @ (np.array(about_y) @ np.array(about_x) @ np.array(about_z)).T
    far = 1.6 * size[0]  # The camera's distance in pixels of the picture: an ordinary phone's field.
    flat_again = space[:, :2] * (far / (far + space[:, 2:]))
    return np.asarray(flat_again + np.multiply(held.middle, size), np.float32)


@cache
def _printed(number: int) -> Picture:
    return slate_picture(number)


def _card(number: int, held: Held) -> Picture:
    card = _printed(number).copy()
    if held.covered > 0:
        card[round(len(card) * (1 - held.covered)) :] = SKIN
    if held.thumb:
        scale = len(card) / CARD_MM[1]
        for left, top, side in (LARGE_MM, SMALL_MM):
            edges = [round((at + part * side) * scale) for at in (top, left) for part in (0.3, 0.75)]
            card[edges[0] : edges[1], edges[2] : edges[3]] = SKIN
    if held.water:
        card = np.rint(card * np.array(BLUE_WATER)).astype(np.uint8)
    return card


def _pasted(picture: Picture, card: Picture, held: Held) -> Picture:
    """The card on the picture, made four times larger and shrunk, so that its edges are as soft as a camera's."""
    cv2 = opencv()
    size = (picture.shape[1], picture.shape[0])
    from_card = np.array([[0, 0], [card.shape[1], 0], card.shape[1::-1], [0, card.shape[0]]], np.float32)
    to_picture = corners_of(held, size)
    left, top = np.maximum(np.floor(to_picture.min(0)).astype(int) - 2, 0)
    right, low = np.minimum(np.ceil(to_picture.max(0)).astype(int) + 2, size)
    if right <= left or low <= top:
        return picture
    shape = (int(right - left), int(low - top))
    place = cv2.getPerspectiveTransform(from_card, (to_picture - (left, top)).astype(np.float32) * 4)
    large = (shape[0] * 4, shape[1] * 4)
    drawn = cv2.warpPerspective(card, place, large, flags=cv2.INTER_LINEAR)
    mask = cv2.warpPerspective(np.full(card.shape[:2], 255, np.uint8), place, large)
    drawn, mask = (cv2.resize(each, shape, interpolation=cv2.INTER_AREA) for each in (drawn, mask))
    part = mask[..., None].astype(np.float32) / 255
    out = picture.copy()
    under = out[top:low, left:right].astype(np.float32)
    # Where the mask is partly set, the card's colour is already weakened by the same part.
    out[top:low, left:right] = np.clip(np.rint(under * (1 - part) + drawn), 0, 255).astype(np.uint8)
    return out
