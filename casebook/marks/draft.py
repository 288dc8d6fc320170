"""First drafts of points from a pose model: an aid to the coach's hand, never its judge.

The model knows ordinary people on land. What it draws is a draft of the lowest rank: it never overwrites a mark of the
coach, and it has no crown, goggle, neck base or fingertip. Its points are near the joint centres and not on them.

The way of a draft: ``pose_search`` finds bodies, one look a frame and more where the first is not believed;
``pose_choice`` takes the likeliest sequence of them and leaves gaps; ``pose_sides`` puts left and right in order; here
they become marks with their error.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import CasebookError, MarksError
from casebook.marks.draft_report import Draft, DraftReport
from casebook.marks.landmarker import N_LANDMARKS, Landmarker
from casebook.marks.marks import Marks, Origin
from casebook.marks.model import find_model
from casebook.marks.points import mirrored
from casebook.marks.pose_body import MOST_COST, Seen, doubt, oddness
from casebook.marks.pose_choice import choose
from casebook.marks.pose_search import Bodies, Search
from casebook.marks.pose_sides import GROUPS, alone, by_hand, by_place, exchanged, left_lies, sides, word
from casebook.marks.pose_sight import in_sight, water_above
from casebook.marks.progress import Tell, counted
from casebook.words import VIEWS

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from casebook.clip.shot import Shot
    from casebook.marks.lines import LineMark
    from casebook.marks.pose_look import Box
    from casebook.marks.pose_sides import Sides

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

#: Error of a drafted point per coordinate, as a share of the swimmer's stature in the picture: half of what 95 % of
#: errors stay within. Measured over all points drafted on rendered swimmers whose true joints are known, clear and
#: murky water together; two swimmers, nine clips from the side, three head-on. An invented figure is easier than a real
#: pool: look before you confirm.
SIGMA_OF_STATURE = {
    "mouth": 0.03, "ear": 0.03, "shoulder": 0.03, "elbow": 0.045, "wrist": 0.06, "knuckle": 0.075,
    "hip": 0.02, "knee": 0.02, "ankle": 0.02, "heel": 0.02, "toe": 0.03,
}  # fmt: skip
SIGMA_HEAD_ON = {
    "mouth": 0.07, "ear": 0.08, "shoulder": 0.06, "elbow": 0.08, "wrist": 0.10, "knuckle": 0.11,
    "hip": 0.055, "knee": 0.06, "ankle": 0.07, "heel": 0.08, "toe": 0.12,
}  # fmt: skip
#: No drafted point is trusted better than this. common practice, no source [px]
LEAST_SIGMA_PX = 6.0
#: Views in which drafts were no help on rendered swimmers: few bodies, and left and right mixed up.
NO_HELP = ("front_above", "rear_above", "rear_under")


def draft(
    shot: Shot,
    frames: ArrayLike | None = None,
    box: Box | None = None,
    model: Path | str | None = None,
    tell: Tell | None = None,
    *,
    water: Sequence[LineMark] = (),
    hand: Marks | None = None,
) -> Marks:
    """Draft the points of a shot with the pose model: the marks of ``make_draft``."""
    return make_draft(shot, frames, box, model, tell, water=water, hand=hand).marks


def make_draft(
    shot: Shot,
    frames: ArrayLike | None = None,
    box: Box | None = None,
    model: Path | str | None = None,
    tell: Tell | None = None,
    *,
    water: Sequence[LineMark] = (),
    hand: Marks | None = None,
) -> Draft:
    """Draft the points of a shot with the pose model, and say how it went.

    Parameters
    ----------
    shot : Shot
        Any view but those of ``NO_HELP``. A swimmer on the front is meant: on the back, left and right come out
        exchanged head-on.
    frames : (F,) int array, optional
        Frames to draft; all of the shot if not given. Frames that follow each other help each other.
    box : (left, top, right, bottom), optional
        Around the swimmer on the first of these frames; worth giving where the swimmer is small or not alone. [px]
    model : Path or str, optional
        A .task file; else the one that ``model.find_model`` finds.
    tell : callable, optional
        Told how far the work is, ``tell(n, of)``, in place of a bar.
    water : sequence of LineMark, optional
        Lines of the shot; the ``water`` lines among them tell, from the side under water, a body from its mirror image
        in the surface and which limbs are out of the water. Each counts for the frames nearest to it.
    hand : Marks, optional
        The coach's marks, which settle left and right near them.

    Returns
    -------
    Draft
        ``marks`` of origin ``drafted``, the points of ``LANDMARKS``, one row per frame: NaN where no body is plausible,
        or a point is held not to be in sight. ``report`` says what was found, looked at again, left empty, exchanged.

    Raises
    ------
    CasebookError
        The view is one in which drafts are no help; the model or its library is missing; a frame is outside the shot,
        or the box outside the picture.
    """
    if shot.view in NO_HELP:
        raise CasebookError(
            f"Drafts are of no use {VIEWS[shot.view]}: bodies are seldom found there, and left and right are mixed up.",
            "Mark by hand, and let the points follow in between.",
        )
    wanted = _frames(shot, frames)
    if box is not None:
        _check_box(box, shot.clip.size)
    seen = seen_in(shot)
    dry = water_above([line for line in water if line.line == "water"], seen)
    with Landmarker(find_model(model)) as landmarker, counted(len(wanted), "drafting", tell) as count:
        search = Search(shot, wanted, landmarker, seen, dry)
        bodies = search.run(box, count)
    taken = _choose(search, bodies)
    told: dict[str, Sides] = {}
    for group in GROUPS:
        prefer = word(taken, group)
        toward = left_lies(shot.view, shot.direction, shot.sign)
        if toward is not None:
            prefer = prefer + by_place(taken, group, toward, bodies.size)
        if hand is not None:
            prefer = prefer + by_hand(taken, wanted, group, hand, shot.mirrored, bodies.size)
        told[group.name] = sides(taken, search.times, bodies.size, group, prefer)
        taken = exchanged(taken, told[group.name].exchanged, group)
    sight = in_sight(taken, search.times, seen)
    untold = _untold(sight, search.times, told)
    marks = marks_of(shot, wanted, taken, sight, bodies.size, dry)
    swapped = {name: found.exchanged for name, found in told.items()}
    return Draft(marks, DraftReport.of(wanted, taken, bodies, swapped, untold))


def _untold(
    sight: NDArray[np.bool_], times: NDArray[np.float64], told: dict[str, Sides]
) -> dict[str, NDArray[np.bool_]]:
    """Where nothing tells left from right, (F,) for each group; those limbs, and chance finds, go out of ``sight``."""
    untold = {}
    for group in GROUPS:
        left, right = group.limbs
        shown = np.stack([sight[:, left].any(1), sight[:, right].any(1)])
        untold[group.name] = told[group.name].doubtful(group, *shown)
        gone = untold[group.name] | alone(shown.any(0) & ~untold[group.name], times)
        sight[np.ix_(gone, np.array(left + right))] = False
    return untold


def seen_in(shot: Shot) -> Seen:
    """What the shot's view says about how a swimmer lies in its picture."""
    return Seen(shot.sign, shot.sign == 0, shot.view.startswith("side"), shot.view.endswith("under"))


def marks_of(
    shot: Shot,
    frames: NDArray[np.int64],
    bodies: NDArray[np.float64],
    sight: NDArray[np.bool_],
    size: float,
    dry: Callable[[NDArray[np.float64], int], NDArray[np.bool_] | None],
) -> Marks:
    """Bodies (F, 33, ...) [px] as drafted marks of our points, where they are in sight (F, 33) and not above water.

    ``size`` is the stature in the picture [px]; ``dry`` as of ``pose_sight.water_above``.
    """
    names = tuple(LANDMARKS)
    places = np.stack([bodies[:, list(i), :2].mean(1) for i in LANDMARKS.values()], 1)
    out_of_sight = ~np.stack([sight[:, list(i)].all(1) for i in LANDMARKS.values()], 1)
    for row, frame in enumerate(frames.tolist()):
        above = dry(places[row], frame)
        if above is not None:
            out_of_sight[row] |= above
    places[out_of_sight] = np.nan
    sigma = np.array([sigma_px(name, size, head_on=not shot.sign) for name in names])
    if shot.mirrored:
        names = tuple(mirrored(name) for name in names)
    return Marks.from_arrays(names, frames, places, sigma, Origin.drafted)


def sigma_px(point: str, size: float, *, head_on: bool) -> float:
    """Stated error per coordinate of a drafted point of a swimmer of this stature in the picture. [px]"""
    share = (SIGMA_HEAD_ON if head_on else SIGMA_OF_STATURE)[point.removesuffix("_l").removesuffix("_r")]
    return max(LEAST_SIGMA_PX, share * size) if np.isfinite(size) else LEAST_SIGMA_PX


def _choose(search: Search, bodies: Bodies) -> NDArray[np.float64]:
    """The bodies taken, (F, 33, 3); NaN where none is plausible."""
    found = [np.array(b).reshape(-1, N_LANDMARKS, 3) for b in bodies.found]
    found = [b[np.isfinite(b[:, 0, 0])] for b in found]
    odd = []
    for body, frame in zip(found, search.frames.tolist(), strict=True):
        xy = body[..., :2]
        cost = oddness(xy, bodies.size, search.seen, search.dry(xy, frame))
        odd.append(np.where(cost < MOST_COST, cost + doubt(body), np.inf))
    chosen = choose([b[..., :2] for b in found], odd, search.times, bodies.size)
    taken = np.full((len(found), N_LANDMARKS, 3), np.nan)
    for row in np.flatnonzero(chosen >= 0).tolist():
        taken[row] = found[row][chosen[row]]
    return taken


def _frames(shot: Shot, frames: ArrayLike | None) -> NDArray[np.int64]:
    wanted = shot.frames if frames is None else np.unique(np.asarray(frames, np.int64))
    outside = wanted[(wanted < shot.start) | (wanted >= shot.stop)]
    if len(outside):
        raise MarksError(
            f'Frame {outside[0]} is not in shot "{shot.id}", which has frames {shot.start} to {shot.stop - 1}.',
            "Draft frames of the shot.",
        )
    return wanted


def _check_box(box: Box, size: tuple[int, int]) -> None:
    x0, y0, x1, y1 = box
    width, height = min(x1, size[0]) - max(x0, 0), min(y1, size[1]) - max(y0, 0)
    if not (width >= 16 and height >= 16):
        raise CasebookError(
            f"The box {tuple(box)} holds less than 16 pixels of a picture of {size[0]} x {size[1]}.",
            "Give it as (left, top, right, bottom) around the swimmer.",
        )
