"""casebook: from a clip of a freestyle swimmer to a measured, honest, shareable analysis.

The names below are the door; each is loaded when first used, so that ``import casebook`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

__version__ = "0.1.0"

_DOOR = {
    "CasebookError": "casebook.errors",
    "Clip": "casebook.clip.clip",
    "Shot": "casebook.clip.shot",
    "Swim": "casebook.clip.shot",
    "Marks": "casebook.marks.marks",
    "Plane": "casebook.plane.plane",
    "Measured": "casebook.plane.measured",
    "Finding": "casebook.checkpoints.finding",
    "NotMeasured": "casebook.checkpoints.finding",
    "Case": "casebook.case.case",
    "FrameMarker": "casebook.widgets.frame_marker",
    "marker": "casebook.widgets.on_desk",
    "aim_for": "casebook.demo.desk",
    "aim_for_first": "casebook.demo.desk",
    "open_case": "casebook.demo.desk",
    "open_desk": "casebook.demo.desk",
    "overview": "casebook.case.overview",
}
__all__ = [
    "Case",
    "CasebookError",
    "Clip",
    "Finding",
    "FrameMarker",
    "Marks",
    "Measured",
    "NotMeasured",
    "Plane",
    "Shot",
    "Swim",
    "__version__",
    "aim_for",
    "aim_for_first",
    "marker",
    "open_case",
    "open_desk",
    "overview",
    "show",
]

if TYPE_CHECKING:
    from casebook.case.case import Case
    from casebook.case.overview import overview
    from casebook.checkpoints.finding import Finding, NotMeasured
    from casebook.clip.clip import Clip
    from casebook.clip.shot import Shot, Swim
    from casebook.demo.desk import aim_for, aim_for_first, open_case, open_desk
    from casebook.errors import CasebookError
    from casebook.marks.marks import Marks
    from casebook.pages import show
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane
    from casebook.widgets.frame_marker import FrameMarker
    from casebook.widgets.on_desk import marker


def __getattr__(name: str) -> object:
    if name in _DOOR:
        return getattr(import_module(_DOOR[name]), name)
    if name == "show":
        return import_module("casebook.pages.show")
    raise AttributeError(f"module 'casebook' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
