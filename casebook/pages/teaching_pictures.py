"""Pictures and loops of a teaching case, written into a folder under names that say nothing of swimmer or clip."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.drawing import Drawing
from casebook.files import write_atomic
from casebook.pages.block import rounded
from casebook.pages.moments import moments, span
from casebook.pages.overlay import drawing_data, labels, labels_beside
from casebook.pages.picture import Pixels, around, boxes_of_one_size, cut, drawn, jpeg
from casebook.pages.teaching_shape import TeachingLines, TeachingLoop, TeachingNumber, TeachingStill
from casebook.pages.words_of import LOOK_FOR
from casebook.words import CHECKPOINTS, SIDES, VIEWS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.case.desk import Desk
    from casebook.case.overview import Answer
    from casebook.checkpoints.drawing import Still
    from casebook.clip.shot import Shot
    from casebook.pages.moments import Moments

LOOP_WIDTH, STILL_WIDTH = 960, 1440
CLOSE_ASPECT, CLOSE_ROOM = 4 / 3, 0.3
#: A close-up shows at least this share of the width: closer, and only pixels are left on a large screen.
CLOSEST = 0.42
#: A loop at full speed is so long and has so many pictures a second at most; the eye has no use for more. [s], [1/s]
LONGEST_S, PICTURES_PER_S = 5.0, 61.0
#: So many views, and so many stills of all checkpoints together.
VIEWS_SHOWN, STILLS_SHOWN = 2, 6


def full_speed(
    shots: Sequence[str], shown: Sequence[Answer], desk_of: Callable[[str], Desk], media: Path
) -> tuple[TeachingLoop, ...]:
    """The swimmer at full speed, two views at most: those of the pictures first, then others of the case."""
    wanted = list(dict.fromkeys([*(a.desk.shot.id for a in shown), *shots]))
    out: list[TeachingLoop] = []
    for name in wanted:
        desk = desk_of(name)
        if len(out) < VIEWS_SHOWN and desk.shot.view not in {loop.view for loop in out}:
            answer = next((a for a in shown if a.desk.shot.id == name), None)
            out.append(_loop(desk, answer, f"full-{len(out) + 1}", media))
    return tuple(out)


def _loop(desk: Desk, answer: Answer | None, name: str, media: Path) -> TeachingLoop:
    from casebook.clip.loop import encode_loop

    shot = desk.shot
    seen = moments(answer.desk, answer.result) if answer is not None else None
    first, last = span(answer.desk, seen) if answer is not None and seen is not None else (shot.start, shot.stop)
    seconds, known = _times(shot)
    use = _chosen(seconds, (first - shot.start, last - shot.start))
    frames = use + shot.start
    made = encode_loop((shot.clip.frame(int(f)) for f in frames), seconds[use] - seconds[use[0]], width=LOOP_WIDTH)
    scale = made.size[0] / shot.clip.size[0]
    at = (int(np.searchsorted(frames, first)), int(np.searchsorted(frames, last)))
    write_atomic(media / f"{name}.mp4", made.mp4)
    middle = shot.clip.frame(int(frames[(at[0] + at[1]) // 2 if seen is not None else len(frames) // 2]))
    write_atomic(media / f"{name}.jpg", jpeg(cut(middle, _whole(middle), LOOP_WIDTH)[0], 80))
    speed = "" if known else " How much the film is slowed down is not known."
    return TeachingLoop(
        file=f"{name}.mp4",
        poster=f"{name}.jpg",
        caption=f"{VIEWS[shot.view].capitalize()}.{speed}",
        view=shot.view,
        size=made.size,
        times=tuple(rounded(t, 4) for t in made.times_s),
        at_full_speed=known,
        part=at if at[1] > at[0] else (0, len(frames)),
        moments=tuple((int(np.abs(frames - s.frame).argmin()), s.title) for s in (seen.stills if seen else ())),
        lines=tuple(_lines(desk, seen, int(f), scale) for f in frames) if seen is not None else (),
    )


def _times(shot: Shot) -> tuple[NDArray[np.float64], bool]:
    """Times of the shot's frames [s]: the pool's where they are known, else the file's own."""
    real = shot.times[shot.start : shot.stop]
    known = bool(np.isfinite(real).all())
    return (real if known else shot.clip.times[shot.start : shot.stop]), known


def _chosen(seconds: NDArray[np.float64], part: tuple[int, int]) -> NDArray[np.int64]:
    """Pictures of the loop, counted from the shot's first: at most so long and so many a second, around a part."""
    middle = float(seconds[part[0] : part[1]].mean())
    latest = max(float(seconds[-1]) - LONGEST_S, float(seconds[0]))
    begin = min(max(middle - LONGEST_S / 2, float(seconds[0])), latest)
    use = np.flatnonzero((seconds >= begin) & (seconds <= begin + LONGEST_S))
    rate = 1 / max(float(np.median(np.diff(seconds))), 1e-3) if len(seconds) > 1 else 1.0
    return use[:: max(1, int(np.ceil(rate / PICTURES_PER_S)))]


def _lines(desk: Desk, shown: Moments, frame: int, scale: float) -> TeachingLines:
    at = desk.marks.at(frame)
    body = tuple(tuple(at[p] for p in joined if p in at) for joined in shown.chains)
    drawn_on = Drawing(tuple(line for line in body if len(line) > 1))
    return TeachingLines.of(drawing_data(drawn_on, (0, 0), scale))


def pictures(shown: Sequence[Answer], desk_of: Callable[[str], Desk], media: Path) -> tuple[TeachingStill, ...]:
    """The whole swimmer, then close-ups of the first answer; one whole picture of each other answer."""
    out: list[TeachingStill] = []
    for k, answer in enumerate(shown):
        desk, seen = desk_of(answer.desk.shot.id), moments(answer.desk, answer.result)
        lead = next((s for s in seen.stills if s.key == "halfway"), seen.stills[0])
        out.append(_still(desk, answer, seen, lead, None, f"look-{len(out) + 1}", media))
        if k == 0:
            drawn_on = [s for s in seen.stills if s.drawing.body]
            for still, box in zip(drawn_on, _boxes(desk, drawn_on), strict=True):
                if box[2] - box[0] < 0.9 * desk.shot.clip.size[0]:
                    out.append(_still(desk, answer, seen, still, box, f"look-{len(out) + 1}", media))
                elif still is not lead:
                    out.append(_still(desk, answer, seen, still, None, f"look-{len(out) + 1}", media))
    return tuple(out[:STILLS_SHOWN])


def _boxes(desk: Desk, stills: Sequence[Still]) -> list[Pixels]:
    if not stills:
        return []
    size = desk.shot.clip.size
    wanted = [around([*s.drawing.body, *s.drawing.reference, *s.drawing.measure], CLOSE_ROOM) for s in stills]
    least = CLOSEST * size[0] / 2
    wide = [(min(x0, (x0 + x1) / 2 - least), y0, max(x1, (x0 + x1) / 2 + least), y1) for x0, y0, x1, y1 in wanted]
    return boxes_of_one_size(wide, size, CLOSE_ASPECT)


def _still(
    desk: Desk, answer: Answer, seen: Moments, still: Still, box: Pixels | None, name: str, media: Path
) -> TeachingStill:
    frame = desk.shot.clip.frame(still.frame)
    part = box or _whole(frame)
    image, scale = cut(frame, part, STILL_WIDTH)
    data = labels_beside(drawing_data(still.drawing, (part[0], part[1]), scale), image.size)
    lines: dict[str, Any] = {kind: paths for kind, paths in data.items() if kind != "labels"}
    write_atomic(media / f"{name}.jpg", jpeg(image))
    write_atomic(media / f"{name}-lines.jpg", jpeg(drawn(image, lines)))
    side = f"{SIDES[seen.side]} side, " if seen.side in SIDES else ""
    look = LOOK_FOR.get(still.key, "") if answer.checkpoint == "catch" and box is not None else ""
    where = f"{CHECKPOINTS[answer.checkpoint].capitalize()}, {side}{VIEWS[desk.shot.view]}."
    return TeachingStill(
        plain=f"{name}.jpg",
        lined=f"{name}-lines.jpg",
        checkpoint=answer.checkpoint,
        title=still.title,
        caption=f"{where} {look}".strip(),
        size=image.size,
        lines=TeachingLines.of(lines),
        numbers=tuple(TeachingNumber((float(at[0]), float(at[1])), words) for at, words in labels(data) if words),
        is_whole=box is None,
    )


def _whole(frame: NDArray[np.uint8]) -> Pixels:
    return 0, 0, int(frame.shape[1]), int(frame.shape[0])
