"""Where the whole head is on every frame, from what is known of it, and always on the large side.

Where several points of the head are known, it is covered from the one to the other and around them all. A single one,
or a shoulder, says that the head lies inside a circle: no part of it is further from the neck than a head is long. Both
grow with the error of the points, and with the time to the next mark. Where nothing is known within reach there is no
region, and that frame is not to be shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import Marks, Origin
from casebook.marks.outline import CORNERS, area, around_all, common_outline

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot

    Floats = NDArray[np.float64]

#: No part of a head is further from the point than this share of stature. Crown to chin is 0.130 of an adult's stature
#: (Drillis and Contini 1966, as handbooks print it; from memory); the rest is our own, from the solid of the demo
#: swimmer, and a fifth more for other heads. Children have larger heads for their stature: ``ROOM_OF_MINOR``.
REACH = {"crown": 0.165, "mouth": 0.155, "goggle": 0.14, "ear": 0.115, "neck": 0.195, "shoulder": 0.275}
#: From the side it is known on which side of a point the head lies: the circle's middle is this far ahead of the point
#: (behind, if negative), and smaller for it.
AHEAD = {"crown": (-0.07, 0.12), "neck": (0.09, 0.12), "shoulder": (0.09, 0.20)}
#: How far the head goes beyond the span of its points, by what is known of it: ear, top (crown) and face (mouth or
#: goggle). In statures; from the solid of the demo swimmer, and a fifth more. Of the two ears one alone lies askew.
BEYOND = {"ear top face": 0.062, "ear face": 0.07, "ear top": 0.10, "top face": 0.11}
ONE_EAR = 0.013
#: Or, where crown, base of neck and mouth are known: the skull's middle lies at this share of the way from crown to
#: neck, and these circles with all between them hold the head. In statures; likewise.
SKULL_AT, SKULL = 0.33, {"skull": 0.078, "crown": 0.035, "mouth": 0.038}
#: From the side the crown lies about this far ahead of the ear, give or take. In statures.
CROWN_AHEAD, CROWN_AHEAD_ERROR = 0.076, 0.02
#: At the water line a window shows what is above and below at two sizes and places.
SPLIT_ROOM = 0.03
ROOM, ROOM_OF_MINOR = 1.0, 1.25
#: Segments by which stature in the picture is judged, and their share of it: the limbs as in ``pose_body``, the trunk
#: with the shoulder's ride on it, crown to base of neck from the demo swimmer.
SEGMENTS = (
    ("shoulder", "elbow", 0.186), ("elbow", "wrist", 0.146), ("hip", "knee", 0.245), ("knee", "ankle", 0.246),
    ("shoulder", "hip", 0.32),
)  # fmt: skip
ACROSS = (("shoulder_l", "shoulder_r", 0.21), ("crown", "neck", 0.16))
#: How fast a point may leave the straight line between two marks, and the place of its last mark. Statures per second:
#: the face turns about the line from crown to neck in a quarter of a second, ears and crown stay near it; a sprinter
#: swims more than one stature a second. own judgement, checked on the demo clips with every tenth frame marked
WOBBLE = {"crown": 0.08, "neck": 0.08, "ear": 0.10, "mouth": 0.20, "goggle": 0.18, "shoulder": 0.20}
AWAY = 1.3
#: A region so many times as large as half of the others is doubtful: marks are far away. own judgement
DOUBTFUL = 2.0
#: Marks further apart are not joined, and one mark counts for no longer before or after it. [s] own judgement
LONGEST_GAP_S, LONGEST_HOLD_S = 1.0, 0.25
#: A region reaches this many standard deviations of a mark, and of a drafted point, whose stated error is half of what
#: 95 % stay within.
MARK_SIGMAS, DRAFT_SIGMAS = 2.5, 2.0
#: A drafted point that none of its neighbours in time bears out is left out. [s], frames, sigma
NEIGHBOURS_S, LEAST_NEIGHBOURS, JUMP = 0.2, 3, 1.0


@dataclass(frozen=True, slots=True, eq=False)
class HeadRegions:
    """Regions that hold the head.

    Attributes
    ----------
    frames : (F,) int array
        All frames of the shot.
    outline : (F, 12, 2) float array [px]
        NaN on frames without evidence within reach.
    weak : (F,) bool array
        Known only from shoulders or a drafted point, or far from the next mark: to be looked at.
    """

    frames: NDArray[np.int64]
    outline: Floats
    weak: NDArray[np.bool_]

    @property
    def bare(self) -> NDArray[np.int64]:
        """Frames without a region."""
        return self.frames[~np.isfinite(self.outline[:, 0, 0])]


@dataclass(frozen=True, slots=True, eq=False)
class _Known:
    """Points by name on all F frames: where (F, 2) and how far off they may be (F,) [px], NaN where not known."""

    xy: dict[str, Floats]
    error: dict[str, Floats]

    def at(self, row: int) -> dict[str, tuple[Floats, float]]:
        """What is known on one frame."""
        return {n: (self.xy[n][row], float(e[row])) for n, e in self.error.items() if np.isfinite(e[row])}


def head_regions(shot: Shot, marks: Marks, drafts: Marks | None = None, *, room: float = ROOM) -> HeadRegions:
    """Regions that hold the whole head, for every frame of a shot.

    Parameters
    ----------
    shot : Shot
    marks : Marks
        The coach's and tracked ones; drafted ones among them count as ``drafts``.
    drafts : Marks, optional
        From the pose model; looked at only where marks say nothing.
    room : float
        Factor on how large a head is for its stature; ``ROOM_OF_MINOR`` for a child.
    """
    own, among = split_by_origin(marks)
    drafted = [_steady(shot, part) for part in (drafts, among) if part is not None]
    size = max(stature_px(m) for m in (own, *drafted))
    frames = shot.frames
    outline = np.full((len(frames), CORNERS, 2), np.nan)
    weak = np.zeros(len(frames), bool)
    if size <= 0:
        return HeadRegions(frames, outline, ~weak)
    for source, sigmas in ((own, MARK_SIGMAS), *((d, DRAFT_SIGMAS) for d in drafted)):
        known = _known(shot, source, size, sigmas)
        for row in np.flatnonzero(~np.isfinite(outline[:, 0, 0])).tolist():
            made = _outline(known.at(row), shot, size, room)
            if made is not None:
                outline[row], of_shoulders = made
                weak[row] = of_shoulders or source is not own
    sizes = np.array([area(o) for o in outline])
    weak |= sizes > DOUBTFUL * np.nanmedian(sizes) if np.isfinite(sizes).any() else False
    return HeadRegions(frames, outline, weak | ~np.isfinite(outline[:, 0, 0]))


def stature_px(marks: Marks) -> float:
    """The swimmer's stature in the picture, from the segment that shows most of it; 0 if none is marked. [px]

    A segment looks shorter than it is and never longer, but for its marks' error: of each the upper tenth is taken.
    """
    pairs = [(f"{a}_{side}", f"{b}_{side}", share) for a, b, share in SEGMENTS for side in "lr"]
    found = [0.0]
    for a, b, share in (*pairs, *ACROSS):
        if a in marks.points and b in marks.points:
            long = np.linalg.norm(marks.xy[:, marks.index(a)] - marks.xy[:, marks.index(b)], axis=-1)
            long = long[np.isfinite(long)]
            found += [float(np.quantile(long, 0.9)) / share] if len(long) else []
    return max(found)


def split_by_origin(marks: Marks) -> tuple[Marks, Marks]:
    """The coach's and tracked marks, and the drafted ones."""
    parts = []
    for keep in (marks.origin >= Origin.tracked, marks.origin == Origin.drafted):
        part = Marks.empty(marks.points, marks.frames)
        part.xy[keep], part.sigma_px[keep], part.origin[keep] = marks.xy[keep], marks.sigma_px[keep], marks.origin[keep]
        parts.append(part)
    return parts[0], parts[1]


def _steady(shot: Shot, drafts: Marks) -> Marks:
    """Drafted points without those that jump: further than ``JUMP`` sigma from the median of their neighbours."""
    out = Marks.empty(drafts.points, drafts.frames)
    if not len(drafts.frames):
        return out
    times = shot.clip.times[drafts.frames]
    first, last = (np.searchsorted(times, times + by) for by in (-NEIGHBOURS_S, NEIGHBOURS_S))
    for column in range(len(drafts.points)):
        xy = drafts.xy[:, column]
        seen = np.asarray(np.isfinite(xy).all(-1))
        for row in np.flatnonzero(seen).tolist():
            part = slice(first[row], last[row] + 1)
            others = xy[part][seen[part]]
            off = np.linalg.norm(xy[row] - np.median(others, axis=0))
            if len(others) >= LEAST_NEIGHBOURS and off <= JUMP * drafts.sigma_px[row, column]:
                out.xy[row, column], out.sigma_px[row, column] = xy[row], drafts.sigma_px[row, column]
    return out


def _known(shot: Shot, marks: Marks, size: float, sigmas: float) -> _Known:
    times = shot.times if np.isfinite(shot.times).all() else shot.clip.times
    known = _Known({}, {})
    for column, point in enumerate(marks.points):
        seen = np.isfinite(marks.xy[:, column]).all(-1) & (marks.frames < shot.clip.n_frames)
        if _kind(point) in REACH and seen.any():
            own = marks.frames[seen], marks.xy[seen, column], marks.sigma_px[seen, column]
            known.xy[point], known.error[point] = _between(
                *own, shot, times, WOBBLE[_kind(point)] * size, AWAY * size, sigmas
            )
    return known


def _outline(
    points: dict[str, tuple[Floats, float]], shot: Shot, size: float, room: float
) -> tuple[Floats, bool] | None:
    """The outline (12, 2) from what is known on a frame, and whether from shoulders alone; None if nothing is.

    Each choice of points gives an outline that holds the head; the smallest one is taken.
    """
    split = SPLIT_ROOM * size if shot.view == "side_split" else 0.0
    head = {n: p for n, p in points.items() if _kind(n) != "shoulder"}
    usable = head or points
    if not usable:
        return None
    circles = [_circle(n, xy, shot, size) for n, (xy, _) in usable.items()]
    radius = [r * room + error + split for (_, r), (_, error) in zip(circles, usable.values(), strict=True)]
    found = [common_outline(np.stack([xy for xy, _ in circles]), np.array(radius))]
    for most in {error for _, error in head.values()}:
        chosen = {n: p for n, p in head.items() if p[1] <= most and _kind(n) != "neck"}
        around = _around(chosen, shot, size, room, split)
        found += [around] if around is not None else []
    if {"crown", "neck", "mouth"} <= head.keys():
        found.append(_around_skull(head, size, room, split))
    return min(found, key=area), not head


def _around_skull(head: dict[str, tuple[Floats, float]], size: float, room: float, split: float) -> Floats:
    (crown, e_crown), (neck, e_neck), (mouth, e_mouth) = (head[n] for n in ("crown", "neck", "mouth"))
    places = np.stack([crown + SKULL_AT * (neck - crown), crown, mouth])
    errors = np.array([max(e_crown, e_neck), e_crown, e_mouth])
    return around_all(places, np.array(list(SKULL.values())) * room * size + errors + split)


def _around(head: dict[str, tuple[Floats, float]], shot: Shot, size: float, room: float, split: float) -> Floats | None:
    """The outline around some points of the head; None if they tell too little of it."""
    ears = [n for n in head if _kind(n) == "ear"]
    if ears and shot.sign and "crown" not in head:
        ear, error = _middle(head, ears)
        ahead = np.array([shot.sign * CROWN_AHEAD * size, 0.0])
        head["crown"] = ear + ahead, error + CROWN_AHEAD_ERROR * size
    there = (bool(ears), "crown" in head, any(_kind(n) in ("mouth", "goggle") for n in head))
    beyond = BEYOND.get(" ".join(n for n, t in zip(("ear", "top", "face"), there, strict=True) if t))
    if beyond is None:
        return None
    beyond += ONE_EAR if len(ears) == 1 else 0.0
    radius = np.array([beyond * room * size + error + split for _, error in head.values()])
    return around_all(np.stack([xy for xy, _ in head.values()]), radius)


def _circle(point: str, xy: Floats, shot: Shot, size: float) -> tuple[Floats, float]:
    """Middle (2,) and radius of the circle that holds the head by one point. [px]"""
    ahead, reach = AHEAD.get(_kind(point), (0.0, REACH[_kind(point)])) if shot.sign else (0.0, REACH[_kind(point)])
    return xy + np.array([ahead * size * shot.sign, 0.0]), reach * size


def _middle(points: dict[str, tuple[Floats, float]], names: list[str]) -> tuple[Floats, float]:
    places, errors = zip(*(points[n] for n in names), strict=True)
    return np.asarray(np.mean(places, axis=0)), max(errors)


def _kind(point: str) -> str:
    return point.removesuffix("_l").removesuffix("_r")


def _between(
    frames: NDArray[np.int64],
    xy: Floats,
    sigma: Floats,
    shot: Shot,
    times: Floats,
    between: float,
    beyond: float,
    sigmas: float,
) -> tuple[Floats, Floats]:
    """A point on all frames of a shot, (F, 2), and how far off it may be, (F,): NaN out of reach of marks. [px]"""
    at, now = times[frames], times[shot.frames]
    after = np.searchsorted(at, now)
    low, high = np.clip(after - 1, 0, len(at) - 1), np.clip(after, 0, len(at) - 1)
    place = np.stack([np.interp(now, at, xy[:, k]) for k in (0, 1)], -1)
    to_low, to_high = np.abs(now - at[low]), np.abs(at[high] - now)
    nearest = np.minimum(to_low, to_high)
    within = (now >= at[0]) & (now <= at[-1])
    joined = within & ((at[high] - at[low] <= LONGEST_GAP_S) | (nearest == 0))
    alone = np.where(to_low <= to_high, low, high)
    place = np.where(joined[:, None], place, xy[alone])
    error = sigmas * np.maximum(sigma[low], sigma[high]) + np.where(joined, between, beyond) * nearest
    reached = joined | (nearest <= LONGEST_HOLD_S)
    return np.where(reached[:, None], place, np.nan), np.where(reached, error, np.nan)
