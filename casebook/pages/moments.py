"""The stroke that a page shows: its stills in order, the stretch of its loop, and where its pictures are kept."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from casebook.checkpoints.drawing import Drawing, Still
from casebook.files import write_atomic
from casebook.pages.block import Block
from casebook.pages.picture import jpeg
from casebook.pages.telling import arm_spoken_of, findings, stroke_spoken_of

if TYPE_CHECKING:
    from PIL import Image

    from casebook.case.desk import Desk
    from casebook.pages.telling import Result

#: The arm as it is drawn.
ARM = ("shoulder", "elbow", "wrist", "fingertip")
#: What is drawn of the body while a loop is stepped through: chains of points, {s} the side spoken of, {o} the other.
CHAINS: dict[str, tuple[tuple[str, ...], ...]] = {
    "body_line": (("ear_{s}", "shoulder_{s}", "hip_{s}", "knee_{s}", "ankle_{s}"),),
    "kick": (("shoulder_{s}", "hip_{s}", "knee_{s}", "ankle_{s}"), ("heel_{s}", "toe_{s}")),
    "breathing": (("crown", "mouth"), tuple(f"{p}_{{o}}" for p in ARM)),
    "roll": (("shoulder_l", "shoulder_r"), ("hip_l", "hip_r")),
    "alignment": (("shoulder_l", "shoulder_r"), ("hip_l", "hip_r"), ("ankle_l", "ankle_r")),
    "timing": (tuple(f"{p}_l" for p in ARM), tuple(f"{p}_r" for p in ARM)),
    "rate": (tuple(f"{p}_l" for p in ARM), tuple(f"{p}_r" for p in ARM)),
}
#: The loop starts this long before full reach and ends this long after the last moment. [s] common practice, no source
BEFORE_S, AFTER_S = 0.45, 0.35


@dataclass(frozen=True, slots=True)
class Moments:
    """The stroke that a page shows, its side, and its stills in the order in which they happen."""

    checkpoint: str
    side: str
    stroke: int
    stills: tuple[Still, ...]

    @property
    def chains(self) -> tuple[tuple[str, ...], ...]:
        """Names of the points that are joined on every picture of the loop."""
        chains = CHAINS.get(self.checkpoint, (tuple(f"{p}_{{s}}" for p in ARM),))
        other = "l" if self.side == "r" else "r"
        return tuple(tuple(p.format(s=self.side or "r", o=other) for p in chain) for chain in chains)


def moments(desk: Desk, result: Result) -> Moments:
    """The stroke that stands for the others of the arm spoken of."""
    side, stroke_class = arm_spoken_of(result, desk.shot)
    stroke = stroke_spoken_of(result, side, stroke_class)
    mine = [s for s in result.stills if s.stroke == stroke and s.side in ("", side)]
    return Moments(result.checkpoint, side, stroke, tuple(sorted(mine, key=lambda s: (s.frame, s.key))))


def still_of(shown: Moments, key: str) -> Still | None:
    """The still of a moment; the last one if that moment has none; None without any still."""
    return next((s for s in shown.stills if s.key == key), shown.stills[-1] if shown.stills else None)


def span(desk: Desk, shown: Moments) -> tuple[int, int]:
    """First frame of the loop and the frame after its last, inside the shot."""
    shot = desk.shot
    times = shot.times if np.isfinite(shot.times).all() else shot.clip.times
    first, last = min(s.frame for s in shown.stills), max(s.frame for s in shown.stills)
    start = int(np.searchsorted(times, times[first] - BEFORE_S))
    stop = int(np.searchsorted(times, times[last] + AFTER_S)) + 1
    return max(shot.start, start), min(shot.stop, stop)


def lines_on(desk: Desk, shown: Moments, frame: int) -> Drawing:
    """What is drawn on one picture of the loop: the body as marked there; nothing where nothing is marked."""
    at = desk.marks.at(frame)
    body = tuple(tuple(at[p] for p in chain if p in at) for chain in shown.chains)
    body = tuple(chain for chain in body if len(chain) > 1)
    # The straight line from shoulder to fingertips is what the catch is judged by.
    is_arm = shown.checkpoint == "catch" and body and len(body[0]) == len(shown.chains[0])
    return Drawing(body, ((body[0][0], body[0][-1]),) if is_arm else ())


def link(desk: Desk, shown: Moments, still: Still) -> dict[str, Any]:
    """Where a still is found in the loop."""
    start, stop = span(desk, shown)
    return {"loop": loop_name(desk, shown), "at": int(still.frame - start)} if start <= still.frame < stop else {}


def loop_name(desk: Desk, shown: Moments) -> str:
    """Name of the loop, the same in its block and in the links to it."""
    return f"{desk.shot.id}-{shown.checkpoint}-{shown.stroke}"


def saved(desk: Desk, name: str, image: Image.Image, lines: dict[str, Any], still: Still, alt: str) -> dict[str, Any]:
    """Keep a picture in the media folder; returns its dict for a block."""
    write_atomic(media(desk) / name, jpeg(image))
    return {
        "file": name,
        "size": list(image.size),
        "title": still.title,
        "caption": "",
        "alt": alt,
        "drawing": lines,
        "shot": desk.shot.id,
        "side": still.side,
        "frame": int(still.frame),
        "stroke": int(still.stroke),
    }


def media(desk: Desk) -> Path:
    """Folder of the pictures and loops of a case."""
    return desk.out / "media"


def nothing(result: Result) -> Block:
    """What stands in the place of a picture that cannot be made: words for the coach, and nothing on the page where
    there are numbers all the same."""
    if findings(result):
        words = "No picture goes with these numbers."
        return Block("prose", words, {"title": "", "paragraphs": [], "items": []})
    words = "No picture yet: no stroke is marked."
    return Block("prose", words, {"title": "", "paragraphs": [words], "items": []})
