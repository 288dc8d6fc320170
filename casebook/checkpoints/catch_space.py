"""The elbow's bend in space: how far upper arm and forearm leave the picture plane, and what the angle then is.

The angles of the catch are as seen from the side. A side view shortens a limb that points toward the camera or away,
and with it the angle: on the demo swimmer by up to 50 degrees. Here each seen angle gets its estimate in space, by how
long the limbs look against how long they are; where that cannot be told it says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from casebook.checkpoints.catch_reading import Reading
from casebook.checkpoints.catch_words import looks_shortened
from casebook.plane.foreshorten import JointInSpace, SeenJoint, joint_in_space
from casebook.plane.segments import (
    SegmentLengths,
    longest_seen,
    of_whole,
    other_side,
    segment_lengths,
    usual_ratio,
)
from casebook.stroke.arm import ELBOW, SHOULDER, WRIST

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.clip.shot import Shot
    from casebook.plane.measured import Measured
    from casebook.plane.plane import Plane
    from casebook.stroke.setup import SetUp

    Array: TypeAlias = NDArray[np.float64]

LIMBS = ("upper_arm", "forearm")
_WHOLE = (*LIMBS, "hand")
#: In space: each quantity and the one that is seen from the side.
SPACE_OF = {"elbow_angle_45_space_deg": "elbow_angle_45_deg", "elbow_angle_under_space_deg": "elbow_angle_under_deg"}
#: The body rolls, so the shoulder where the elbow is read lies nearer to the camera or farther away than the limbs did
#: where they looked longest: 0.1 m at 4 m. Relative, common to all strokes. own estimate, no source
DEPTH_SIGMA = 0.025
#: Which way shoulder (row: outward, inward) and wrist (column) lie from the elbow. With the hand under the shoulder the
#: elbow is wider than both: the joint's hinge hardly allows another way, and a hand that crosses under the body with
#: the elbow is rare (common practice, no source). With the forearm halfway down a roll that carries
#: the arm as a whole is a little more usual than an elbow out to one side (own judgement, no source).
INWARD = {
    "elbow_angle_45_space_deg": ((0.2, 0.3), (0.3, 0.2)),
    "elbow_angle_under_space_deg": ((0.02, 0.02), (0.06, 0.90)),
}
#: How far upper arm and forearm leave the plane before anything is measured, standard deviations. With the forearm
#: halfway down the upper arm still points nearly along the line of swimming. own judgement, no source [deg]
USUAL_OUT = {"elbow_angle_45_space_deg": (10.0, 20.0), "elbow_angle_under_space_deg": (25.0, 25.0)}
#: How differently the picture scales the two arms, which pass half a shoulder breadth nearer and farther than the
#: middle: 0.2 m at 4 m either way. computed
ARMS_APART = 0.10
#: A limb that seems further out of the plane than this is not turned into an angle in space. Chosen from measured
#: errors (``tests/checkpoints/test_foreshortening_table.py``): with 50 as the limit, limbs truly 50 degrees and more
#: out came through whose intervals held the truth in 62 %; with 45 all intervals hold it in over 89 %. [deg]
MOST_OUT_DEG = 45.0
#: Nor is one whose two solutions or errors leave a larger standard deviation: an interval of 50 degrees holds every arm
#: that a coach might see. own judgement, no source [deg]
MOST_SIGMA_DEG = 12.5
#: Seen longer than it can be by so many standard deviations: marks or the known length are wrong.
TOO_LONG_SIGMAS = 3.0
#: Focal length under water, as a share of the picture's longer side, of a phone or action camera in its straight-line
#: mode (60 to 80 degrees across in air), and its relative standard deviation. own estimate, no source
USUAL_FOCAL, FOCAL_SIGMA = 1.0, 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """Where the camera looks square-on, in level coordinates (2,) [px]; its distance in pixels, relative ``sigma``."""

    centre: Array
    distance_px: float
    sigma: float


@dataclass(frozen=True, slots=True, eq=False)
class ArmInSpace:
    """What is needed to leave the picture plane.

    ``limbs`` are their lengths [px], ``sight`` the line of sight; ``near``: the arm is the one toward the camera, so
    that its outer side faces it.
    """

    limbs: SegmentLengths
    sight: Sight
    near: bool


def sight_of(shot: Shot, plane: Plane, camera_distance: Measured | None = None) -> Sight:
    """The line of sight: by the camera's distance where it and a scale are known, else by a usual focal length.

    ``camera_distance`` runs from the lens to the swimmer's plane, along the water for a camera under water. [m]
    """
    size = np.asarray(shot.clip.size, float)
    centre = plane.level((size - 1) / 2)
    if camera_distance is not None and plane.has_scale:
        relative = float(np.hypot(camera_distance.sigma / camera_distance.value, plane.scale_sigma))
        return Sight(centre, camera_distance.value / plane.m_per_px, relative)
    return Sight(centre, USUAL_FOCAL * float(size.max()), FOCAL_SIGMA)


def limbs_of(
    strokes: Sequence[SetUp], plane: Plane, arm_length: Measured | None, other: SegmentLengths | None = None
) -> SegmentLengths | None:
    """Upper arm and forearm in the picture [px], from every frame of the set-ups; None where nothing shows them.

    Parameters
    ----------
    strokes : sequence of SetUp
    plane : Plane
    arm_length : Measured, optional
        Upper arm, forearm and hand, stated; serves where the plane has a scale. [m]
    other : SegmentLengths, optional
        Of the other arm.
    """
    evidence = [usual_ratio(LIMBS, *LIMBS)]
    for name, (a, b) in zip(LIMBS, ((SHOULDER, ELBOW), (ELBOW, WRIST)), strict=True):
        seen = [np.linalg.norm(s.level[:, a] - s.level[:, b], axis=-1) for s in strokes]
        sigma = [np.hypot(s.arm.sigma_px[:, a], s.arm.sigma_px[:, b]) for s in strokes]
        which = [np.full(len(s.level), s.number) for s in strokes]
        found = strokes and longest_seen(LIMBS, name, *(np.concatenate(part) for part in (seen, sigma, which)))
        evidence += [found] if found else []
        if arm_length is not None and plane.has_scale:
            sigma_px = np.hypot(arm_length.sigma, plane.scale_sigma * arm_length.value) / plane.m_per_px
            evidence.append(of_whole(LIMBS, name, arm_length.value / plane.m_per_px, float(sigma_px), _WHOLE))
    if other is not None:
        evidence += other_side(LIMBS, other, ARMS_APART)
    return segment_lengths(LIMBS, evidence) if len(evidence) > 1 else None


def in_space(reading: Reading, arm: ArmInSpace, quantity: str) -> JointInSpace:
    """The elbow of a reading in space, as a key of ``SPACE_OF``."""
    pick = np.zeros((4, 12))
    for row, (far, axis) in enumerate((point, axis) for point in (SHOULDER, WRIST) for axis in (0, 1)):
        pick[row, 2 * far + axis], pick[row, 2 * ELBOW + axis] = 1.0, -1.0
    limbs = reading.points[[SHOULDER, WRIST]] - reading.points[ELBOW]
    sight = (reading.points[[SHOULDER, WRIST]] - arm.sight.centre) / arm.sight.distance_px
    joint = SeenJoint(limbs, pick @ reading.spread @ pick.T, sight, arm.sight.sigma, arm.sight.distance_px)
    known, leads = arm.limbs.widened(DEPTH_SIGMA), np.array(INWARD[quantity])
    leads = leads if arm.near else leads[::-1, ::-1]
    return joint_in_space(joint, known.lengths, known.relative, leads=leads, usual_deg=USUAL_OUT[quantity])


def space_reading(
    reading: Reading, i: int, arm: ArmInSpace, quantity: str
) -> tuple[Reading, JointInSpace] | tuple[str, str]:
    """The elbow in space as a reading of one value, or why not and what to do.

    ``i`` is the place of the seen angle among the reading's values. Its marking error stays with the stroke; all else
    (which way the limbs lead, how long they are, where the camera stands) is alike in every stroke, and shared.
    """
    joint = in_space(reading, arm, quantity)
    for name, out in zip(LIMBS, joint.out, strict=True):
        if out.too_long > TOO_LONG_SIGMAS:
            return (
                f"The {_said(name)} looks longer here than it can be.",
                "Check its marks, the arm's stated length and the known length.",
            )
        if out.deg > MOST_OUT_DEG:
            return looks_shortened(_said(name), out.deg)
    if not joint.sigma_deg <= MOST_SIGMA_DEG:
        farther = max(zip(joint.out, LIMBS, strict=True), key=lambda pair: pair[0].deg)
        return looks_shortened(_said(farther[1]), farther[0].deg)
    own = min(float(reading.sigma[i]), joint.sigma_deg)
    shared = float(np.sqrt(joint.sigma_deg**2 - own**2))
    values = np.array([joint.angle_deg])
    by_plane = np.zeros((1, reading.by_plane.shape[1]))
    turned = replace(reading, values=values, sigma=np.array([own]), by_plane=by_plane, shared=shared)
    return turned, joint


def _said(name: str) -> str:
    return name.replace("_", " ")
