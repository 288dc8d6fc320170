"""Reading an arm at an instant that its own shape defines: "when the forearm is 45 degrees down".

Between the frames of a track the coordinates follow a parabola in time. Between key stills each limb turns as a
function of the state itself (the forearm's inclination, or the direction from shoulder to wrist). Both take any number
of leading axes, so that error propagation and simulation run as arrays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.plane.geometry import inclination_deg, inclination_sigma_deg
from casebook.stroke.arm import ELBOW, FINGERTIP, HIP, KNUCKLE, NEEDED, SHOULDER, WRIST, Arm
from casebook.stroke.localfit import fit_at, fit_track, half_width, weights_at
from casebook.stroke.search import first_crossing

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array: TypeAlias = NDArray[np.float64]
    State: TypeAlias = Callable[[Array], Array]

#: A key still closer than this to one nearer to the reading is passed over, for the slope between them would be noise:
#: so many standard deviations of the forearm's inclination, and so many degrees at least. own judgement, no source
APART_SIGMAS, APART_DEG = 3.0, 4.0
#: So many key stills are joined: a parabola over the state.
NODES = 3
#: How far outside the marked stills a reading may lie: little where the arm's shape changes fast. own judgement, no
#: source [deg]
BEYOND_DEG, BEYOND_UNDER_DEG = 6.0, 2.0
#: A state counts as changed once it has stayed so for this long. [s] own judgement, no source
HOLD_S = 0.05
#: A parabola is trusted through this many frames or more.
LEAST_FRAMES = 4
_LIMBS = ((SHOULDER, ELBOW), (ELBOW, WRIST), (WRIST, FINGERTIP), (WRIST, KNUCKLE), (SHOULDER, HIP))


def forearm(points: Array) -> Array:
    """State: forearm inclination of level points (..., 3 or more, 2). [deg]"""
    return inclination_deg(points[..., ELBOW, :], points[..., WRIST, :])


def shoulder_to_wrist(points: Array) -> Array:
    """State: direction from shoulder to wrist of level points (..., 3 or more, 2); 90 under the shoulder. [deg]"""
    return inclination_deg(points[..., SHOULDER, :], points[..., WRIST, :])


def motion(arm: Arm, level: Array) -> Array:
    """The four points along a track: value, velocity, half acceleration at every frame.

    Parameters
    ----------
    arm : Arm
    level : (K, 6, 2) float array
        Its marks in level coordinates.

    Returns
    -------
    (K, 3, 4, 2) float array
        NaN where a frame lacks a point or has too few marked neighbours, as key stills do.
    """
    reach, clock = half_width(arm.step), arm.clock
    marked = np.concatenate([[0], np.cumsum(arm.complete)])
    first, last = np.searchsorted(clock, clock - reach, "right"), np.searchsorted(clock, clock + reach, "left")
    enough = arm.complete & (marked[last] - marked[first] >= LEAST_FRAMES)
    return np.where(enough[:, None, None, None], fit_track(clock, level[:, :NEEDED], reach), np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Where to read an arm: the rows that count and how they are joined.

    Attributes
    ----------
    rows, clock : (n,) arrays
    state, target
        The instant is where the state reaches the target. [deg]
    at : float
        Tracks: the instant, as the marks have it. [s]
    curves : (6, 3, n) float array or None
        Tracks: weights of the parabola of each point around ``at``. None: the rows are key stills.
    """

    rows: NDArray[np.int64]
    clock: Array
    state: State
    target: float
    at: float
    curves: Array | None


def plan(arm: Arm, level: Array, moving: Array, state: State, target: float, begins: float = -np.inf) -> Plan | None:
    """How to read an arm where a state first reaches a target and stays beyond; None where the marks do not allow it.

    Parameters
    ----------
    arm : Arm
    level : (K, 6, 2) float array
        Its marks in level coordinates.
    moving : (K, 3, 4, 2) float array
        From ``motion``.
    state : callable
        ``forearm`` or ``shoulder_to_wrist``.
    target : float
        [deg]
    begins : float
        Clock before which nothing is looked for. [s]
    """
    return _plan_track(arm, level, moving, state, target, begins) or _plan_stills(arm, level, state, target)


def _plan_track(arm: Arm, level: Array, moving: Array, state: State, target: float, begins: float) -> Plan | None:
    rows = np.flatnonzero(np.isfinite(moving[:, 0]).all((-1, -2)))
    if len(rows) < 2:
        return None
    clock = arm.clock[rows]
    signal = np.where(clock < begins, np.nan, state(moving[rows, 0]) - target)
    place = float(first_crossing(signal, max(1, round(HOLD_S / arm.step))))
    if not np.isfinite(place):
        return None
    at = float(np.interp(place, np.arange(len(rows)), clock))
    if float(np.diff(clock)[int(place)]) > 2.5 * arm.step:
        return None
    reach = half_width(arm.step)
    at += float(_delay(fit_at(at, arm.clock, level[:, :NEEDED], reach), state, np.asarray(target), reach))
    used = np.flatnonzero(arm.complete & (np.abs(arm.clock - at) < reach))
    if len(used) < LEAST_FRAMES:
        return None
    return Plan(used, arm.clock[used], state, target, at, curves_at(at, arm, used))


def curves_at(at: float, arm: Arm, rows: NDArray[np.int64]) -> Array:
    """Weights (6, 3, n) of each point's parabola around an instant; NaN for points marked in too few of the rows."""
    reach, clock = half_width(arm.step), arm.clock[rows]
    known = np.asarray(np.isfinite(arm.xy[rows]).all(-1))
    whole = weights_at(at, clock, np.ones(len(rows), bool), reach)
    return np.stack(
        [whole if known[:, p].all() else weights_at(at, clock, known[:, p], reach) for p in range(known.shape[1])]
    )


def _delay(curve: Array, state: State, goal: Array, reach: float) -> Array:
    """How long after a parabola's origin the state reaches its goal: (..., 3, P, 2) -> (...,) [s]"""
    tick, delay = reach / 50, np.zeros(np.broadcast_shapes(goal.shape, curve.shape[:-3]))
    for _ in range(3):
        here = state(along(curve, delay))
        rate = (state(along(curve, delay + tick)) - state(along(curve, delay - tick))) / (2 * tick)
        delay = np.clip(delay + (goal - here) / rate, -reach / 2, reach / 2)
    return delay


def along(curve: Array, delay: ArrayLike) -> Array:
    """Points (..., P, 2) on parabolas (..., 3, P, 2), some time after their origin. [s]"""
    t = np.asarray(delay, float)[..., None, None]
    return np.asarray(curve[..., 0, :, :] + t * (curve[..., 1, :, :] + t * curve[..., 2, :, :]))


def parabolas(curves: Array, level: Array) -> Array:
    """Parabolas (..., 3, 6, 2) of the marks (..., n, 6, 2) by the weights (6, 3, n)."""
    return np.einsum("pjn,...npc->...jpc", curves, np.nan_to_num(level))


def _plan_stills(arm: Arm, level: Array, state: State, target: float) -> Plan | None:
    rows = np.flatnonzero(arm.complete)
    values = state(level[rows])
    beyond = BEYOND_UNDER_DEG if state is shoulder_to_wrist else BEYOND_DEG
    if not len(rows) or not values.min() - beyond <= target <= values.max() + beyond:
        return None
    noise = inclination_sigma_deg(*(level[rows, i] for i in (ELBOW, WRIST)), *arm.sigma_px[rows][:, [ELBOW, WRIST]].T)
    apart = max(APART_DEG, APART_SIGMAS * float(np.median(noise)))
    chosen: list[int] = []
    for k in np.argsort(np.abs(values - target), kind="stable"):
        if len(chosen) < NODES and all(abs(values[k] - values[other]) >= apart for other in chosen):
            chosen.append(int(k))
    if len(chosen) < 2:
        return None
    used = rows[np.sort(chosen)]
    return Plan(used, arm.clock[used], state, target, np.nan, None)


def seen_of_needed(arm: Arm, clock: float, dense: bool) -> tuple[int, int]:
    """How many frames a reading at an instant needs, and how many of them carry the four points: (seen, needed).

    A track needs every frame near the instant; key stills need those marked, and two at least.
    """
    complete = arm.complete
    if not dense or not np.isfinite(clock):
        return int(complete.sum()), max(2, len(complete))
    reach = half_width(arm.step)
    inside = np.abs(arm.clock - clock) < reach
    needed = max(int(inside.sum()), int(2 * reach / arm.step))
    return int((inside & complete).sum()), needed


def read(how: Plan, level: Array, target: ArrayLike | None = None) -> tuple[Array, Array]:
    """The arm at the planned instant.

    Parameters
    ----------
    how : Plan
    level : (..., n, 6, 2) float array
        Level coordinates of the plan's rows; leading axes are independent draws or shifts.
    target : (...,) float array, optional
        Another target for each leading index. [deg]

    Returns
    -------
    points : (..., 6, 2) float array
        Level coordinates; NaN for knuckle or hip where they are not marked.
    clock : (...,) float array
        The instant. [s]
    """
    goal = np.broadcast_to(how.target if target is None else np.asarray(target, float), level.shape[:-3])
    if how.curves is None:
        return _read_stills(how, level, goal)
    curve = parabolas(how.curves, level)
    delay = _delay(curve[..., :NEEDED, :], how.state, goal, float(np.ptp(how.clock)) / 2)
    return along(curve, delay), how.at + delay


def _read_stills(how: Plan, level: Array, goal: Array) -> tuple[Array, Array]:
    s = how.state(level)
    lengths = np.stack([np.linalg.norm(level[..., b, :] - level[..., a, :], axis=-1) for a, b in _LIMBS], -1)
    turns = np.stack([inclination_deg(level[..., a, :], level[..., b, :]) for a, b in _LIMBS], -1)
    where = goal
    for _ in range(4):
        points = _assembled(_lagrange(s, where), level, lengths, turns)
        where = where + goal - how.state(points)
    weights = _lagrange(s, where)
    clock = (weights * how.clock).sum(-1)
    return _assembled(weights, level, lengths, turns), clock


def still_weights(how: Plan, level: Array) -> Array:
    """What each key still adds to a measure that is joined over the state: (..., n, 6, 2) -> (..., n)."""
    return _lagrange(how.state(level), np.asarray(how.target))


def _lagrange(s: Array, at: Array) -> Array:
    """Weights (..., M) of the nodes at ``s`` (..., M) for a polynomial through all of them, read at ``at`` (...,)."""
    m = s.shape[-1]
    weights = np.ones_like(s)
    for i in range(m):
        for j in range(m):
            if j != i:
                weights[..., i] *= (at - s[..., j]) / (s[..., i] - s[..., j])
    return weights


def _assembled(weights: Array, level: Array, lengths: Array, turns: Array) -> Array:
    """The arm put together from limbs of interpolated length and direction."""
    out = np.empty((*level.shape[:-3], 6, 2))
    out[..., SHOULDER, :] = np.einsum("...m,...mc->...c", weights, level[..., SHOULDER, :])
    length = np.einsum("...m,...ml->...l", weights, lengths)
    turn = np.radians(np.einsum("...m,...ml->...l", weights, turns))
    steps = length[..., None] * np.stack([np.cos(turn), -np.sin(turn)], -1)
    for (a, b), step in zip(_LIMBS, np.moveaxis(steps, -2, 0), strict=True):
        out[..., b, :] = out[..., a, :] + step
    return out
