"""Joint angles as the skeleton has them, at the instants that a view defines, and how far limbs leave its plane.

This module shares nothing with the code that measures a clip.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.demo.events import positions
from casebook.demo.turning import angle_between_deg

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.demo.swimmer import Swimmer

    Array: TypeAlias = NDArray[np.float64]

SPACE = ("elbow_angle_45_space_deg", "elbow_angle_under_space_deg", "wrist_angle_45_space_deg")
OUT = ("upper_arm_out_45_deg", "forearm_out_45_deg", "upper_arm_out_under_deg", "forearm_out_under_deg")
_WHEN = {"45": "forearm_45", "under": "under_shoulder"}


def space_truth(swimmer: Swimmer, side: str, instants: dict[str, Array]) -> dict[str, Array]:
    """Angles in space at a view's own instants.

    Parameters
    ----------
    swimmer : Swimmer
    side : str
    instants : dict
        ``plane_truth.INSTANTS`` -> (K,) [s], as the view has them.

    Returns
    -------
    dict
        ``SPACE`` -> (K,) [deg], 180 straight; ``OUT`` -> (K,) [deg]: from the joint's proximal end, positive away from
        the body's midline, negative toward it.
    """
    s = 1.0 if side == "l" else -1.0
    out: dict[str, Array] = {}
    for key, name in _WHEN.items():
        arm = positions(swimmer, side, instants[name])
        upper, fore = arm["elbow"] - arm["shoulder"], arm["wrist"] - arm["elbow"]
        out[f"elbow_angle_{key}_space_deg"] = 180.0 - angle_between_deg(upper, fore)
        for limb, way in (("upper_arm", upper), ("forearm", fore)):
            aside = s * way[..., 1] / np.linalg.norm(way, axis=-1)
            out[f"{limb}_out_{key}_deg"] = np.degrees(np.arcsin(aside))
        if key == "45":
            hand = arm["fingertip"] - arm["wrist"]
            out["wrist_angle_45_space_deg"] = 180.0 - angle_between_deg(fore, hand)
    return out
