"""From a stored picture to the picture as shown: RGB, one field of an interlaced pair, square pixels, upright."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

_MATRICES = {1: "ITU709", 4: "FCC", 5: "ITU601", 6: "ITU601", 7: "SMPTE240M", 9: "BT2020", 10: "BT2020"}
_FULL_RANGE = 2
_BOTTOM_FIRST = (3, 4)  # Field orders "bb" and "tb", named by coded and shown first field.
_ODDEST_PIXEL = 4  # Pixels narrower or wider than this are a wrong entry in the file.


@dataclass(frozen=True, slots=True)
class Shape:
    """How stored pictures become shown ones.

    ``coded`` (width, height) [px] as stored; ``square`` (width, height) [px] with square pixels, before turning;
    ``turn``: clockwise degrees 0, 90, 180, 270; ``mirrored``: left and right swapped before the turn;
    ``bottom_first``: of two interlaced fields the lower one was filmed first.
    """

    coded: tuple[int, int]
    square: tuple[int, int]
    turn: int = 0
    mirrored: bool = False
    bottom_first: bool = False

    @property
    def shown(self) -> tuple[int, int]:
        """(width, height) as shown [px]."""
        return self.square if self.turn % 180 == 0 else (self.square[1], self.square[0])


def shape_of(frame: Any, pixel_aspect: Fraction | None, field_order: int) -> Shape:
    """The shape of a clip from its first picture.

    A pixel aspect other than 1 stretches the shorter side of the pixel, so that nothing stored is thrown away.
    """
    width, height = frame.width, frame.height
    aspect = pixel_aspect if pixel_aspect and 1 <= _ODDEST_PIXEL * pixel_aspect <= _ODDEST_PIXEL**2 else Fraction(1)
    square = (round(width * max(aspect, 1)), round(height * max(1 / aspect, 1)))
    turn, mirrored = _turn(frame)
    return Shape((width, height), square, turn, mirrored, field_order in _BOTTOM_FIRST)


def rgb(frame: Any, shape: Shape) -> NDArray[np.uint8]:
    """The picture as shown, (H, W, 3) uint8, read-only."""
    image = _one_field(frame, shape) if frame.interlaced_frame else _converted(frame, *shape.square)
    if shape.mirrored:
        image = image[:, ::-1]
    image = np.ascontiguousarray(np.rot90(image, -(shape.turn // 90)))
    image.flags.writeable = False
    return image


def _converted(frame: Any, width: int, height: int) -> NDArray[np.uint8]:
    from av.video.reformatter import Interpolation

    matrix, full = colours_of(frame)
    converted = frame.reformat(
        width=width,
        height=height,
        format="rgb24",
        src_colorspace=matrix,
        src_color_range="JPEG" if full else "MPEG",
        dst_color_range="JPEG",
        interpolation=Interpolation.BILINEAR | Interpolation.ACCURATE_RND | Interpolation.FULL_CHR_H_INT,
        threads=1,
    )
    return np.asarray(converted.to_ndarray())


def colours_of(frame: Any) -> tuple[str, bool]:
    """Colour matrix, and whether the full range of values is used.

    A file that names no matrix is taken as players take it: high definition as BT.709, smaller as BT.601
    (common practice, no source).
    """
    guess = "ITU709" if frame.height >= 720 or frame.width >= 1280 else "ITU601"
    full = frame.color_range == _FULL_RANGE or (frame.color_range == 0 and frame.format.name.startswith("yuvj"))
    return _MATRICES.get(int(frame.colorspace), guess), full


def _one_field(frame: Any, shape: Shape) -> NDArray[np.uint8]:
    """The field filmed first, with the lines between filled by the mean of their neighbours."""
    lower = int(shape.bottom_first)
    field = _converted(_field_of(frame, lower), shape.coded[0], (shape.coded[1] + 1 - lower) // 2)
    following = np.concatenate([field[1:], field[-1:]]) if not lower else field
    leading = field if not lower else np.concatenate([field[:1], field[:-1]])
    between = ((leading.astype(np.uint16) + following + 1) >> 1).astype(np.uint8)
    image = np.empty((shape.coded[1], *field.shape[1:]), np.uint8)
    image[lower::2] = field[: len(image[lower::2])]
    image[1 - lower :: 2] = between[: len(image[1 - lower :: 2])]
    if shape.square == shape.coded:
        return image
    import av

    return np.asarray(av.VideoFrame.from_ndarray(image).reformat(*shape.square, interpolation="BILINEAR").to_ndarray())


def _field_of(frame: Any, lower: int) -> Any:
    """Every second line of each plane as a picture of its own. Colour is stored by field as well."""
    import av

    field = av.VideoFrame(frame.width, (frame.height + 1 - lower) // 2, frame.format.name)
    for source, target in zip(frame.planes, field.planes, strict=True):
        lines = np.frombuffer(source, np.uint8).reshape(-1, source.line_size)[: source.height][lower::2]
        used = min(source.line_size, target.line_size)
        filled = np.zeros((target.height, target.line_size), np.uint8)
        filled[: len(lines), :used] = lines[: target.height, :used]
        filled[len(lines) :] = filled[len(lines) - 1]
        target.update(filled.tobytes())
    field.colorspace, field.color_range = frame.colorspace, frame.color_range
    return field


def _turn(frame: Any) -> tuple[int, bool]:
    """Clockwise turn and mirroring from the display matrix (ISO/IEC 14496-12, 6.2.2), to the nearest quarter turn."""
    data = frame.side_data.get("DISPLAYMATRIX")
    if data is None:
        return 0, False
    a, b, _, c, d = np.frombuffer(bytes(data), "<i4")[:5].astype(float)
    mirrored = a * d - b * c < 0
    if mirrored:
        a, b = -a, -b
    return round(np.degrees(np.arctan2(b, a)) / 90) % 4 * 90, bool(mirrored)
