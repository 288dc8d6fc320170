"""Which of a pair is left: labels that the pose model changes from frame to frame, made one story over the shot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.marks import Origin
from casebook.marks.pose_body import HAND_SPEED, HIPS, JITTER, SHOULDERS, middle
from casebook.marks.pose_look import LEFT, RIGHT
from casebook.marks.pose_rhythm import LEAST_FRAMES, by_rhythm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.marks.marks import Marks


@dataclass(frozen=True, slots=True)
class Group:
    """Landmarks that change sides together.

    Attributes
    ----------
    name : str
    left : tuple of int
        The model's landmarks on the left.
    carry : tuple of int
        Those of them whose way is followed.
    names : tuple of str
        Our points by which the coach's marks are compared.
    word : float
        Weight of the model's own names on a frame, against the way of the joints. Two arms half a cycle apart never
        meet, so there it only chooses between two whole stories; legs cross, and the model seldom takes one for the
        other.
    clear : float
        What the other story of a frame must cost more for its names to be told. On rendered swimmers two thirds of the
        frames with exchanged names stay below it, and one in forty of the others.
    rhythm : bool
        The two do the same half a cycle apart, so that the rhythm of the shot tells them apart.
    """

    name: str
    left: tuple[int, ...]
    carry: tuple[int, ...]
    names: tuple[str, ...]
    word: float
    clear: float
    rhythm: bool

    @property
    def limbs(self) -> tuple[list[int], list[int]]:
        """The landmarks of the left and of the right limb, but for those on the trunk, which lie close together."""
        return list(self.left[1:]), list(_partners(self.left[1:]))


@dataclass(frozen=True, slots=True)
class Sides:
    """Which of a pair is left, frame by frame.

    Attributes
    ----------
    exchanged : (F,) bool array
        The two bear each other's names. False on frames without a body.
    margin : (F,) float array
        What the other story of a frame would cost more. Infinite on frames without a body, and all through a shot too
        short to tell.
    apart : (F,) float array
        How far the two are from each other, in statures.
    """

    exchanged: NDArray[np.bool_]
    margin: NDArray[np.float64]
    apart: NDArray[np.float64]

    def doubtful(self, group: Group, left: NDArray[np.bool_], right: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Frames on which nothing tells which is which, (F,), for limbs in sight at ``left`` and ``right`` (F,)."""
        untold = (self.margin < group.clear) & (self.apart > TOGETHER)
        if group.rhythm:
            # The model has laid both arms on the one that it sees, and may have named it after the other.
            untold |= (left ^ right) & (self.apart < ONE_ARM) & (self.margin < CLEAR_ALONE)
        return untold & (left | right)


#: The model's left landmark of the joints by which a coach's marks are compared; the right one is the next.
NAMED = {"shoulder": 11, "elbow": 13, "wrist": 15, "hip": 23, "knee": 25, "ankle": 27}
ARMS = Group("arms", (11, 13, 15, 17, 19, 21), (13, 15), ("shoulder", "elbow", "wrist"), 0.02, 0.9, True)
LEGS = Group("legs", (23, 25, 27, 29, 31), (25, 27), ("hip", "knee", "ankle"), 0.15, 0.16, False)
GROUPS = (ARMS, LEGS)

#: Weight of a place, where the view says on which side of the picture left must be.
PLACE = 2.0
#: How often the rhythm is read from the names that it has put right.
ROUNDS = 3
#: Weight of a mark of the coach's hand.
HAND = 20.0
#: A pair further apart than this share of stature lies clearly to either side.
CLEAR = 0.06
#: Joints nearer to each other than this share of stature may bear each other's names without harm.
TOGETHER = 0.03
#: Arms nearer to each other than this, only one of them in sight, may be one arm seen twice; then the other story must
#: cost this much more. In statures; our own, by rendered swimmers.
ONE_ARM, CLEAR_ALONE = 0.2, 2.5
#: A limb that no frame within this time shares is a chance find. [s]
NEIGHBOUR_S = 0.1
#: Dearest that one joint's jump can be.
MOST_JUMP = 4.0


def sides(
    bodies: NDArray[np.float64], times: NDArray[np.float64], size: float, group: Group, prefer: NDArray[np.float64]
) -> Sides:
    """On which frames a pair of limbs bears each other's names, and where nothing tells.

    Two labels are possible on each frame; the likeliest sequence of them is the one with the shortest way of both limbs
    through the shot (Viterbi's algorithm).

    Parameters
    ----------
    bodies : (F, 33, 3) float array
        x, y [px] and visibility. NaN rows where no body was taken.
    times : (F,) float array [s]
    size : float
        Stature. [px]
    group : Group
    prefer : (F,) float array
        What speaks for the names as they are (positive) or exchanged (negative) on a frame by itself.
    """
    rows = np.flatnonzero(np.isfinite(bodies[:, 0, 0]))
    found = Sides(np.zeros(len(bodies), bool), np.full(len(bodies), np.inf), np.zeros(len(bodies)))
    if not len(rows):
        return found
    where, sure = _limbs(bodies[rows], group)
    steps = _steps(where, sure, times[rows], size)
    own = np.stack([np.maximum(-prefer[rows], 0), np.maximum(prefer[rows], 0)], -1)
    label, told = _likeliest(own, steps)[0], own
    if group.rhythm:
        # From the way of the limbs and from the model's own names: what goes on evenly may start out wrong.
        stories = [
            _in_rhythm(start, own, steps, where / size, sure, times[rows]) for start in (label, own[:, 1] < own[:, 0])
        ]
        label, told, _ = min(stories, key=lambda story: story[2])
    found.exchanged[rows] = label
    found.apart[rows] = np.linalg.norm(where[:, 0] - where[:, 1], axis=-1).mean(-1) / size
    if len(rows) >= LEAST_FRAMES and not (group.rhythm and told is own):
        found.margin[rows] = _margin(told, steps)
    return found


def alone(shown: NDArray[np.bool_], times: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Frames that show a limb, (F,), while others close by were looked at and none of them shows it."""
    close = np.abs(times[:, None] - times) <= NEIGHBOUR_S
    np.fill_diagonal(close, False)
    return shown & close.any(1) & ~(close & shown).any(1)


def _in_rhythm(
    label: NDArray[np.bool_],
    own: NDArray[np.float64],
    steps: NDArray[np.float64],
    where: NDArray[np.float64],
    sure: NDArray[np.float64],
    times: NDArray[np.float64],
) -> tuple[NDArray[np.bool_], NDArray[np.float64], float]:
    """The story that a start leads to when names and rhythm are found in turn, what names cost in it, and the whole."""
    cost, full = np.inf, own
    for _ in range(ROUNDS):
        there = np.where(label[:, None, None, None], where[:, ::-1], where)
        told = by_rhythm(there, np.where(label[:, None, None], sure[:, ::-1], sure), times)
        if told is None:
            break
        full = own + np.where(label[:, None], told[:, ::-1], told)
        label, cost = _likeliest(full, steps)
    return label, full, cost


def _likeliest(own: NDArray[np.float64], steps: NDArray[np.float64]) -> tuple[NDArray[np.bool_], float]:
    """Where names are exchanged in the cheapest sequence, (N,), and what it costs.

    ``own`` (N, 2) is what names cost as they are and exchanged, ``steps`` (N, 2) what it costs to name as on the frame
    before, and otherwise.
    """
    cost, come = own[0], np.zeros((len(own), 2), int)
    for i in range(1, len(own)):
        ways = cost[:, None] + np.array([steps[i], steps[i][::-1]])
        come[i] = ways.argmin(0)
        cost = ways.min(0) + own[i]
    labels = [int(cost.argmin())]
    for i in range(len(own) - 1, 0, -1):
        labels.append(int(come[i, labels[-1]]))
    return np.array(labels[::-1], bool), float(cost.min())


def _margin(own: NDArray[np.float64], steps: NDArray[np.float64]) -> NDArray[np.float64]:
    """How much dearer the cheapest sequence with the other names on a frame is, (N,). Arguments: see ``_likeliest``."""
    ways = np.stack([steps, steps[:, ::-1]], 1)
    before, after = own.copy(), np.zeros_like(own)
    for i in range(1, len(own)):
        before[i] += (before[i - 1][:, None] + ways[i]).min(0)
    for i in range(len(own) - 2, -1, -1):
        after[i] = (ways[i + 1] + own[i + 1] + after[i + 1]).min(1)
    return np.abs(np.diff(before + after, axis=1)[:, 0])


def word(bodies: NDArray[np.float64], group: Group) -> NDArray[np.float64]:
    """What the model's own names say, (F,): ``prefer`` of ``sides``. More where it sees the limbs well."""
    return group.word * bodies[:, [*group.carry, *_partners(group.carry)], 2].mean(1)


def by_hand(
    bodies: NDArray[np.float64],
    frames: NDArray[np.int64],
    group: Group,
    hand: Marks,
    mirrored_file: bool,
    size: float,
) -> NDArray[np.float64]:
    """What the coach's own marks say, (F,): ``prefer`` of ``sides``; 0 where there is none.

    ``frames`` (F,) are those of the bodies. In a mirrored file the coach's left is the picture's right.
    """
    out = np.zeros(len(bodies))
    for name in group.names:
        for side in "lr":
            own = NAMED[name] + ((side == "r") != mirrored_file)
            other = 2 * NAMED[name] + 1 - own
            marks = hand.pick([f"{name}_{side}"])
            for frame, origin, place in zip(marks.frames, marks.origin[:, 0], marks.xy[:, 0], strict=True):
                at = np.flatnonzero(frames == frame)
                if origin >= Origin.confirmed and len(at) and np.isfinite(place[0]):
                    body = bodies[at[0], :, :2]
                    nearer = np.linalg.norm(body[other] - place) - np.linalg.norm(body[own] - place)
                    out[at[0]] += HAND * np.clip(np.nan_to_num(nearer) / (CLEAR * size), -1, 1)
    return out


def by_place(
    bodies: NDArray[np.float64], group: Group, toward: tuple[float, float], size: float
) -> NDArray[np.float64]:
    """What the places of shoulders or hips say for the names as they are, (F,): ``prefer`` of ``sides``.

    ``toward`` is the direction in the picture in which the left side lies.
    """
    left = group.left[0]
    across = (bodies[:, left, :2] - bodies[:, RIGHT[LEFT.index(left)], :2]) @ np.array(toward)
    return PLACE * np.clip(across / (CLEAR * size), -1, 1)


def left_lies(view: str, direction: str, sign: int) -> tuple[float, float] | None:
    """Where the left side of a swimmer on the front lies in the picture; None from the side, where both lie in line.

    Facing the camera it is the picture's right, as in any portrait; seen from behind, the picture's left. From below
    the swimmer's front is seen, from above the back.
    """
    if view.startswith(("front", "rear")):
        return (1.0 if direction == "toward" else -1.0), 0.0
    if view in ("bottom", "top"):
        return 0.0, float(sign if view == "bottom" else -sign)
    return None


def _limbs(bodies: NDArray[np.float64], group: Group) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Followed landmarks against the trunk (F, 2 sides, joints, 2) [px], and how likely each is in sight."""
    xy = bodies[..., :2]
    trunk = (middle(xy, SHOULDERS) + middle(xy, HIPS)) / 2
    pair = [group.carry, _partners(group.carry)]
    return xy[:, pair] - trunk[:, None, None], bodies[:, pair, 2]


def _steps(
    where: NDArray[np.float64], sure: NDArray[np.float64], times: NDArray[np.float64], size: float
) -> NDArray[np.float64]:
    """What it costs on each frame to keep the names of the frame before and to exchange them, (F, 2).

    Mean squared way of the limbs against what is in reach. A joint that the model does not see is somewhere, and its
    way says nothing.
    """
    steps = np.zeros((len(where), 2))
    reach = (JITTER + HAND_SPEED / 2 * np.diff(times))[:, None, None]
    for column, (now, seen) in enumerate(((where[1:], sure[1:]), (where[1:, ::-1], sure[1:, ::-1]))):
        far = np.linalg.norm(now - where[:-1], axis=-1) / size / reach
        steps[1:, column] = (np.minimum(far**2, MOST_JUMP) * sure[:-1] * seen).mean((1, 2))
    return steps


def exchanged(bodies: NDArray[np.float64], swap: NDArray[np.bool_], group: Group) -> NDArray[np.float64]:
    """Bodies (F, 33, ...) with the names of a group exchanged on some frames."""
    left, right = list(group.left), list(_partners(group.left))
    rows = np.flatnonzero(swap)
    out = bodies.copy()
    out[np.ix_(rows, np.array(left + right))] = bodies[np.ix_(rows, np.array(right + left))]
    return out


def _partners(left: tuple[int, ...]) -> tuple[int, ...]:
    """The right-hand landmarks of left-hand ones."""
    return tuple(RIGHT[LEFT.index(i)] for i in left)
