"""Further rendered clips with truth, for the table of drafts: views, water and swimmers that do not ship."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from casebook.demo.cameras import camera_for
from casebook.demo.cast import CAST
from casebook.demo.clips import encoded
from casebook.demo.render import frames
from casebook.demo.scene import LOOKS, Scene
from casebook.demo.truth import make_truth
from casebook.demo.truth_files import write_truth
from casebook.demo.wardrobe import WARDROBE
from casebook.files import write_atomic

SIZE, FPS, FRAMES = (960, 540), 30, 75


@dataclass(frozen=True)
class MoreClip:
    """Two and a half seconds of one swimmer, the camera moving along."""

    name: str
    view: str
    look: str = "easy"
    side: str = "r"
    distance_m: float | None = None
    refraction: str = "none"
    zoom: float = 1.0

    @property
    def scene(self) -> Scene:
        alias = self.name.partition("_")[0]
        swimmer = CAST[alias].swimmer
        camera = camera_for(
            self.view, speed=swimmer.speed, side=self.side, size=SIZE, distance_m=self.distance_m,
            refraction=self.refraction, zoom=self.zoom,
        )  # fmt: skip
        return Scene(swimmer, camera, WARDROBE[alias], LOOKS[self.look], FPS, swimmer.seed)

    def make(self, folder: Path) -> Path:
        """Render it into a folder unless it is there; returns the folder."""
        target = folder / f"{self.name}.mp4"
        if not target.is_file():
            times, scene = np.arange(FRAMES) / FPS, self.scene
            write_truth(folder, make_truth(self.name, scene.swimmer, scene.camera, times))
            write_atomic(target, encoded(frames(scene, times), FPS, SIZE))
        return folder


#: Ways of looking, limits and stated errors were found on other clips.
MORE = (
    MoreClip("alder_sidehard", "side_under", "hard", distance_m=4.6),
    MoreClip("wren_split", "side_split", side="l", refraction="port", zoom=0.92),
    MoreClip("alder_splithard", "side_split", "hard", refraction="port", zoom=0.92),
    MoreClip("alder_above", "side_above", refraction="surface"),
    MoreClip("wren_abovehard", "side_above", "hard", side="l", refraction="surface"),
    MoreClip("wren_front", "front_under"),
    MoreClip("alder_fronthard", "front_under", "hard"),
)
