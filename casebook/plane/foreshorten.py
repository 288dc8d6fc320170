"""How far a limb leaves the picture plane, and what its joints then are in space.

A limb of known length that looks shorter points toward the camera or away from it. One view does not show which: both
are carried, weighed by whatever is known, and the interval holds both. Near the plane the length says little (a limb
10 degrees out looks 1.5 % shorter), and first-order errors run to infinity; there the angles are found by summing over
all directions that the seen length allows, each with its weight. Depth counts away from the camera.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Array: TypeAlias = NDArray[np.float64]

#: How far limbs leave the plane of a square-on view before anything is measured: about evenly out to here, seldom
#: beyond. A standard deviation. own judgement, no source [deg]
USUAL_OUT_DEG = 25.0
#: No limb's length is known better than this from one frame to another: joint centres wander under the skin.
#: own judgement, no source
LEAST_RELATIVE = 0.004
#: Directions tried for each limb, and how many of them are kept, each as likely as the others.
_FINE_DEG, _KEPT = 0.5, 24
#: Gauss-Hermite nodes for a normal variable: of the angle in the plane, and of the line of sight.
_NODES, _SIGHT_NODES = 5, 3
#: Nothing is known of whether a limb leads toward the camera or away from it.
EITHER_WAY = ((0.25, 0.25), (0.25, 0.25))


@dataclass(frozen=True, slots=True)
class OutOfPlane:
    """How far a limb leaves the picture plane, toward the camera or away: median and 95 % interval. [deg]

    ``too_long`` says by how many standard deviations the limb looks longer than it can be; 0 where it does not.
    """

    deg: float
    low: float
    high: float
    too_long: float


@dataclass(frozen=True, slots=True, eq=False)
class SeenJoint:
    """A joint as the picture shows it.

    Attributes
    ----------
    limbs : (2, 2) float array
        From the joint to the far end of each of its two limbs, in level coordinates; any unit of length.
    covariance : (4, 4) float array
        Of ``limbs.ravel()``: marking and reading. The mark of the joint moves both limbs at once.
    sight : (2, 2) float array
        Where each far end lies against the spot that the camera looks at square-on, over the camera's distance: the
        tangent of how far the line of sight leaves square-on. Zeros for a camera far away.
    sight_sigma : float
        Relative standard deviation of ``sight``: that of the camera's distance.
    distance : float
        From the camera to the far end of the first limb, in the unit of the limbs: a joint that lies nearer looks
        larger.
    """

    limbs: Array
    covariance: Array
    sight: Array
    sight_sigma: float = 0.0
    distance: float = np.inf


@dataclass(frozen=True, slots=True)
class JointInSpace:
    """A joint's angle in space.

    Attributes
    ----------
    angle_deg, sigma_deg : float
        Mean and standard deviation over all directions that the picture allows; 180 is straight. [deg]
    low, high : float
        95 % interval. [deg]
    out : (OutOfPlane, OutOfPlane)
        Of its two limbs.
    one_side_deg, through_deg : float
        The two solutions: both limbs lead to the same side of the picture plane, toward the camera or both away; or the
        joint lies between them. [deg]
    one_side : float
        Probability of the first.
    """

    angle_deg: float
    sigma_deg: float
    low: float
    high: float
    out: tuple[OutOfPlane, OutOfPlane]
    one_side_deg: float
    through_deg: float
    one_side: float


def out_of_plane_deg(seen: ArrayLike, true: ArrayLike) -> Array:
    """Angle between a limb and the picture plane: cos = seen / true. 0 where it looks as long as it is, or longer.

    Parameters
    ----------
    seen, true : (...) float array
        Lengths in one unit.

    Returns
    -------
    (...) float array [deg]
        0 to 90; toward or away from the camera cannot be told.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.degrees(np.arccos(np.clip(np.asarray(seen, float) / np.asarray(true, float), 0.0, 1.0)))


def out_of_plane_sigma_deg(seen: ArrayLike, true: ArrayLike, sigma_seen: ArrayLike, sigma_true: ArrayLike) -> Array:
    """First-order standard deviation of ``out_of_plane_deg``: relative error of seen / true over the tangent.

    Returns
    -------
    (...) float array [deg]
        Infinite for a limb in the plane, where the seen length has no slope: use ``out_of_plane`` there.
    """
    s, t = np.asarray(seen, float), np.asarray(true, float)
    relative = np.hypot(np.asarray(sigma_seen, float) / s, np.asarray(sigma_true, float) / t)
    with np.errstate(divide="ignore"):
        return np.degrees(relative / np.tan(np.radians(out_of_plane_deg(s, t))))


def angle_in_space_deg(seen_deg: ArrayLike, out_deg: ArrayLike, other_deg: ArrayLike) -> Array:
    """Joint angle in space from the angle seen and how far each limb leaves the plane.

    Parameters
    ----------
    seen_deg : (...) float array
        Joint angle in the picture. [deg]
    out_deg, other_deg : (...) float array
        Of the two limbs, from the joint outward, positive away from the camera, negative toward it. Only their sign
        against each other counts. [deg]

    Returns
    -------
    (...) float array [deg]
        By the scalar product: cos = cos(out) cos(other) cos(seen) + sin(out) sin(other).
    """
    seen, a, b = (np.radians(np.asarray(v, float)) for v in (seen_deg, out_deg, other_deg))
    cos = np.cos(a) * np.cos(b) * np.cos(seen) + np.sin(a) * np.sin(b)
    return np.degrees(np.arccos(np.clip(cos, -1.0, 1.0)))


def angle_in_space_sigma_deg(
    seen_deg: ArrayLike,
    out_deg: ArrayLike,
    other_deg: ArrayLike,
    sigma_seen: ArrayLike,
    sigma_out: ArrayLike,
    sigma_other: ArrayLike,
) -> Array:
    """First-order standard deviation of ``angle_in_space_deg`` from independent errors of its three angles. [deg]

    NaN at a joint straight or folded in space, where the angle has no slope.
    """
    seen, a, b = (np.radians(np.asarray(v, float)) for v in (seen_deg, out_deg, other_deg))
    by_seen = -np.cos(a) * np.cos(b) * np.sin(seen)
    by_a = -np.sin(a) * np.cos(b) * np.cos(seen) + np.cos(a) * np.sin(b)
    by_b = -np.cos(a) * np.sin(b) * np.cos(seen) + np.sin(a) * np.cos(b)
    sine = np.sin(np.radians(angle_in_space_deg(seen_deg, out_deg, other_deg)))
    parts = zip((by_seen, by_a, by_b), (sigma_seen, sigma_out, sigma_other), strict=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        out = np.sqrt(sum((slope * np.asarray(sigma, float)) ** 2 for slope, sigma in parts)) / sine
    return np.where(np.isfinite(out), out, np.nan)


def out_of_plane(
    seen: float, sigma_seen: float, true: float, sigma_true: float, usual_deg: float = USUAL_OUT_DEG
) -> OutOfPlane:
    """How far a limb leaves the plane, its interval holding good near the plane too.

    Parameters
    ----------
    seen, sigma_seen : float
        Length in the picture.
    true, sigma_true : float
        Length of the limb, in the same unit.
    usual_deg : float
        How far it leaves the plane before anything is measured, a standard deviation. [deg]
    """
    limb = _Limb(np.array([seen, 0.0]), sigma_seen, true, sigma_true / true, np.zeros(2), usual_deg)
    return _summed_up(limb)


def joint_in_space(
    joint: SeenJoint,
    lengths: ArrayLike,
    relative: ArrayLike,
    *,
    leads: ArrayLike = EITHER_WAY,
    usual_deg: tuple[float, float] = (USUAL_OUT_DEG, USUAL_OUT_DEG),
) -> JointInSpace:
    """A joint's angle in space, from the seen limbs and their lengths.

    Parameters
    ----------
    joint : SeenJoint
    lengths : (2,) float array
        Of the two limbs, in the unit of ``joint.limbs`` at ``joint.distance`` from the camera.
    relative : (2, 2) float array
        Covariance of their relative errors.
    leads : (2, 2) float array
        Probability, before measuring, that the first limb leads from the joint toward the camera (row 0) or away from
        it (row 1), and the second likewise (columns). Alike where nothing is known; zeros where another view shows it.
    usual_deg : (float, float)
        How far each limb leaves the plane before anything is measured, a standard deviation. [deg]

    Returns
    -------
    JointInSpace
        NaN throughout where a limb is missing.

    Notes
    -----
    Each direction of a limb, seen at an angle to the line of sight, has one true length; it counts by how well that
    fits the known one (normal errors) and by ``usual_deg``. Both limbs together weigh by the covariance of the two
    fits, and the angle in the plane shifts with them where marks move both.
    """
    lengths, relative, leads = (np.asarray(a, float) for a in (lengths, relative, leads))
    if not (np.isfinite(joint.limbs).all() and np.isfinite(lengths).all()):
        nowhere = OutOfPlane(*[np.nan] * 4)
        return JointInSpace(np.nan, np.nan, np.nan, np.nan, (nowhere, nowhere), np.nan, np.nan, np.nan)
    polar = _polar(joint)
    limbs = [
        _Limb(
            joint.limbs[i],
            polar[i, i] ** 0.5,
            lengths[i],
            relative[i, i] ** 0.5,
            joint.sight[i],
            usual_deg[i],
            nearness,
        )
        for i, nearness in ((0, 1 / joint.distance), (1, 0.0))
    ]
    stretch, stretch_weight = _normal_nodes(1.0, joint.sight_sigma, _SIGHT_NODES)
    parts = [_at_sight([limb.seen_along(factor) for limb in limbs], polar, relative, leads) for factor in stretch]
    angle = np.concatenate([p[0] for p in parts])
    weight = np.concatenate([p[1] * w for p, w in zip(parts, stretch_weight, strict=True)])
    same = np.concatenate([p[2] for p in parts])
    weight /= weight.sum()
    # Plain sums: threads of a dot product would cost more than they save on arrays of this size.
    mean = float((weight * angle).sum())
    low, high = _quantiles(angle, weight, (0.025, 0.975))
    return JointInSpace(
        mean,
        float(np.sqrt((weight * (angle - mean) ** 2).sum())),
        low,
        high,
        (_summed_up(limbs[0]), _summed_up(limbs[1])),
        _mean_of(angle, weight * same),
        _mean_of(angle, weight * ~same),
        float(weight[same].sum()),
    )


def sign_carried(out: ArrayLike, low: ArrayLike, known: int, at: int) -> NDArray[np.int64]:
    """Which way a limb leads in every frame of a run, from one frame where it is known.

    A limb that turns goes through the plane before it points to the other side: as long as it is surely out of the
    plane its sign stays.

    Parameters
    ----------
    out, low : (K,) float array
        ``OutOfPlane.deg`` and ``.low`` in frames that follow each other closely. [deg]
    known : int
        +1 away from the camera, -1 toward it, in frame ``at``: another view shows it, or the coach knows.
    at : int

    Returns
    -------
    (K,) int array
        ``known``, or 0 from the first frame on, either way, in which the limb may lie in the plane.
    """
    sure = np.asarray(low, float) > _FINE_DEG
    sure &= np.isfinite(np.asarray(out, float))
    signs = np.zeros(len(sure), np.int64)
    for step in (1, -1):
        k = at
        while 0 <= k < len(sure) and sure[k]:
            signs[k] = known
            k += step
    return signs


@dataclass(frozen=True, slots=True, eq=False)
class _Limb:
    """One limb: ``seen`` (2,) and the error of its length, its ``true`` length and relative error, ``sight`` (2,).

    ``nearness`` is one over the distance of its far end, 0 where its joint's distance is settled otherwise.
    """

    seen: Array
    sigma: float
    true: float
    relative: float
    sight: Array
    usual_deg: float
    nearness: float = 0.0

    def seen_along(self, factor: float) -> _Limb:
        """The same before a camera nearer by a factor."""
        return replace(self, sight=factor * self.sight, nearness=factor * self.nearness)

    def larger(self, out_deg: Array) -> Array:
        """How much larger everything looks at the joint than at the far end, for directions (n,) of the limb."""
        return 1 / (1 - self.nearness * self.true * np.sin(np.radians(out_deg)))

    def misfit(self, out_deg: Array, larger: Array) -> tuple[Array, Array, Array]:
        """Of directions (..., n): flat part (..., n, 2), how much longer it is than fits, that one's sigma (..., n).

        ``larger`` broadcasts against them: how much larger everything looks at the joint than where lengths are known.
        """
        out, true = np.radians(out_deg), self.true * larger
        flat = self.seen + self.sight * (true * np.sin(out))[..., None]
        off = np.linalg.norm(flat, axis=-1) - true * np.cos(out)
        known = max(self.relative, LEAST_RELATIVE) * true * np.cos(out)
        return flat, off, np.hypot(self.sigma, known)

    def weighed(self, larger: Array | None = None) -> tuple[Array, Array]:
        """Directions (n,) from -90 to 90 and their weights (..., n), which sum to 1. [deg]"""
        out = np.arange(-90 + _FINE_DEG / 2, 90, _FINE_DEG)
        _, off, sigma = self.misfit(out, self.larger(out) if larger is None else larger[:, None])
        log = -0.5 * (off / sigma) ** 2 - np.log(sigma) - 0.5 * (out / self.usual_deg) ** 2
        weight = np.exp(log - log.max(-1, keepdims=True))
        return out, weight / weight.sum(-1, keepdims=True)

    def too_long(self) -> float:
        """By how many standard deviations the limb looks longer than it can be."""
        _, off, sigma = self.misfit(np.zeros(1), np.ones(1))
        return max(0.0, float(off[0] / sigma[0]))


def _summed_up(limb: _Limb) -> OutOfPlane:
    out, weight = limb.weighed()
    middle, low, high = _quantiles(np.abs(out), weight, (0.5, 0.025, 0.975))
    return OutOfPlane(middle, low, high, limb.too_long())


def _polar(joint: SeenJoint) -> Array:
    """Covariance (3, 3) of the two seen lengths and of the angle between the limbs [rad]."""
    length = np.linalg.norm(joint.limbs, axis=-1)
    unit = joint.limbs / length[:, None]
    turned = np.stack([-unit[:, 1], unit[:, 0]], -1) / length[:, None]
    slopes = np.zeros((3, 4))
    slopes[0, :2], slopes[1, 2:] = unit
    slopes[2, :2], slopes[2, 2:] = -turned[0], turned[1]
    return np.asarray(slopes @ joint.covariance @ slopes.T)


def _at_sight(
    limbs: list[_Limb], polar: Array, relative: Array, leads: Array
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Angles in space [deg], weights and whether both limbs lead to one side, for one strength of the line of sight."""
    first = _kept(*limbs[0].weighed())
    # The second limb is as much larger or smaller as the first one's direction brings the joint nearer.
    larger = limbs[0].larger(first)
    fine, weights_of = limbs[1].weighed(larger)
    second = np.stack([_kept(fine, w) for w in weights_of])
    flat_a, off_a, s_a = (v[:, None] for v in limbs[0].misfit(first, larger))
    flat_b, off_b, s_b = limbs[1].misfit(second, larger[:, None])
    a, b = np.radians(first)[:, None], np.radians(second)
    true = limbs[0].true * limbs[1].true * larger[:, None] ** 2
    shared = polar[0, 1] + relative[0, 1] * true * np.cos(a) * np.cos(b)
    rho = np.clip(shared / (s_a * s_b), -0.98, 0.98)
    x, y = off_a / s_a, off_b / s_b
    log = (2 * rho * x * y - rho**2 * (x**2 + y**2)) / (2 * (1 - rho**2)) - 0.5 * np.log(1 - rho**2)
    same = (np.sin(a) * np.sin(b)) > 0
    weight = np.exp(log - log.max()) * leads[(a > 0).astype(int), (b > 0).astype(int)]
    turn, spread = _turn_given(polar, x, y, s_a, s_b, rho)
    steps, step_weight = _normal_nodes(0.0, 1.0, _NODES)
    between = np.arctan2(flat_b[..., 1], flat_b[..., 0]) - np.arctan2(flat_a[..., 1], flat_a[..., 0])
    seen = (between - turn)[..., None] + spread[..., None] * steps
    cos = (np.cos(a) * np.cos(b))[..., None] * np.cos(seen) + (np.sin(a) * np.sin(b))[..., None]
    angle = np.degrees(np.arccos(np.clip(cos, -1.0, 1.0)))
    weights = weight[..., None] * step_weight
    return angle.ravel(), weights.ravel(), np.broadcast_to(same[..., None], angle.shape).ravel()


def _turn_given(polar: Array, x: Array, y: Array, s_a: Array, s_b: Array, rho: Array) -> tuple[Array, Array]:
    """Expected error of the angle in the plane, and its standard deviation, once both misfits are given. [rad]"""
    c_a, c_b = polar[2, 0] / s_a, polar[2, 1] / s_b
    slope_x, slope_y = (c_a - rho * c_b) / (1 - rho**2), (c_b - rho * c_a) / (1 - rho**2)
    left = np.maximum(polar[2, 2] - slope_x * c_a - slope_y * c_b, 0.0)
    return slope_x * x + slope_y * y, np.sqrt(left)


def _kept(out: Array, weight: Array) -> Array:
    """Of directions (n,) with weights (n,), some that are each as likely as the others. (_KEPT,) [deg]"""
    return np.interp((np.arange(_KEPT) + 0.5) / _KEPT, np.cumsum(weight) - weight / 2, out)


def _normal_nodes(mean: float, sigma: float, n: int) -> tuple[Array, Array]:
    """Places and weights that stand for a normal variable; one place where it does not vary."""
    if sigma == 0:
        return np.array([mean]), np.ones(1)
    places, weights = np.polynomial.hermite_e.hermegauss(n)
    return mean + sigma * places, weights / weights.sum()


def _quantiles(values: Array, weights: Array, shares: tuple[float, ...]) -> tuple[float, ...]:
    order = np.argsort(values)
    reached = np.cumsum(weights[order]) - weights[order] / 2
    return tuple(float(q) for q in np.interp(shares, reached / weights.sum(), values[order]))


def _mean_of(values: Array, weights: Array) -> float:
    total = weights.sum()
    return float((weights * values).sum() / total) if total > 0 else np.nan
