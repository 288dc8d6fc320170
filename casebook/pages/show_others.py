"""The strokes that a page's numbers speak of beside the one it shows large: a small picture of each moment."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from casebook.pages.block import media_name
from casebook.pages.moments import saved
from casebook.pages.overlay import drawing_data, labels_beside
from casebook.pages.picture import cut
from casebook.pages.show_pictures import CLOSE_ROOM, close_boxes
from casebook.pages.telling import arm_spoken_of, findings, sides_spoken_of

if TYPE_CHECKING:
    from casebook.case.desk import Desk
    from casebook.checkpoints.drawing import Still
    from casebook.pages.moments import Moments
    from casebook.pages.telling import Result

WIDTH = 440
#: More small pictures than this are a film, not a comparison.
MOST = 24


def other_strokes(desk: Desk, result: Result, shown: Moments) -> list[dict[str, Any]]:
    """Pictures of the strokes of the class spoken of that ``shown`` does not hold, in order; as many as ``MOST``."""
    spoken = arm_spoken_of(result, desk.shot)[1]
    sides = (*sides_spoken_of(result, desk.shot), "")
    read = {(f.side, s.stroke) for f in findings(result) if f.stroke_class == spoken for s in f.strokes if not s.shot}
    own = {(s.key, s.frame) for s in shown.stills}

    def is_other(s: Still) -> bool:
        is_read = any(n == s.stroke and (side == s.side or "" in (side, s.side)) for side, n in read)
        return is_read and s.side in sides and (s.key, s.frame) not in own

    in_order = sorted(result.stills, key=lambda s: (s.stroke, s.side, s.frame, s.key))
    chosen = [s for s in in_order if is_other(s)][:MOST]
    if not chosen:
        return []
    return [
        _picture(desk, still, box) for still, box in zip(chosen, close_boxes(desk, chosen, CLOSE_ROOM), strict=True)
    ]


def _picture(desk: Desk, still: Still, box: tuple[int, int, int, int]) -> dict[str, Any]:
    image, scale = cut(desk.shot.clip.frame(still.frame), box, WIDTH)
    lines = labels_beside(drawing_data(still.drawing, (box[0], box[1]), scale), image.size)
    name = media_name(desk.shot.id, "stroke", still.key, still.side, still.stroke, still.frame, ending="jpg")
    values = ", ".join(label.text for label in still.drawing.labels if label.text)
    alt = f"Stroke {still.stroke}: {still.title}{f' ({values})' if values else ''}."
    return saved(desk, name, image, lines, still, alt)
