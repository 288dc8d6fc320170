"""The sketches beside each definition: the figure to aim for with the lines that are measured. Drawn once and shipped.

``python -m casebook.demo.sketches`` draws them anew into ``pages/sketches``.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.checkpoints.drawing import Drawing, Label, Point
from casebook.demo.aim import AimFigure, aim_figure
from casebook.pages.aims import ARM, BODY, HEAD, HIPS, LEG, SHOULDERS, Likeness, aim_lines
from casebook.pages.overlay import drawing_data, labels_beside
from casebook.pages.picture import drawn, jpeg, on_ground, side_by_side
from casebook.pages.show_sketch import file_of
from casebook.words import CHECKPOINTS

if TYPE_CHECKING:
    from PIL import Image

SIZE = (1600, 800)
HEIGHT, ASPECT = 360, 1.3
#: Room around the lines, as a share of their longer side.
ROOM = 0.3


@dataclass(frozen=True, slots=True)
class Panel:
    """One picture of a sketch: the view and moment of the figure, the lines on it, and a word at the measured one."""

    view: str
    moment: str
    chain: tuple[str, ...]
    says: str
    room: float = ROOM


_SIDE, _FRONT, _REAR = "side_under", "front_under", "rear_under"
#: The trunk against the level, and each joint's middle under the one before.
TRUNK, MIDDLES = ("shoulder_{s}", "hip_{s}"), ("shoulder", "hip", "ankle")
PANELS: dict[str, tuple[Panel, ...]] = {
    "body_line": (Panel(_SIDE, "long", BODY, "head, hips and heels on one line"),),
    "entry": (
        Panel("side_above", "entry", ARM, "hand ahead of the shoulder", 0.5),
        Panel(_FRONT, "in_front", SHOULDERS, "hand beside the middle", 0.8),
    ),
    "extension": (Panel(_SIDE, "reach", ARM, "slope of the arm at full reach"),),
    "catch": (
        Panel(_SIDE, "halfway", ARM, "elbow above the line", 0.5),
        Panel(_SIDE, "straight_down", ARM, "hand ahead of the shoulder", 0.5),
    ),
    "pull": (
        Panel(_SIDE, "hand_deepest", ARM, "depth of the hand", 0.5),
        Panel(_FRONT, "mid_pull", SHOULDERS, "hand beside the middle", 0.5),
    ),
    "recovery": (Panel(_SIDE, "exit", ARM, "hand leaves by hip to thigh", 0.5),),
    "breathing": (Panel(_SIDE, "breath", HEAD, "the crown stays on the line", 1.2),),
    "roll": (Panel(_FRONT, "mid_pull", SHOULDERS, "shoulders against the level", 0.8),),
    "alignment": (Panel(_FRONT, "in_front", MIDDLES, "middles of shoulders, hips and feet", 1.6),),
    "kick": (
        Panel(_SIDE, "knee_bent", LEG, "bend of the knee", 0.4),
        Panel(_REAR, "feet_widest", HIPS, "spread of the feet", 1.6),
    ),
    "timing": (Panel(_SIDE, "other_enters", ARM, "front hand when the other goes in", 0.5),),
    "rate": (Panel("side_above", "entry", ARM, "one cycle: from here to here again", 0.5),),
}


def sketch(checkpoint: str) -> bytes:
    """The sketch of a checkpoint's definition, JPEG."""
    return jpeg(side_by_side([_panel(panel) for panel in PANELS[checkpoint]], HEIGHT))


def write_all(folder: Path) -> list[Path]:
    """Draw every sketch into a folder; returns the files."""
    folder.mkdir(exist_ok=True)
    out = []
    for checkpoint in CHECKPOINTS:
        path = folder / file_of(checkpoint)
        path.write_bytes(sketch(checkpoint))
        out.append(path)
    return out


def _panel(panel: Panel) -> Image.Image:
    from PIL import Image

    direction = "right" if panel.view.startswith("side") else "toward" if panel.view == _FRONT else "away"
    figure = aim_figure(panel.view, direction, panel.moment, SIZE)
    lines = _lines(panel, figure)
    places = [p for kind in (lines.body, lines.reference, lines.measure) for line in kind for p in line]
    box = _box(places, panel.room)
    scale = HEIGHT / (box[3] - box[1])
    cut = on_ground(Image.fromarray(np.ascontiguousarray(figure.rgba)).crop(box))
    image = cut.resize((round(HEIGHT * ASPECT), HEIGHT), Image.Resampling.LANCZOS)
    return drawn(image, labels_beside(drawing_data(lines, (box[0], box[1]), scale), image.size))


def _lines(panel: Panel, figure: AimFigure) -> Drawing:
    joints = {name: (float(x), float(y)) for name, (x, y) in figure.joints_px.items()}
    if panel.chain is MIDDLES:
        middles = tuple(_middle(joints[f"{n}_l"], joints[f"{n}_r"]) for n in MIDDLES)
        across = tuple((joints[f"{n}_l"], joints[f"{n}_r"]) for n in MIDDLES)
        top, low = min(p[1] for p in middles), max(p[1] for p in middles)
        line = ((middles[0][0], top - 60), (middles[0][0], low + 60))
        return Drawing(across, (line,), (), (Label(line[1], panel.says),))
    made = aim_lines(Likeness(panel.moment, panel.moment, panel.chain), joints, figure.side)
    if panel.moment == "mid_pull" and "level" in panel.says:
        left, right = sorted((joints["shoulder_l"], joints["shoulder_r"]))
        made = Drawing((made.body[0],), (((left[0], left[1]), (right[0], left[1])),))
    if panel.chain is BODY:
        crown, heel = joints["crown"], joints[f"heel_{figure.side}"]
        made = Drawing(made.body, (((heel[0], crown[1]), (crown[0], crown[1])),), (((heel[0], crown[1]), heel),))
    shown = (*made.measure, *made.reference, *made.body)[0]
    return Drawing(made.body, made.reference, made.measure, (Label(_middle(shown[0], shown[-1]), panel.says),))


def _middle(a: Point, b: Point) -> Point:
    return ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)


def _box(places: list[Point], room: float) -> tuple[int, int, int, int]:
    xy = np.array(places)
    low, high = xy.min(0), xy.max(0)
    more = room * float((high - low).max())
    width, height = (high - low) + 2 * more
    height = max(height, width / ASPECT)
    middle = (low + high) / 2
    left, top = middle - np.array([height * ASPECT, height]) / 2
    return round(left), round(top), round(left + height * ASPECT), round(top + height)


if __name__ == "__main__":
    from importlib.resources import files

    for made_file in write_all(Path(str(files("casebook.pages"))) / "sketches"):
        print(made_file.name)
