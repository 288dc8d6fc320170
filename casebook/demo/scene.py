"""A scene: who swims, in what, seen by which camera, in what water."""

from __future__ import annotations

from dataclasses import dataclass, field

from casebook.demo.camera import Camera
from casebook.demo.paint import Kit
from casebook.demo.swimmer import Swimmer


@dataclass(frozen=True, slots=True)
class Look:
    """How clear the picture is.

    Attributes
    ----------
    murk : float
        Share of light lost to the glow of the water, per metre for small ways.
    mirror : float
        Strength of the swimmer's image in the underside of the surface, 0 to 1.
    grain : float
        Standard deviation of the sensor's noise, as a share of white.
    samples : int
        Instants within the open shutter, each at another place within the pixel.
    shutter : float
        Share of the time between frames that the shutter is open.
    """

    murk: float = 0.13
    mirror: float = 0.12
    grain: float = 0.005
    samples: int = 2
    shutter: float = 0.2


#: Clear water; and murky water with a strong mirror image and more noise, for a small body far away.
LOOKS: dict[str, Look] = {"easy": Look(), "hard": Look(murk=0.34, mirror=0.55, grain=0.014)}


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that decides a picture, but its time. ``seed`` is that of bubbles and grain."""

    swimmer: Swimmer
    camera: Camera
    kit: Kit = field(default_factory=Kit)
    look: Look = field(default_factory=Look)
    fps: float = 60.0
    seed: int = 0

    @property
    def under(self) -> bool:
        """Whether the camera is under water."""
        return self.camera.view.endswith("under")

    @property
    def split(self) -> bool:
        """Whether the camera is at the water line."""
        return self.camera.view == "side_split"
