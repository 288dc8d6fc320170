"""Marks made from truth, key stills, and the sampler for simulation studies."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.demo.cameras import camera_for
from casebook.demo.cast import CAST
from casebook.demo.plane_truth import INSTANTS, QUANTITIES
from casebook.demo.sampler import ARM, sample_setups
from casebook.demo.truth import make_truth
from casebook.demo.truth_marks import ARM_POINTS, key_still_frames, key_stills, marks_from_truth
from casebook.marks.marks import Origin

SWIMMER = CAST["wren"].swimmer
TRUTH = make_truth("wren", SWIMMER, camera_for("side_under", speed=SWIMMER.speed), np.arange(240) / 60)
NAMES = [f"{name}_r" for name in ARM_POINTS]


def test_exact_marks_are_the_truth_and_unseen_points_are_hidden():
    marks = marks_from_truth(TRUTH, NAMES, sigma_px=0.0)
    seen = TRUTH.visible[:, [TRUTH.index(n) for n in NAMES]] == "visible"
    np.testing.assert_array_equal(np.isfinite(marks.xy).all(-1), seen)
    np.testing.assert_array_equal(marks.hidden, ~seen)
    np.testing.assert_array_equal(marks.xy[seen], TRUTH.xy[:, [TRUTH.index(n) for n in NAMES]][seen])
    assert (marks.origin == Origin.hand).all()


def test_noise_depends_on_seed_frame_and_point_alone():
    whole = marks_from_truth(TRUTH, sigma_px=2.0, seed=4)
    some = marks_from_truth(TRUTH, ["elbow_r", "wrist_l"], [90, 17, 17, 33], sigma_px=2.0, seed=4)
    assert some.frames.tolist() == [17, 33, 90]
    np.testing.assert_array_equal(some.xy, whole.pick(["elbow_r", "wrist_l"], some.frames).xy)
    other = marks_from_truth(TRUTH, sigma_px=2.0, seed=5)
    assert not np.allclose(whole.xy, other.xy, equal_nan=True)


@pytest.mark.parametrize("sigma", [1.0, 4.0])
def test_noise_has_the_stated_size_and_no_bias(sigma):
    off = (marks_from_truth(TRUTH, sigma_px=sigma, seed=1, marked=("visible", "occluded")).xy - TRUTH.xy).ravel()
    off = off[np.isfinite(off)]
    assert len(off) > 5000
    # Three standard errors of a standard deviation and of a mean.
    assert off.std() == pytest.approx(sigma, rel=3 / np.sqrt(2 * len(off)))
    assert abs(off.mean()) < 3 * sigma / np.sqrt(len(off))


def test_occluded_points_can_be_marked_as_a_coach_judges_them():
    strict = marks_from_truth(TRUTH, ["hip_l"])
    judged = marks_from_truth(TRUTH, ["hip_l"], marked=("visible", "occluded"))
    assert judged.n_marked > strict.n_marked


@pytest.mark.parametrize("side", ["l", "r"])
def test_key_stills_are_before_tipping_halfway_and_straight_down(side):
    stills = key_stills(TRUTH, side)
    assert len(stills) >= 2
    (catch,) = (c for c in TRUTH.catches if c.side == side)
    for still, tip, half, down in zip(
        stills,
        catch.events["end_of_extension"],
        catch.instants["forearm_45"],
        catch.instants["forearm_90"],
        strict=True,
    ):
        assert still.reach / 60 <= tip < (still.reach + 1) / 60
        assert abs(still.halfway / 60 - half) <= 0.5 / 60
        assert (still.straight_down - 1) / 60 < down <= still.straight_down / 60
        assert still.reach < still.halfway < still.straight_down


def test_two_strokes_of_three_stills_and_four_points_are_24_clicks():
    frames = key_still_frames(TRUTH, "r", strokes=2)
    marks = marks_from_truth(TRUTH, NAMES, frames)
    assert marks.n_marked == 24


def test_sampled_set_ups_are_the_same_for_the_same_seed():
    a, b = sample_setups(24, 3), sample_setups(24, 3)
    np.testing.assert_array_equal(a.xy, b.xy)
    assert not np.array_equal(a.values["hand_ahead_m"], sample_setups(24, 4).values["hand_ahead_m"])


def test_sampled_pixels_and_plane_truth_agree_at_a_high_frame_rate():
    sample = sample_setups(120, 8, fps=(500.0,))
    assert len(sample) == 120 and sample.xy.shape[2:] == (len(ARM), 2)
    for k in range(len(sample)):
        turn, sign = np.radians(sample.tilt_deg[k]), sample.sign[k]
        x, y = np.moveaxis(sample.xy[k] - sample.water_px[k], -1, 0)
        forward = sign * (x * np.cos(turn) + y * np.sin(turn)) / sample.px_per_m[k]
        up = (x * np.sin(turn) - y * np.cos(turn)) / sample.px_per_m[k]
        points = dict(zip(ARM, np.stack([forward, up], -1).swapaxes(0, 1), strict=True))
        known = np.isfinite(sample.times[k])
        at = {
            name: np.array(
                [np.interp(sample.instants["forearm_90"][k], sample.times[k][known], c[known]) for c in xy.T]
            )
            for name, xy in points.items()
        }
        assert at["fingertip"][0] - at["shoulder"][0] == pytest.approx(sample.values["hand_ahead_m"][k], abs=2e-4)
        assert at["elbow"][0] == pytest.approx(at["wrist"][0], abs=2e-4)
        assert -1.3 < at["fingertip"][1] < at["wrist"][1] < at["elbow"][1] < 0.05


def test_sampled_set_ups_are_varied_and_complete():
    sample = sample_setups(400, 1)
    assert (
        set(sample.side) == {"l", "r"} and set(sample.camera) == {"still", "following"} and set(sample.sign) == {-1, 1}
    )
    for name in QUANTITIES:
        assert np.isfinite(sample.values[name]).all(), name
    for name in INSTANTS:
        assert np.isfinite(sample.instants[name]).all(), name
    height = sample.values["elbow_height_pct"]
    assert height.min() < -2 and height.max() > 10
    inside = (sample.xy >= 0) & (sample.xy < sample.size[:, None, None, :]) | np.isnan(sample.xy)
    assert inside.all(-1).mean() > 0.99
    rows = np.arange(len(sample))
    reach, _, down = sample.key_rows.T
    assert (sample.times[rows, reach] <= sample.end_of_extension_s).all()
    assert (sample.times[rows, down] >= sample.instants["forearm_90"]).all()
    assert np.isfinite(sample.xy[rows, down]).all() and (reach >= 2).all()
