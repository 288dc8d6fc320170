"""First drafts of points from a pose model: an aid to the coach's hand, never its judge.

The model knows ordinary people on land. What it draws is a draft of the lowest rank: it never overwrites a mark of the
coach, and it has no crown, goggle, neck base or fingertip. Its points are near the joint centres and not on them.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError, MarksError
from casebook.marks.landmarker import N_LANDMARKS, Landmarker
from casebook.marks.marks import Marks, Origin
from casebook.marks.model import find_model
from casebook.marks.points import mirrored

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.shot import Shot

#: For each of our points, the model's landmarks whose mean it is, by the model's own numbers. The knuckle is the middle
#: between the knuckles of index and little finger, the toe the model's tip of the foot.
LANDMARKS: dict[str, tuple[int, ...]] = {
    "mouth": (9, 10),
    "ear_l": (7,), "ear_r": (8,),
    "shoulder_l": (11,), "shoulder_r": (12,),
    "elbow_l": (13,), "elbow_r": (14,),
    "wrist_l": (15,), "wrist_r": (16,),
    "knuckle_l": (17, 19), "knuckle_r": (18, 20),
    "hip_l": (23,), "hip_r": (24,),
    "knee_l": (25,), "knee_r": (26,),
    "ankle_l": (27,), "ankle_r": (28,),
    "heel_l": (29,), "heel_r": (30,),
    "toe_l": (31,), "toe_r": (32,),
}  # fmt: skip

#: Error of a drafted point per coordinate, as a share of the swimmer's stature in the picture. Measured on rendered
#: swimmers whose true joints are known: median distance 2.0 to 2.8 % of stature from the side under water, 2.2 % from
#: the side at the water line, 3.4 % from the side above; a median distance is 1.18 standard deviations. An invented
#: figure is easier than a real pool, and one limb taken for the other is in no such number: look before you confirm.
SIGMA_OF_STATURE = {"side_under": 0.02, "side_split": 0.022, "side_above": 0.034}
#: From below and above, where nothing was measured: twice the worst of these. common practice, no source
SIGMA_UNMEASURED = 0.068
#: No drafted point is trusted better than this. common practice, no source [px]
LEAST_SIGMA_PX = 6.0
#: Shoulder to ankle as a share of stature (Drillis and Contini 1966, as handbooks print it; from memory).
SHOULDER_TO_ANKLE = 0.818 - 0.039
#: Points that the model itself holds for less likely in sight than this are left out. common practice, no source
LEAST_VISIBILITY = 0.3


def draft(
    shot: Shot,
    frames: ArrayLike | None = None,
    box: tuple[float, float, float, float] | None = None,
    model: Path | str | None = None,
) -> Marks:
    """Draft the points of a shot with the pose model.

    Parameters
    ----------
    shot : Shot
        The swimmer crosses the picture, to the left or right; the model sees it turned, head up. Head-on the model drew
        a body that was not there (median distance a quarter of the swimmer's height in the picture), so it is refused.
    frames : (F,) int array, optional
        Frames to draft; all of the shot if not given. Each is drafted by itself: no frame's answer hangs on another's.
    box : (x0, y0, x1, y1), optional
        Part of the picture that holds the swimmer on all these frames; worth giving where the swimmer is small. [px]
    model : Path or str, optional
        A .task file; else the one that ``model.find_model`` finds.

    Returns
    -------
    Marks
        Origin ``drafted``, the points of ``LANDMARKS``, one row per frame. NaN where the model found no swimmer, found
        one lying feet first, or does not hold a point to be in sight.

    Raises
    ------
    CasebookError
        The view is head-on, the model or its library is missing, a frame is outside the shot, or the box outside the
        picture.
    """
    from tqdm import tqdm

    if not shot.sign:
        raise CasebookError(
            f'Shot "{shot.id}" shows the swimmer head-on, where the pose model is no help.', "Mark it by hand."
        )

    wanted = shot.frames if frames is None else np.unique(np.asarray(frames, np.int64))
    outside = wanted[(wanted < shot.start) | (wanted >= shot.stop)]
    if len(outside):
        raise MarksError(
            f'Frame {outside[0]} is not in shot "{shot.id}", which has frames {shot.start} to {shot.stop - 1}.',
            "Draft frames of the shot.",
        )
    x0, y0, x1, y1 = window(box, shot.clip.size)
    seen = np.full((len(wanted), N_LANDMARKS, 3), np.nan)
    with Landmarker(find_model(model)) as landmarker:
        for row, frame in enumerate(tqdm(wanted.tolist(), desc="drafting", unit="frame")):
            seen[row] = landmarker.see(turned(shot.clip.frame(frame)[y0:y1, x0:x1], shot.sign))
    xy = turned_back(seen[..., :2], (x1 - x0, y1 - y0), shot.sign) + np.array([x0, y0])
    return marks_of(shot, wanted, xy, seen[..., 2])


def marks_of(shot: Shot, frames: NDArray[np.int64], xy: NDArray[np.float64], visibility: NDArray[np.float64]) -> Marks:
    """Landmarks (F, 33, 2) [px of the picture] and their visibility (F, 33) as drafted marks of our points."""
    names = tuple(LANDMARKS)
    places = np.stack([xy[:, list(i)].mean(1) for i in LANDMARKS.values()], 1)
    in_sight = np.stack([visibility[:, list(i)].min(1) for i in LANDMARKS.values()], 1) >= LEAST_VISIBILITY
    shoulders, ankles = xy[:, 11:13].mean(1), xy[:, 27:29].mean(1)
    feet_first = (shoulders - ankles)[:, 0] * shot.sign < 0
    places[~in_sight | feet_first[:, None]] = np.nan
    if shot.mirrored:
        names = tuple(mirrored(name) for name in names)
    share = SIGMA_OF_STATURE.get(shot.view, SIGMA_UNMEASURED)
    sigma = max(LEAST_SIGMA_PX, share * stature_px(xy[~feet_first]))
    return Marks.from_arrays(names, frames, places, sigma, Origin.drafted)


def stature_px(xy: NDArray[np.float64]) -> float:
    """Stature in the picture from landmarks (F, 33, 2), the median over frames; 0 if there is no swimmer. [px]"""
    long = np.linalg.norm(xy[:, 11:13].mean(1) - xy[:, 27:29].mean(1), axis=-1) / SHOULDER_TO_ANKLE
    found = long[np.isfinite(long)]
    return float(np.median(found)) if len(found) else 0.0


def turned(picture: NDArray[np.uint8], sign: int) -> NDArray[np.uint8]:
    """The picture (H, W, 3) turned so that a swimmer to the right (+1) or left (-1) is head up."""
    return np.ascontiguousarray(np.rot90(picture, sign))


def turned_back(share: NDArray[np.float64], size: tuple[int, int], sign: int) -> NDArray[np.float64]:
    """From places in the turned picture to places in the picture as it was.

    Parameters
    ----------
    share : (..., 2) float array
        Places in the turned picture as shares of its width and height, from edge to edge.
    size : (width, height)
        Of the picture before it was turned. [px]
    sign : int
        As given to ``turned``: +1 or -1.

    Returns
    -------
    (..., 2) float array
        x right, y down, pixel centres at integers: half a pixel less than counted from the edge. [px]
    """
    u, v = share[..., 0], share[..., 1]
    x, y = {1: (1 - v, u), -1: (v, 1 - u)}[sign]
    return np.stack([x, y], -1) * size - 0.5


def window(box: tuple[float, float, float, float] | None, size: tuple[int, int]) -> tuple[int, int, int, int]:
    """Whole pixels (x0, y0, x1, y1), ends exclusive, that a box covers inside a picture of ``size``; all for None."""
    width, height = size
    if box is None:
        return 0, 0, width, height
    x0, y0 = (max(int(np.floor(v)), 0) for v in box[:2])
    x1, y1 = (min(int(np.ceil(v)), most) for v, most in zip(box[2:], size, strict=True))
    if x1 - x0 < 16 or y1 - y0 < 16:
        raise CasebookError(
            f"The box {tuple(box)} holds less than 16 pixels of a picture of {width} x {height}.",
            "Give it as (left, top, right, bottom) around the swimmer.",
        )
    return x0, y0, x1, y1
