"""The catch of one stroke in pixels: each reading with its independent error and its dependence on the plane."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.plane.geometry import height_over_line, inclination_deg, joint_angle_deg, line_steepness_deg
from casebook.plane.propagate import jacobian
from casebook.stroke.arm import ELBOW, FINGERTIP, HIP, KNUCKLE, NEEDED, SHOULDER, WRIST, covariance
from casebook.stroke.localfit import half_width
from casebook.stroke.reading import (
    LEAST_FRAMES,
    Plan,
    along,
    curves_at,
    forearm,
    parabolas,
    read,
    shoulder_to_wrist,
    still_weights,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.plane.plane import Plane
    from casebook.stroke.setup import SetUp

    Array: TypeAlias = NDArray[np.float64]

#: Forearm inclinations of the readings (definition). [deg]
HALFWAY_DEG, DOWN_DEG, TURN_DEG = 45.0, 90.0, 40.0
#: Above this the line from shoulder to fingertip is too steep for "above" to mean anything (definition). [deg]
STEEPEST_DEG = 60.0
#: What counts as full reach: this close in time to the furthest reach, and the forearm flatter than this.
#: own judgement, no source [s], [deg]
REACH_S, REACH_DEG = 0.10, 35.0
#: What counts as about halfway down: within this of the forearm's 45 degrees. own judgement, no source [deg]
ABOUT_HALFWAY_DEG = 15.0
#: Step in time for differences. [s]
TICK_S = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """Several numbers read at one instant of one stroke.

    ``sigma`` (m,) is the independent standard deviation, ``by_plane`` (m, n) the change per unit of the plane's
    parameters. ``points`` (6, 2) are the level coordinates read, ``spread`` (12, 12) their covariance
    by marking (zeros for points not marked), ``clock`` the instant, ``frames`` those used. ``shared`` is what else all
    strokes share, a standard deviation: how unsure the curve through key stills is, for a swimmer's strokes are alike.
    """

    values: Array
    sigma: Array
    by_plane: Array
    points: Array
    spread: Array
    clock: float
    frames: tuple[int, ...]
    shared: float = 0.0


def halfway(p: Array) -> Array:
    """At forearm 45: elbow over the lines to fingertip and knuckle [px], their steepness, elbow and wrist [deg]."""
    s, e, w, f, k = (p[..., i, :] for i in (SHOULDER, ELBOW, WRIST, FINGERTIP, KNUCKLE))
    return np.stack(
        [
            height_over_line(e, s, f), height_over_line(e, s, k), line_steepness_deg(s, f), line_steepness_deg(s, k),
            joint_angle_deg(s, e, w), joint_angle_deg(e, w, f),
        ],
        -1,
    )  # fmt: skip


HEIGHT, HEIGHT_KNUCKLE, STEEP, STEEP_KNUCKLE, ELBOW_ANGLE, WRIST_ANGLE = range(6)


def straight_down(p: Array) -> Array:
    """At forearm 90: fingertip ahead of the shoulder. (..., 1) [px]"""
    return np.asarray(p[..., FINGERTIP, :1] - p[..., SHOULDER, :1])


def under_shoulder(p: Array) -> Array:
    """Wrist under the shoulder: elbow angle. (..., 1) [deg]"""
    return joint_angle_deg(p[..., SHOULDER, :], p[..., ELBOW, :], p[..., WRIST, :])[..., None]


def upper_arm_in_trunk(p: Array) -> Array:
    """Direction of the upper arm against hip-to-shoulder, downward positive. (...,) [deg]"""
    s, e, h = (p[..., i, :] for i in (SHOULDER, ELBOW, HIP))
    return (inclination_deg(s, e) - inclination_deg(h, s) + 180) % 360 - 180


def read_halfway(stroke: SetUp, plane: Plane) -> Reading | None:
    """The arm with the forearm halfway down."""
    return _at(stroke, plane, stroke.plan(forearm, HALFWAY_DEG), halfway)


def read_down(stroke: SetUp, plane: Plane) -> Reading | None:
    """The arm with the forearm first straight down."""
    return _at(stroke, plane, stroke.plan(forearm, DOWN_DEG), straight_down)


def read_under(stroke: SetUp, plane: Plane) -> Reading | None:
    """The arm with the wrist under the shoulder.

    Here the elbow opens fast and no still lies beyond, so the join itself is unsure: by the difference that the
    farthest still makes, the usual estimate of the first term left out.
    """
    how = stroke.plan(shoulder_to_wrist, DOWN_DEG)
    reading = _at(stroke, plane, how, under_shoulder)
    if reading is None or how is None or how.curves is not None or len(how.rows) < 3:
        return reading
    off = np.abs(shoulder_to_wrist(stroke.level[how.rows]) - DOWN_DEG)
    near = np.sort(np.argsort(off)[:2])
    fewer = replace(how, rows=how.rows[near], clock=how.clock[near])
    straight = under_shoulder(read(fewer, stroke.level[fewer.rows])[0])
    return replace(reading, shared=abs(float(reading.values[0] - straight[0])))


def read_turn(stroke: SetUp, plane: Plane, start: float, start_sigma: float) -> Reading | None:
    """How far the upper arm turns against the trunk while the forearm turns its first 40 degrees.

    Parameters
    ----------
    stroke : SetUp
    plane : Plane
    start, start_sigma : float
        Clock of the end of extension and its uncertainty, which the result carries; key stills start at their first
        still. [s]
    """
    arm, level = stroke.arm, stroke.level
    whole = np.flatnonzero(arm.complete & np.isfinite(arm.xy[:, HIP]).all(-1))
    if len(whole) < 2:
        return None
    begin, first = _opening(stroke, whole, start)
    opening = float(forearm(first(level[begin])))
    how = stroke.plan(forearm, opening + TURN_DEG)
    if how is None or not np.isfinite(opening):
        return None
    union = np.unique(np.concatenate([begin, how.rows]))
    i, j = np.searchsorted(union, begin), np.searchsorted(union, how.rows)

    def turned(x: Array) -> tuple[Array, Array, Array]:
        a = first(x[..., i, :, :])
        b, clock = read(how, x[..., j, :, :], forearm(a) + TURN_DEG)
        return (upper_arm_in_trunk(b) - upper_arm_in_trunk(a))[..., None], b, clock

    reading = _propagated(stroke, plane, union, turned)
    if reading is None:
        return None
    if how.curves is None or len(begin) < LEAST_FRAMES:
        # The still of full reach is the last before the fingers tip, or the one after.
        taken = float(reading.clock - arm.clock[begin[0]])
        rate, start_sigma = reading.values / taken, arm.step / 2
    else:
        rate = _by_start(stroke, begin, start, how)
    return replace(reading, sigma=np.hypot(reading.sigma, rate * start_sigma))


def _by_start(stroke: SetUp, begin: NDArray[np.int64], start: float, how: Plan) -> Array:
    """How much the turn changes for each second that its start is moved. (1,) [deg/s]"""
    curve = parabolas(curves_at(start, stroke.arm, begin), stroke.level[begin])
    ends = along(curve, np.array([-TICK_S, TICK_S]))
    goal = forearm(ends) + TURN_DEG
    after = read(how, np.stack([stroke.level[how.rows]] * 2), goal)[0]
    turns = upper_arm_in_trunk(after) - upper_arm_in_trunk(ends)
    return np.diff(turns) / (2 * TICK_S)


def _opening(
    stroke: SetUp, whole: NDArray[np.int64], start: float
) -> tuple[NDArray[np.int64], Callable[[Array], Array]]:
    """Rows and reading of the arm where the turn starts: at an instant of a track, or in the first still."""
    arm = stroke.arm
    near = np.flatnonzero(arm.complete & (np.abs(arm.clock - start) < half_width(arm.step)))
    if stroke.dense and len(near) >= LEAST_FRAMES:
        curves = curves_at(start, arm, near)
        return near, lambda x: parabolas(curves, x)[..., 0, :, :]
    return whole[:1], lambda x: x[..., 0, :, :]


def _at(stroke: SetUp, plane: Plane, how: Plan | None, values: Callable[[Array], Array]) -> Reading | None:
    if how is None:
        return None

    def measured(x: Array) -> tuple[Array, Array, Array]:
        points, clock = read(how, x)
        if how.curves is not None or values is not straight_down:
            return values(points), points, clock
        # Straight down is mostly the last still. There the upper arm is fastest, and joining the measure itself over
        # the inclination comes nearer to the truth than joining the limbs (checked on the demo swimmer).
        return np.einsum("...n,...nm->...m", still_weights(how, x), values(x)), points, clock

    return _propagated(stroke, plane, how.rows, measured)


def _propagated(
    stroke: SetUp, plane: Plane, rows: NDArray[np.int64], measured: Callable[[Array], tuple[Array, Array, Array]]
) -> Reading | None:
    """Value at the marks, first-order error from the marks and slope against the plane's parameters."""
    arm = stroke.arm.part(rows)
    values, points, clock = measured(plane.level(arm.xy))
    if not np.isfinite(points[:NEEDED]).all():
        return None
    used = np.isfinite(arm.xy).all(-1)
    m = len(values)

    def of_marks(x: Array) -> Array:
        full = np.full((*x.shape[:-1], *arm.xy.shape), np.nan)
        full[..., used, :] = x.reshape(*x.shape[:-1], -1, 2)
        read_values, read_points, _ = measured(plane.level(full))
        return np.concatenate([read_values, read_points.reshape(*read_points.shape[:-2], -1)], -1)

    slopes = np.zeros((m + points.size, *arm.xy.shape))
    slopes[:, used, :] = jacobian(of_marks, arm.xy[used].ravel()).reshape(len(slopes), -1, 2)
    both = np.einsum("mkpc,pkl,nlpc->mn", slopes, covariance(arm), slopes, optimize=True)
    steps = plane.steps
    shifts = np.concatenate([np.diag(steps), -np.diag(steps)])
    around = measured(plane.level(arm.xy, shifts[:, None, None]))[0]
    by_plane = (around[: len(steps)] - around[len(steps) :]).T / (2 * steps)
    frames = tuple(int(f) for f in arm.frames)
    sigma, spread = np.sqrt(np.diag(both)[:m]), np.nan_to_num(both[m:, m:])
    return Reading(values, sigma, by_plane, points, spread, float(clock), frames)


def reach_lengths(strokes: Sequence[SetUp]) -> tuple[Array, Array, Array]:
    """The arm from shoulder to fingertip on full-reach frames: lengths [px], their sigma [px], the stroke of each."""

    def reaching(stroke: SetUp, rows: NDArray[np.int64]) -> NDArray[np.bool_]:
        early = np.abs(stroke.arm.clock[rows] - stroke.begins) <= REACH_S
        return early & (forearm(stroke.level[rows]) < REACH_DEG)

    return _lengths(strokes, reaching)


def halfway_lengths(strokes: Sequence[SetUp]) -> tuple[Array, Array, Array]:
    """The same on frames with the forearm about halfway down."""
    return _lengths(strokes, lambda s, rows: np.abs(forearm(s.level[rows]) - HALFWAY_DEG) < ABOUT_HALFWAY_DEG)


def _lengths(
    strokes: Sequence[SetUp], counts: Callable[[SetUp, NDArray[np.int64]], NDArray[np.bool_]]
) -> tuple[Array, Array, Array]:
    lengths, sigmas, numbers = [], [], []
    for stroke in strokes:
        rows = np.flatnonzero(stroke.arm.complete)
        rows = rows[counts(stroke, rows)]
        limbs = np.diff(stroke.level[rows][:, :NEEDED], axis=1)
        lengths.append(np.linalg.norm(limbs, axis=-1).sum(-1))
        sigmas.append(np.hypot(stroke.arm.sigma_px[rows, SHOULDER], stroke.arm.sigma_px[rows, FINGERTIP]))
        numbers.append(np.full(len(rows), stroke.number))
    return np.concatenate(lengths), np.concatenate(sigmas), np.concatenate(numbers)
