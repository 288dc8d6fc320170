"""The loop: one stroke to step through picture by picture, with the arm's lines on every marked picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.drawing import Drawing
from casebook.files import write_atomic
from casebook.pages.block import Block, media_name, rounded
from casebook.pages.moments import Moments, lines_on, loop_name, media, moments, nothing, saved, span, still_of
from casebook.pages.overlay import drawing_data
from casebook.pages.picture import cut, drawn, jpeg, side_by_side
from casebook.pages.show_others import other_strokes
from casebook.words import CHECKPOINTS, SIDES, VIEWS

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL import Image

    from casebook.case.desk import Desk
    from casebook.pages.telling import Result

LOOP_WIDTH, STRIP_WIDTH = 960, 520
FROM_DOWN = "Seconds count from the moment the forearm first points straight down."


def loop(desk: Desk, result: Result) -> Block:
    """The stroke spoken of as a loop to step through, its lines on every marked picture."""
    shown = moments(desk, result)
    if not shown.stills:
        return nothing(result)
    from casebook.clip.loop import encode_loop

    start, stop = span(desk, shown)
    times, known = _times(desk, start, stop)
    made = encode_loop(desk.shot.clip.frames(start, stop), times, width=LOOP_WIDTH)
    scale = made.size[0] / desk.shot.clip.size[0]
    mark = still_of(shown, "straight_down") or shown.stills[-1]
    clock = [rounded(t, 3) for t in times - times[mark.frame - start]]
    strip, images = _strip(desk, shown)
    about = _about(shown)
    data: dict[str, Any] = {
        **_files(desk, loop_name(desk, shown), made.mp4, mark.frame, made.size[0]),
        "title": "Step through the stroke",
        "size": list(made.size),
        "times": [rounded(t, 5) for t in made.times_s],
        "clock": clock if known else [],
        "start": mark.frame - start,
        "shot": desk.shot.id,
        "first": start,
        "stroke": shown.stroke,
        "side": shown.side,
        "moments": [{"at": s.frame - start, "title": s.title} for s in shown.stills if start <= s.frame < stop],
        "lines": [_lines(desk, shown, frame, scale) for frame in range(start, stop)],
        "stills": strip,
        "others": other_strokes(desk, result, shown),
        "alt": f"{about}, {VIEWS[desk.shot.view]}.",
        "caption": FROM_DOWN if known and mark.key == "straight_down" else "",
    }
    lasts = f", {times[-1]:.2f} s" if known else ""
    words = f"{stop - start} pictures{lasts}: {about[:1].lower()}{about[1:]}."
    return Block("loop", words, data, jpeg(side_by_side(images, height=200)))


def _about(shown: Moments) -> str:
    if shown.checkpoint == "catch":
        return f"The {SIDES[shown.side]} arm of one stroke, from reach to pull"
    side = f", {SIDES[shown.side]} side" if shown.side in SIDES else ""
    return f"One stroke{side}, {CHECKPOINTS[shown.checkpoint]}"


def _times(desk: Desk, start: int, stop: int) -> tuple[NDArray[np.float64], bool]:
    """Times of the loop's pictures from its first [s]: the pool's where they are known, else the file's own."""
    real = desk.shot.times[start:stop]
    known = bool(np.isfinite(real).all())
    times = real if known else desk.shot.clip.times[start:stop]
    return times - times[0], known


def _files(desk: Desk, name: str, mp4: bytes, poster_frame: int, width: int) -> dict[str, str]:
    """Keep the loop and the picture that stands for it; returns their names."""
    file, poster = media_name(name, ending="mp4"), media_name(name, "poster", ending="jpg")
    frame = desk.shot.clip.frame(poster_frame)
    write_atomic(media(desk) / file, mp4)
    write_atomic(media(desk) / poster, jpeg(cut(frame, (0, 0, frame.shape[1], frame.shape[0]), width)[0], 80))
    return {"name": name, "file": file, "poster": poster}


def _lines(desk: Desk, shown: Moments, frame: int, scale: float) -> dict[str, Any]:
    return drawing_data(lines_on(desk, shown, frame), (0, 0), scale)


def _strip(desk: Desk, shown: Moments) -> tuple[list[dict[str, Any]], list[Image.Image]]:
    """The whole picture at each moment: what stands on paper, and where scripts are off."""
    pictures, images = [], []
    for still in shown.stills:
        frame = desk.shot.clip.frame(still.frame)
        image, scale = cut(frame, (0, 0, frame.shape[1], frame.shape[0]), STRIP_WIDTH)
        plain = Drawing(still.drawing.body, still.drawing.reference, still.drawing.measure)
        lines = drawing_data(plain, (0, 0), scale)
        name = media_name(desk.shot.id, "strip", still.key, still.stroke, ending="jpg")
        pictures.append(saved(desk, name, image, lines, still, f"{still.title}."))
        images.append(drawn(image, lines))
    return pictures, images
