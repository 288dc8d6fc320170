"""What a clip is good for: frame rate, blur, size, tilt, framing."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.clip.quality import (
    NEEDS,
    blur_m,
    clip_quality,
    edge_width_px,
    fastest_px_s,
    frame_pct,
    interval_sigma_pct,
)


@pytest.mark.parametrize(("fps", "pct"), [(25, 3.33), (30, 2.78), (50, 1.67), (60, 1.39), (120, 0.69), (240, 0.35)])
def test_one_picture_as_a_share_of_a_cycle_of_1_2_s(fps, pct):
    """Computed, as printed to two decimals: 1 / fps / 1.2 s."""
    assert frame_pct(fps) == pytest.approx(pct, abs=0.005)


def test_a_time_rounded_at_both_ends_is_off_by_a_picture_over_the_root_of_six():
    """Computed 0.68 % at 50 and 0.14 % at 240 pictures a second; and by drawing."""
    assert interval_sigma_pct(50) == pytest.approx(0.68, abs=0.005)
    assert interval_sigma_pct(240) == pytest.approx(0.14, abs=0.005)
    rng = np.random.default_rng(0)
    a, b = rng.uniform(0, 10, (2, 200_000))
    off = (np.round(b * 50) - np.round(a * 50)) / 50 - (b - a)
    assert 100 * off.std() / 1.2 == pytest.approx(interval_sigma_pct(50), rel=0.01)


@pytest.mark.parametrize(
    ("speed", "exposure", "mm"),
    [(2, 1 / 60, 33.3), (2, 1 / 500, 4.0), (4, 1 / 250, 16.0), (6, 1 / 60, 100), (6, 1 / 2000, 3)],
)
def test_blur_is_speed_times_exposure(speed, exposure, mm):
    """Computed: 2 m/s at 1/60 s is 33.3 mm, and so on."""
    assert 1000 * blur_m(speed, exposure) == pytest.approx(mm, abs=0.05)


def test_the_fastest_hand_is_found_and_one_wrong_mark_is_not():
    t = np.arange(120) / 60
    xy = np.stack([300 * np.sin(2 * np.pi * t), 0 * t], -1)
    assert fastest_px_s(t, xy) == pytest.approx(300 * 2 * np.pi, rel=0.02)
    xy[40] += 500
    assert fastest_px_s(t, xy) < 1.05 * 300 * 2 * np.pi
    xy[1::2] = np.nan
    assert np.isnan(fastest_px_s(t, xy))


@pytest.mark.parametrize("streak", [4, 10, 20])
def test_an_edge_is_as_wide_as_the_streak_that_smeared_it(streak):
    """A sharp edge moved evenly over b pixels rises over b: 10 to 90 % of it are 0.8 b."""
    edge = (np.arange(80) >= 40).astype(float)
    smeared = np.convolve(edge, np.ones(streak) / streak, "same")[5:-25]
    assert edge_width_px(smeared) == pytest.approx(0.8 * streak, abs=0.6)
    assert edge_width_px(1 - smeared) == pytest.approx(0.8 * streak, abs=0.6)
    assert np.isnan(edge_width_px(np.ones(30)))


def test_blur_is_told_with_the_exposure_and_whether_it_was_guessed():
    t = np.arange(60) / 60
    hand = np.stack([1200 * t, 0 * t], -1)
    guessed = clip_quality(t, (1280, 720), hand_px=hand)
    assert guessed.blur_px == pytest.approx(1200 / 120)
    assert "10 px (exposure 1/120 s, taken to be half the time between pictures)" in guessed.text()
    stated = clip_quality(t, (1280, 720), hand_px=hand, exposure_s=1 / 600)
    assert stated.blur_px == pytest.approx(2.0)
    assert "2 px (exposure 1/600 s, stated)." in stated.text()


def test_elbow_angle_error_is_that_of_three_marks():
    """By the formula sigma sqrt(2/L1^2 + 2/L2^2 - 2 cos/(L1 L2)), here for a straight arm of 300 px."""
    found = clip_quality(np.arange(9) / 60, (1280, 720), arm_px=300.0).angle_sigma_deg
    a, b = 0.42 * 300, 0.33 * 300
    assert found == pytest.approx(np.degrees(2.0 * np.sqrt(2 / a**2 + 2 / b**2 + 2 / (a * b))))


def test_a_slow_small_tilted_clip_says_what_it_cannot_serve():
    poor = clip_quality(np.arange(60) / 30, (640, 360), arm_px=110.0, tilt_deg=4.2)
    lacking = {n.checkpoint: poor.lacks(n) for n in NEEDS}
    assert "30 pictures a second, 50 needed" in lacking["catch"]
    assert "the arm is 110 px long, 200 needed" in lacking["catch"]
    assert any("turned by 4 degrees" in why for why in lacking["catch"])
    assert not lacking["rate"]
    assert not lacking["breathing"]
    good = clip_quality(np.arange(60) / 60, (1920, 1080), arm_px=320.0, tilt_deg=0.4)
    assert not any(good.lacks(n) for n in NEEDS)


def test_frames_that_cut_the_swimmer_off_are_named():
    marked = np.full((3, 2, 2), 300.0)
    marked[1, 0] = [1279.0, 300.0]
    marked[2, 1] = np.nan
    quality = clip_quality(np.arange(9) / 60, (1280, 720), marked_px=marked, frames=(4, 5, 6))
    assert quality.cut_off == (5,)
    assert "touches the picture's edge on 1 frames (first 5)" in quality.text()


def test_nothing_known_says_nothing():
    nothing = clip_quality(np.full(9, np.nan), (1280, 720))
    assert np.isnan(nothing.fps)
    assert nothing.text() == ""
