"""Blocks with pictures of the swimmer: whole, close-ups, beside the aim. Files go to the media folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from casebook.checkpoints.drawing import Drawing, Point, Still
from casebook.files import write_atomic
from casebook.pages.aims import ARM as ARM_CHAIN
from casebook.pages.aims import LOOK_AT, Likeness, aim_lines
from casebook.pages.block import Block, media_name
from casebook.pages.moments import link, media, moments, nothing, saved, still_of
from casebook.pages.overlay import drawing_data, labels_beside
from casebook.pages.picture import Box, around, boxes_of_one_size, cut, drawn, jpeg, on_ground, png, side_by_side
from casebook.pages.words_of import LOOK_FOR
from casebook.words import VIEWS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray
    from PIL import Image

    from casebook.case.desk import Desk
    from casebook.pages.telling import Result

WHOLE_WIDTH, CLOSE_WIDTH = 1440, 880
CLOSE_ASPECT = 1.25
#: Room around the lines of a close-up, and of the swimmer beside the aim, as a share of their longer side.
CLOSE_ROOM, PAIR_ROOM = 0.22, 0.32
#: The same for a swimmer seen along the lane, of whom the lines take up little.
ACROSS_ROOM = 0.75


class Aim(Protocol):
    """A figure to aim for: ``rgba`` (H, W, 4) uint8, and its joints by point name [px, pixel centres at integers]."""

    @property
    def rgba(self) -> NDArray[np.uint8]: ...

    @property
    def joints_px(self) -> Mapping[str, Sequence[float]]: ...


def whole(desk: Desk, result: Result, moment: str = "straight_down") -> Block:
    """The whole swimmer at one moment of the stroke spoken of."""
    shown = moments(desk, result)
    still = still_of(shown, moment)
    if still is None:
        return nothing(result)
    frame = desk.shot.clip.frame(still.frame)
    image, scale = cut(frame, (0, 0, frame.shape[1], frame.shape[0]), WHOLE_WIDTH)
    name = media_name(desk.shot.id, "whole", still.key, still.stroke, ending="jpg")
    lines = drawing_data(Drawing(still.drawing.body, still.drawing.reference, still.drawing.measure), (0, 0), scale)
    data = saved(desk, name, image, lines, still, f"The whole swimmer {VIEWS[desk.shot.view]}: {still.title}.")
    data |= {"title": f"The whole swimmer, {_lower(still.title)}"} | link(desk, shown, still)
    return Block("whole", f"The whole swimmer: {still.title}.", {"picture": data}, jpeg(drawn(image, lines)))


def stills(desk: Desk, result: Result) -> Block:
    """Close-ups of the stroke spoken of, all at one scale, in the order in which they happen."""
    shown = moments(desk, result)
    if not shown.stills:
        return nothing(result)
    pictures, images = [], []
    for still, box in zip(shown.stills, close_boxes(desk, shown.stills, CLOSE_ROOM), strict=True):
        data, image = _close(desk, still, box)
        pictures.append(data | {"caption": LOOK_FOR.get(still.key, "")} | link(desk, shown, still))
        images.append(drawn(image, data["drawing"]))
    words = "\n".join(f"{s.title}{_values(s)}" for s in shown.stills)
    return Block("stills", words, {"pictures": pictures}, jpeg(side_by_side(images)))


def pair(
    desk: Desk,
    result: Result,
    aim: Aim,
    moment: str = "straight_down",
) -> Block:
    """You beside the figure to aim for at a moment of the catch, the same size and place.

    Parameters
    ----------
    aim : Aim
        The figure on a transparent ground, seen from the same side and swimming the same way.
    """
    shown = moments(desk, result)
    still = still_of(shown, moment)
    like = Likeness(still.key if still else moment, moment, ARM_CHAIN)
    if still is None or not like.mine(still):
        return nothing(result)
    return beside(desk, still, aim, like, shown.side, link(desk, shown, still))


def beside(desk: Desk, still: Still, aim: Aim, like: Likeness, side: str, linked: Mapping[str, Any]) -> Block:
    """One still of the swimmer beside the figure to aim for, laid over each other as ``like`` says."""
    box = close_boxes(desk, [still], ACROSS_ROOM if like.is_across else PAIR_ROOM)[0]
    you, image = _close(desk, still, box, key=f"you {still.key}")
    you["title"] = ""
    theirs = [_xy(aim.joints_px[name]) for name in like.names(side)]
    figure, scale, origin = _placed(aim.rgba, theirs, like.mine(still), box, image, middle=like.is_across)
    lines = drawing_data(aim_lines(like, aim.joints_px, side), origin, scale)
    name = media_name(desk.shot.id, "aim", still.key, ending="png")
    alt = f"A drawn figure at the same moment, {_lower(still.title)}: the picture to aim for."
    write_atomic(media(desk) / name, png(figure))
    right = {"file": name, "size": list(figure.size), "drawing": lines, "alt": alt, "caption": ""}
    data = {
        "title": "You, and what to aim for",
        "you": you | dict(linked),
        "aim": right,
        "caption": f"The second figure is drawn: same view, moment and size. Look at {LOOK_AT[like.chain]}.",
    }
    both = side_by_side([drawn(image, you["drawing"]), drawn(on_ground(figure), lines)], height=440)
    return Block("pair", f"You and what to aim for, {_lower(still.title)}.", data, jpeg(both))


def close_boxes(desk: Desk, chosen: Sequence[Still], room: float) -> list[tuple[int, int, int, int]]:
    """Boxes of one size around the parts that these stills speak of, (x0, y0, x1, y1) in whole pixels each."""
    wanted = [_part(still, desk.shot.clip.size, room) for still in chosen]
    return boxes_of_one_size(wanted, desk.shot.clip.size, CLOSE_ASPECT)


def _part(still: Still, frame_size: tuple[int, int], room: float) -> Box:
    """What a close-up must show: the lines with room around them."""
    lines = [*still.drawing.body, *still.drawing.reference, *still.drawing.measure]
    if lines:
        return around(lines, room)
    return still.crop or (0.0, 0.0, float(frame_size[0]), float(frame_size[1]))


def _close(
    desk: Desk, still: Still, box: tuple[int, int, int, int], key: str = ""
) -> tuple[dict[str, Any], Image.Image]:
    image, scale = cut(desk.shot.clip.frame(still.frame), box, CLOSE_WIDTH)
    name = media_name(desk.shot.id, key or still.key, still.stroke, ending="jpg")
    lines = labels_beside(drawing_data(still.drawing, (box[0], box[1]), scale), image.size)
    return saved(desk, name, image, lines, still, f"{still.title}{_values(still)}."), image


def _placed(
    rgba: NDArray[np.uint8],
    theirs: Sequence[Point],
    mine: Sequence[Point],
    box: tuple[int, int, int, int],
    image: Image.Image,
    *,
    middle: bool = False,
) -> tuple[Image.Image, float, tuple[float, float]]:
    """The figure scaled by a chain of points and shifted so that both chains begin at one place in the picture.

    ``middle``: laid middle on middle instead.
    """
    from PIL import Image as Pillow

    shrink = image.width / (box[2] - box[0])
    scale = _length(mine) * shrink / _length(theirs)
    my, their = (np.mean(chain, axis=0) if middle else np.asarray(chain[0]) for chain in (mine, theirs))
    at = ((my[0] + 0.5 - box[0]) * shrink, (my[1] + 0.5 - box[1]) * shrink)
    origin = (float(their[0] + 0.5 - at[0] / scale), float(their[1] + 0.5 - at[1] / scale))
    figure = Pillow.fromarray(np.ascontiguousarray(rgba))
    # Scaling first and shifting after keeps edges smooth when the figure is drawn much larger than the swimmer.
    size = max(1, round(figure.width * scale)), max(1, round(figure.height * scale))
    scaled = figure.resize(size, Pillow.Resampling.LANCZOS)
    left, top = origin[0] * size[0] / figure.width, origin[1] * size[1] / figure.height
    corner = (left, top, left + image.width, top + image.height)
    placed = scaled.transform(
        image.size, Pillow.Transform.EXTENT, corner, resample=Pillow.Resampling.BICUBIC, fillcolor=(0, 0, 0, 0)
    )
    return placed, scale, origin


def _xy(point: Sequence[float]) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _length(path: Sequence[Point]) -> float:
    return float(np.linalg.norm(np.diff(np.asarray(path, float), axis=0), axis=1).sum())


def _values(still: Still) -> str:
    return "".join(f" ({label.text})" for label in still.drawing.labels if label.text)


def _lower(title: str) -> str:
    return title[:1].lower() + title[1:].rstrip(".")
