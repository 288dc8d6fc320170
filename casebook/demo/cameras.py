"""Ready places for the demo camera: one for each view that the casebook teaches with."""

from __future__ import annotations

from casebook.demo.camera import Camera
from casebook.errors import CasebookError

#: view: lens and target against the hips' place at the surface (for a swimmer's right side), focal length as a share of
#: the width. A front camera stands far enough ahead that a hand at full reach, 1.3 m before the hips, stays inside.
_PLACES: dict[str, tuple[tuple[float, float, float], tuple[float, float, float], float]] = {
    "side_under": ((0.15, -3.2, -0.45), (0.15, 0.0, -0.45), 0.98),
    "side_split": ((0.15, -4.1, 0.02), (0.15, 0.0, 0.02), 0.98),
    "side_above": ((0.15, -3.3, 1.40), (0.15, 0.0, -0.20), 1.00),
    "front_under": ((3.6, 0.0, -0.75), (0.6, 0.0, -0.33), 1.05),
    "front_above": ((4.4, 0.0, 0.95), (0.6, 0.0, -0.22), 1.10),
    "rear_under": ((-3.6, 0.0, -0.55), (0.2, 0.0, -0.30), 1.05),
}


def camera_for(
    view: str,
    *,
    speed: float,
    mode: str = "following",
    side: str = "r",
    size: tuple[int, int] = (1280, 720),
    at_s: float = 0.0,
    distance_m: float | None = None,
    roll_deg: float = 0.0,
    tilt_deg: float = 0.0,
    refraction: str = "none",
    zoom: float = 1.0,
) -> Camera:
    """A camera for a swimmer whose hips pass x = speed * time.

    Parameters
    ----------
    view : str
        side_under, side_split, side_above, front_under or front_above.
    speed : float
        Of the swimmer. [m/s]
    mode : str
        ``still``, ``following`` or ``panning``. A still side camera is passed at ``at_s``; a front camera is then
        reached from the front.
    side : str
        On which of the swimmer's sides a side camera stands: from the right (``r``) he swims to the right.
    distance_m : float, optional
        From the swimmer's line for a side camera, ahead of the hips for a front one.
    zoom : float
        Longer (over 1) or shorter focal length.

    Raises
    ------
    CasebookError
        A view that has no place here.
    """
    if view not in _PLACES:
        raise CasebookError(f'The demo has no camera for the view "{view}".', f"Use one of: {', '.join(_PLACES)}.")
    lens, target, focal = _PLACES[view]
    x, y, z = lens
    if distance_m is not None:
        x, y = (x, -distance_m) if view.startswith("side") else (distance_m, y)
    if side == "l":
        y = -y
    passed = speed * at_s
    return Camera(
        view,
        (x + passed, y, z),
        (target[0] + passed, target[1], target[2]),
        focal * zoom * size[0],
        size,
        mode,
        speed,
        at_s,
        roll_deg,
        tilt_deg,
        refraction,
    )
