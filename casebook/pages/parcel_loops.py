"""Short loops for a phone's messages: slowed down, the lines drawn into the picture, a line of words under it.

A message shows a film and runs no script, so speed, lines and words are part of the pictures. Lines stand only where
points are marked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.answers import near_side
from casebook.checkpoints.drawing import Drawing
from casebook.clip.loop import encode_loop
from casebook.errors import ClipError
from casebook.pages.card_picture import CardStill, change_still, good_stills
from casebook.pages.card_sheet import broken
from casebook.pages.moments import Moments, lines_on
from casebook.pages.overlay import drawing_data
from casebook.pages.palette import LIGHT, rgb
from casebook.pages.picture import Box, around, boxes_of_one_size, drawn

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

    from casebook.case.desk import Desk
    from casebook.case.overview import Overview
    from casebook.stroke.strokes import Stroke

#: A loop lasts no longer, and a film in a message is no larger than this. [s], bytes; own judgement, no source
LONGEST_S, MOST_BYTES = 4.0, 1_500_000
SLOWEST = 0.25
#: Around the moment: so much before it, so much after it [s, real time], and how long it stands still. [s]
BEFORE_S, AFTER_S, HOLD_S = 0.5, 0.25, 0.6
#: Where no whole stroke is known: so much around the moment. [s, real time] common practice, no source
STROKE_S = 1.6
WIDTH, MOST_PER_S = 720, 31.0
#: Width over height of a close loop, and the share of its lines' longer side that is left around them.
ASPECT, ROOM = 1.25, 0.3
#: Quality of the film: the best first.
_CRF = (24, 28, 32, 36, 40)
WHOLE = "One whole stroke"
#: What is drawn on a whole stroke, seen from the side: body line and arm of the side spoken of; else: both arms.
_FROM_SIDE = (
    ("shoulder_{s}", "hip_{s}", "knee_{s}", "ankle_{s}"),
    ("shoulder_{s}", "elbow_{s}", "wrist_{s}", "fingertip_{s}"),
)
_ELSE = (
    ("shoulder_l", "shoulder_r"),
    ("shoulder_l", "elbow_l", "wrist_l", "fingertip_l"),
    ("shoulder_r", "elbow_r", "wrist_r", "fingertip_r"),
)
_SPEEDS = ((0.25, "quarter speed"), (1 / 3, "a third of full speed"), (0.5, "half speed"), (1.0, "full speed"))


@dataclass(frozen=True, slots=True)
class PhoneLoop:
    """A loop: what it is (``change``, ``good``, ``stroke``), the words under it, and the film."""

    key: str
    words: str
    mp4: bytes
    seconds: float
    speed: float | None


@dataclass(frozen=True, slots=True)
class _Scene:
    """What a loop shows: frames of a shot, when each begins in the loop, and the drawing of one that stands still."""

    desk: Desk
    shown: Moments
    frames: tuple[int, ...]
    times: NDArray[np.float64]
    speed: float | None
    held: dict[int, Drawing]
    close: bool


def phone_loops(found: Overview, name: str, level: str = "") -> list[PhoneLoop]:
    """Up to three loops: what to change, a good thing, a whole stroke; only of what has a picture.

    Parameters
    ----------
    name : str
        Who is seen, as it stands under the pictures.
    level : str
        Key of ``words.LEVELS``: a fault is told in the words for it.
    """
    one, change, goods = found.plan.first, change_still(found), good_stills(found)
    wanted: list[tuple[str, str, _Scene | None]] = []
    if one is not None and change is not None:
        wanted.append(("change", one.fault.told(level).title, _moment(change)))
    room = 2 - len(wanted)
    wanted += [("good", seen.good.words.rstrip("."), _moment(seen.still)) for seen in goods[:room]]
    # A whole stroke shows from the side, if there is a picture from there.
    shown = [still for still in (change, *(seen.still for seen in goods)) if still is not None]
    whole = min(shown, key=lambda still: not still.desk.shot.view.startswith("side"), default=None)
    if whole is not None:
        wanted.append(("stroke", WHOLE, _whole_stroke(whole)))
    return [_filmed(key, words, name, scene) for key, words, scene in wanted if scene is not None]


def _moment(chosen: CardStill) -> _Scene | None:
    """The moment of a still with what comes before and after it; the moment itself stands a little."""
    desk, still = chosen.desk, chosen.still
    times, known = _clock(desk)
    at = times[still.frame]
    held = {still.frame: Drawing(still.drawing.body, still.drawing.reference, still.drawing.measure)}
    return _scene(chosen, times, known, (at - BEFORE_S, at + AFTER_S), held, close=True)


def _whole_stroke(chosen: CardStill) -> _Scene | None:
    """The whole swimmer through the stroke that a still is of, from entry to entry where both are known."""
    desk = chosen.desk
    times, known = _clock(desk)
    at = times[chosen.still.frame]
    stroke = _stroke_at(desk, chosen.shown.side, float(chosen.still.frame))
    ends = (at - STROKE_S / 2, at + STROKE_S / 2)
    if stroke is not None:
        first, last = (stroke.moment(name).frame for name in ("entry", "next_entry"))  # type: ignore[union-attr]
        ends = (
            float(np.interp(first, np.arange(len(times)), times)),
            float(np.interp(last, np.arange(len(times)), times)),
        )
    return _scene(chosen, times, known, ends, {}, close=False)


def _stroke_at(desk: Desk, side: str, frame: float) -> Stroke | None:
    from casebook.stroke.moment import Moment
    from casebook.stroke.strokes import strokes_of

    for stroke in strokes_of(desk.shot, desk.marks, desk.plane, side or near_side(desk.shot) or "r", desk.events):
        first, last = stroke.moment("entry"), stroke.moment("next_entry")
        if isinstance(first, Moment) and isinstance(last, Moment) and first.frame <= frame <= last.frame:
            return stroke
    return None


def _clock(desk: Desk) -> tuple[NDArray[np.float64], bool]:
    """Time of every frame of the clip: the pool's where the whole shot knows it, else the file's own. [s]"""
    shot = desk.shot
    known = bool(np.isfinite(shot.times[shot.start : shot.stop]).all())
    return (shot.times if known else shot.clip.times), known


def _scene(
    chosen: CardStill,
    times: NDArray[np.float64],
    known: bool,
    ends: tuple[float, float],
    held: dict[int, Drawing],
    *,
    close: bool,
) -> _Scene | None:
    shot = chosen.desk.shot
    inside = np.arange(shot.start, shot.stop)
    inside = inside[(times[inside] >= ends[0] - 1e-9) & (times[inside] <= ends[1] + 1e-9)]
    if len(inside) < 2:
        return None
    real = times[inside] - times[inside[0]]
    speed = max(SLOWEST, float(real[-1]) / (LONGEST_S - HOLD_S * len(held)))
    shown = real / speed
    frames = _thinned(inside, shown, keep=set(held))
    begins = shown[frames - inside[0]]
    for frame in held:
        begins = begins + np.where(frames > frame, HOLD_S, 0.0)
    return _Scene(
        chosen.desk, chosen.shown, tuple(frames.tolist()), begins - begins[0], speed if known else None, held, close
    )


def _thinned(frames: NDArray[np.int64], at: NDArray[np.float64], keep: set[int]) -> NDArray[np.int64]:
    """Every frame, or as many as a phone shows in a second; those to keep are kept."""
    out: list[int] = []
    last = -np.inf
    for frame, t in zip(frames.tolist(), at.tolist(), strict=True):
        if t - last >= 1 / MOST_PER_S:
            out.append(frame)
            last = t
        elif frame in keep:
            out[-1] = frame
            last = t
    return np.array(out, np.int64)


def _filmed(key: str, words: str, name: str, scene: _Scene) -> PhoneLoop:
    """The loop as a film, as good as its size allows."""
    pictures = list(_pictures(scene, words, f"{speed_words(scene.speed)} · {name}"))
    times = [t for t, picture in zip(scene.times, pictures, strict=True) if picture is not None]
    whole = [picture for picture in pictures if picture is not None]
    mp4 = b""
    for crf in _CRF:
        mp4 = encode_loop(whole, times, width=WIDTH, crf=crf).mp4
        if len(mp4) <= MOST_BYTES:
            break
    return PhoneLoop(key, words, mp4, float(times[-1]), scene.speed)


def speed_words(speed: float | None) -> str:
    """How slow a loop is.

    >>> speed_words(0.25), speed_words(0.47), speed_words(None)
    ('quarter speed', 'about half speed', 'slowed down')
    """
    if speed is None:
        return "slowed down"
    near, words = min(_SPEEDS, key=lambda each: abs(np.log(each[0] / speed)))
    return words if abs(near - speed) < 0.01 else f"about {words}"


def _pictures(scene: _Scene, words: str, under: str) -> Iterator[NDArray[np.uint8] | None]:
    """Every picture of a loop with its lines and the words under it; None for a frame that is damaged."""
    from PIL import Image

    drawings = {f: scene.held.get(f) or _lines(scene, f) for f in scene.frames}
    x0, y0, x1, y1 = _part(scene, list(drawings.values()))
    size = (WIDTH, 2 * round(WIDTH * (y1 - y0) / (x1 - x0) / 2))
    strip = np.asarray(_strip(words, under))
    for frame, lines in drawings.items():
        try:
            whole = scene.desk.shot.clip.frame(frame)
        except ClipError:
            yield None
            continue
        cropped = Image.fromarray(np.ascontiguousarray(whole[y0:y1, x0:x1])).resize(size, Image.Resampling.LANCZOS)
        drawing = drawing_data(lines, (x0, y0), size[0] / (x1 - x0))
        yield np.vstack([np.asarray(drawn(cropped, drawing) if drawing else cropped), strip])


def _lines(scene: _Scene, frame: int) -> Drawing:
    if scene.close:
        return lines_on(scene.desk, scene.shown, frame)
    shot, at = scene.desk.shot, scene.desk.marks.at(frame)
    side = scene.shown.side or near_side(shot) or "r"
    chains = _FROM_SIDE if shot.view.startswith("side") else _ELSE
    # Only neighbours are joined: a line past a joint that is not marked would be no limb.
    pairs = (pair for chain in chains for pair in pairwise(name.format(s=side) for name in chain))
    return Drawing(tuple((at[a], at[b]) for a, b in pairs if a in at and b in at))


def _part(scene: _Scene, drawings: Sequence[Drawing]) -> tuple[int, int, int, int]:
    """The part of the frames that a loop shows: all of it, or what its lines need from first to last."""
    size = scene.desk.shot.clip.size
    lines = [line for d in drawings for line in (*d.body, *d.reference, *d.measure)]
    whole: Box = (0.0, 0.0, float(size[0]), float(size[1]))
    if not scene.close or not lines:
        return boxes_of_one_size([whole], size, size[0] / size[1])[0]
    return boxes_of_one_size([around(lines, ROOM)], size, ASPECT)[0]


def _strip(words: str, under: str) -> Image.Image:
    """The words under the pictures, on paper."""
    from PIL import Image, ImageDraw

    title, small = _face("STIXGeneralBol.ttf", 40), _face("DejaVuSans.ttf", 24)
    wide = WIDTH - 2 * 28
    lines = broken(words, wide, title.getlength)[:2]
    height = 2 * round((26 + 46 * len(lines) + 44) / 2)
    strip = Image.new("RGB", (WIDTH, height), rgb(LIGHT.paper))
    pen = ImageDraw.Draw(strip)
    for k, line in enumerate(lines):
        pen.text((28, 16 + 46 * k), line, font=title, fill=rgb(LIGHT.ink))
    pen.text((28, 22 + 46 * len(lines)), under, font=small, fill=rgb(LIGHT.soft))
    return strip


def _face(file: str, size: int) -> Any:
    """One of the fonts that the chart library carries."""
    from pathlib import Path

    import matplotlib
    from PIL import ImageFont

    return ImageFont.truetype(str(Path(matplotlib.get_data_path()) / "fonts/ttf" / file), size)
