"""The demo clips that ship with casebook: who swims, seen how, for how long."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.demo.cameras import camera_for
from casebook.demo.cast import CAST
from casebook.demo.scene import LOOKS, Scene
from casebook.demo.truth import ClipTruth, make_truth
from casebook.demo.wardrobe import WARDROBE

if TYPE_CHECKING:
    from numpy.typing import NDArray

SIZE = (960, 540)


@dataclass(frozen=True, slots=True)
class ClipPlan:
    """One demo clip.

    Attributes
    ----------
    name : str
        Of its files; begins with the swimmer's alias.
    view : str
        Key of ``words.VIEWS``.
    seconds, fps : float
    mode : str
        Of the camera: following, still or panning.
    look : str
        Key of ``scene.LOOKS``.
    side : str
        On which side of the swimmer a side camera stands.
    distance_m : float, optional
        Of the camera, where the view's own does not serve.
    zoom : float
    refraction : str
        As for the camera.
    """

    name: str
    view: str
    seconds: float
    fps: int
    mode: str = "following"
    look: str = "easy"
    side: str = "r"
    distance_m: float | None = None
    zoom: float = 1.0
    refraction: str = "none"

    @property
    def alias(self) -> str:
        """Who swims."""
        return self.name.partition("_")[0]

    @property
    def times(self) -> NDArray[np.float64]:
        """When its frames are taken, (N,) [s]."""
        return np.arange(round(self.seconds * self.fps)) / self.fps

    @property
    def scene(self) -> Scene:
        """What its frames show."""
        swimmer = CAST[self.alias].swimmer
        camera = camera_for(
            self.view,
            speed=swimmer.speed,
            mode=self.mode,
            side=self.side,
            size=SIZE,
            at_s=0.0 if self.mode == "following" else self.seconds / 2,
            distance_m=self.distance_m,
            refraction=self.refraction,
            zoom=self.zoom,
        )
        return Scene(swimmer, camera, WARDROBE[self.alias], LOOKS[self.look], self.fps, swimmer.seed)

    @property
    def truth(self) -> ClipTruth:
        """What is known about it."""
        scene = self.scene
        return make_truth(self.name, scene.swimmer, scene.camera, self.times)


PLANS: dict[str, ClipPlan] = {
    plan.name: plan
    for plan in (
        ClipPlan("rowan_side", "side_under", 8, 60),
        ClipPlan("rowan_pass", "side_under", 3, 60, mode="still", distance_m=4.2),
        ClipPlan("heron_side", "side_under", 4, 60, side="l", distance_m=3.3),
        ClipPlan("wren_side", "side_under", 4, 60, distance_m=3.1),
        ClipPlan("rowan_front", "front_under", 4, 30),
        ClipPlan("rowan_split", "side_split", 3, 30, zoom=0.92, refraction="port"),
        ClipPlan("rowan_above", "side_above", 3, 30, refraction="surface"),
        ClipPlan("heron_hard", "side_under", 3, 30, look="hard", side="l", distance_m=5.4),
        ClipPlan("rowan_pan", "side_under", 3, 30, mode="panning", distance_m=3.8),
        ClipPlan("heron_front", "front_under", 4, 30),
        ClipPlan("alder_side", "side_under", 4, 30, distance_m=3.3),
        ClipPlan("alder_rear", "rear_under", 5, 30),
        ClipPlan("wren_front", "front_under", 3, 30),
    )
}
