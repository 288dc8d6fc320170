"""Measured facts of a demo shot: blur, size and framing from its marks."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from casebook.checkpoints.clip_quality import quality_of
from casebook.clip.shot import Shot
from casebook.demo.cameras import camera_for
from casebook.demo.swimmer import Swimmer
from casebook.demo.truth import make_truth
from casebook.demo.truth_marks import marks_from_truth
from casebook.plane.plane import Plane

FPS = 60.0
SWIMMER = Swimmer()


def filmed(points=None, tilt_sigma_deg=0.3):
    camera = camera_for("side_under", speed=SWIMMER.speed, side="r", distance_m=4.0)
    truth = make_truth("a", SWIMMER, camera, np.arange(160) / FPS)
    clip = SimpleNamespace(
        n_frames=160, times=truth.times, size=camera.size, path=Path("a.mp4"), times_are_nominal=False
    )
    shot = Shot("a", clip, "side_under", "right", 0, 160, camera="following")
    marks = marks_from_truth(truth, points=points, sigma_px=0.0, marked=("visible", "occluded", "above_water"))
    return shot, marks, Plane.given(1, tilt_deg=1.5, tilt_sigma_deg=tilt_sigma_deg), camera


def test_blur_and_size_are_those_of_the_swimmer():
    shot, marks, plane, camera = filmed()
    quality = quality_of(shot, marks, plane)
    assert quality.fps == pytest.approx(FPS)
    assert quality.exposure_guessed
    px_per_m = camera.focal_px / 4.0
    assert quality.arm_px == pytest.approx(SWIMMER.arm_length_m * px_per_m, rel=0.08)
    times = np.arange(160) / FPS
    hand = SWIMMER.joints(times)["fingertip_r"][:, [0, 2]] - np.outer(SWIMMER.speed * times, [1.0, 0.0])
    true = np.quantile(np.linalg.norm(np.diff(hand, axis=0), axis=-1), 0.95) * FPS
    # The near hand swings forward up to 0.7 m nearer than the plane, and looks larger by that.
    assert true < quality.blur_px / quality.exposure_s / px_per_m < 1.25 * true
    assert quality.tilt_deg == pytest.approx(1.5)
    assert quality_of(shot, marks, plane, exposure_s=1 / 500).blur_px == pytest.approx(
        quality.blur_px * (1 / 500) / quality.exposure_s
    )


def test_what_is_not_marked_is_not_told():
    shot, marks, plane, _ = filmed(points=("hip_r",), tilt_sigma_deg=3.0)
    quality = quality_of(shot, marks, plane)
    assert np.isnan([quality.blur_px, quality.arm_px, quality.tilt_deg]).all()
    assert "pictures a second" in quality.text()
