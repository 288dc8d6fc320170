"""Stroke rate from a few events, from tracks and from pictures, against motions whose rate is known."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from filmed_swimmer import CAST, SEEN, Film
from made_strokes import moment

from casebook.clip.clip import Clip
from casebook.clip.shot import Shot, Stretch
from casebook.demo.truth_files import read_truth
from casebook.marks.marks import Marks
from casebook.resources import shipped
from casebook.stroke.periodic import odd_share, refined, scan
from casebook.stroke.rate import NoRate, Rate
from casebook.stroke.tempo import rate_of_moments, rate_of_picture, rate_of_track


def entries(times, side="r", sigma_s=0.01):
    return [moment("entry", side, t, sigma_s) for t in times]


def test_three_clicked_entries_give_the_rate_in_both_units():
    got = rate_of_moments(entries([1.0, 2.5, 4.0]))
    assert got.cycles_per_min == pytest.approx(40)
    assert got.strokes_per_min == pytest.approx(80)
    assert "80 strokes/min counting each arm (40.0 cycles/min" in got.text()


def test_an_entry_left_out_and_events_of_the_other_arm_keep_one_rate():
    right, left = entries([1.0, 2.5, 5.5, 7.0]), entries([1.8, 3.3], "l")
    got = rate_of_moments([*right, *left, moment("exit", "r", 3.4), moment("exit", "r", 4.9)])
    assert got.cycles_per_min == pytest.approx(40)
    assert got.cycles == 4


def test_the_interval_of_clicked_entries_holds_the_truth_as_often_as_it_says():
    rng = np.random.default_rng(12)
    held = [
        got.low <= 44 <= got.high
        for _ in range(600)
        if (
            got := rate_of_moments(
                entries(np.arange(n := int(rng.integers(2, 7)) + 1) * 60 / 44 + rng.normal(0, 0.02, n), sigma_s=0.02)
            )
        )
    ]
    assert 0.93 < np.mean(held) <= 1.0


def test_rates_that_nobody_swims_point_to_the_slow_motion():
    got = rate_of_moments(entries([0.0, 8.0, 16.0]))
    assert not got
    assert "slow motion" in got.remedy
    assert not rate_of_moments(entries([1.0]))


def series(hz, seconds, shape, noise, rng, step=0.05):
    t = np.arange(0, seconds, step)
    angle = 2 * np.pi * hz * t[:, None] + rng.uniform(0, 2 * np.pi, (1, 12))
    clean = sum(a * np.cos(h * angle + rng.uniform(0, 6, (1, 12))) for h, a in shape.items())
    return clean + noise * rng.normal(0, 1, clean.shape)


@pytest.mark.parametrize("seconds", [6.0, 12.0, 40.0])
def test_the_frequency_of_a_noisy_motion_is_found_within_its_interval(seconds):
    from casebook.plane.propagate import t95

    rng = np.random.default_rng(3)
    held, off = [], []
    for _ in range(60):
        hz = rng.uniform(0.5, 1.1)
        x = series(hz, seconds, {1: 1.0, 2: 0.7, 3: 0.3}, 1.0, rng)
        got = refined(0.05, x, hz * (1 + rng.uniform(-0.3, 0.3) / seconds / hz))
        off.append(got.hz / hz - 1)
        held.append(abs(got.hz - hz) <= t95(got.freedom) * got.sigma_hz)
    assert np.median(np.abs(off)) < 0.02 / seconds
    assert np.mean(held) > 0.93


def test_a_rate_that_wanders_over_minutes_is_followed():
    rng = np.random.default_rng(9)
    t = np.arange(0, 300, 0.05)
    rate = 0.7 + 0.03 * np.sin(2 * np.pi * t / 170)
    phase = 2 * np.pi * np.cumsum(rate) * 0.05
    x = np.cos(phase[:, None] + rng.uniform(0, 6, (1, 6))) + 0.5 * rng.normal(0, 1, (len(t), 6))
    slope = np.polyfit(t, phase, 1)[0] / 2 / np.pi
    assert refined(0.05, x, 0.705).hz == pytest.approx(slope, rel=0.003)


def test_odd_multiples_tell_a_cycle_from_its_half():
    rng = np.random.default_rng(5)
    x = series(0.7, 12, {1: 0.8, 2: 1.0, 4: 0.4}, 0.2, rng)
    whole, half, double = (odd_share(scan(0.05, x, f - 1e-9, f + 1e-6).shares[0]) for f in (0.7, 0.35, 1.4))
    assert whole > 0.3
    assert half < 0.05
    assert double > 0.8


@pytest.mark.parametrize("k", range(len(CAST)))
@pytest.mark.parametrize("view", ["side_under", "front_under"])
def test_a_tracked_arm_gives_the_rate_within_half_a_percent_over_four_cycles(k, view):
    film = Film(CAST[k], view=view, seconds=4.6 * CAST[k].period_s, fps=30.0, marked=SEEN, seed=k)
    truth, marks, shot, _ = film.make()
    got = rate_of_track(shot, marks, "r")
    assert got, got.reason
    true = 60 * np.polyfit(truth.times, truth.angles["phase_r"], 1)[0]
    assert got.cycles_per_min == pytest.approx(true, rel=0.005)
    assert got.low <= true <= got.high


def test_no_marks_and_unknown_slow_motion_are_said():
    _, marks, shot, _ = Film(CAST[0], seconds=3.0).make()
    nothing = rate_of_track(shot, Marks.empty(["wrist_r"], []), "r")
    assert "not marked" in nothing.reason
    slowed = Shot("a", shot.clip, shot.view, shot.direction, 0, 180, stretches=(Stretch(0, 180, None),))
    assert "slowed" in rate_of_track(slowed, marks, "r").reason
    assert "slowed" in rate_of_picture(slowed).reason


def demo(name, start=0, stop=None):
    truth, clip = read_truth(shipped("demo_clips"), name), Clip(shipped("demo_clips") / f"{name}.mp4")
    shot = Shot(
        "a", clip, truth.camera.view, truth.camera.direction, start, stop or clip.n_frames, camera=truth.camera.mode
    )
    inside = slice(start, stop)
    return shot, 60 * np.polyfit(truth.times[inside], truth.angles["phase_l"][inside], 1)[0]


def test_a_raw_clip_of_five_cycles_gives_its_rate_within_half_a_percent():
    shot, true = demo("rowan_side")
    got = rate_of_picture(shot)
    assert got, got.reason
    assert got.cycles_per_min == pytest.approx(true, rel=0.005)
    assert got.low <= true <= got.high
    assert got.cycles == pytest.approx(5.9, abs=0.1)


def test_a_clip_of_two_cycles_says_that_it_is_too_short():
    shot, _ = demo("rowan_side", 100, 270)
    got = rate_of_picture(shot)
    assert not got
    assert "too short" in got.reason


class Drawn:
    """Pictures of one bright spot for each arm that goes round, in place of a file."""

    def __init__(self, hz, seconds, other, fps=25.0):
        t = np.arange(round(seconds * fps)) / fps
        self.times, self.n_frames, self.size, self.times_are_nominal = t, len(t), (160, 90), False
        y, x = np.mgrid[:90, :160]
        self.pictures = []
        for now in t:
            picture = np.full((90, 160), 40.0)
            for arm in (0.0, 0.5):
                turn = 2 * np.pi * (hz * now + arm)
                bright = 150.0 if arm == 0 else other
                spot = (x - 80 - 40 * np.cos(turn)) ** 2 + (y - 45 - 25 * np.sin(turn)) ** 2
                picture += bright * np.exp(-spot / 60)
            self.pictures.append(np.repeat(picture.astype(np.uint8)[..., None], 3, -1))

    def frames(self, start, stop, step):
        yield from self.pictures[start:stop:step]


def drawn_shot(hz, other, seconds=9.0, view="side_under"):
    """``other`` is how bright the second arm is; the first has 150."""
    clip = Drawn(hz, seconds, other)
    return Shot("a", clip, view, "right", 0, clip.n_frames, camera="following")


@pytest.mark.parametrize("hz", [0.42, 0.55, 0.8, 1.1])
def test_arms_that_look_different_give_the_cycle_and_not_its_half(hz):
    got = rate_of_picture(drawn_shot(hz, 10.0))
    assert got.cycles_per_min == pytest.approx(60 * hz, rel=0.005)


def test_where_arms_look_much_alike_both_rates_are_given_and_the_coach_decides():
    shot = drawn_shot(0.5, 40.0, seconds=12.0)
    got = rate_of_picture(shot)
    assert isinstance(got, NoRate)
    assert [round(r.cycles_per_min) for r in got.candidates] == [30, 60]
    assert "Count" in got.remedy
    assert rate_of_picture(shot, Rate.of_strokes(64)).cycles_per_min == pytest.approx(30, rel=0.01)


def test_a_rate_that_only_its_double_could_be_is_no_question():
    # Twice 54 cycles a minute is more than anybody swims.
    assert rate_of_picture(drawn_shot(0.9, 150.0)).cycles_per_min == pytest.approx(54, rel=0.005)


def drifting(rng):
    """Patches of light that wander and change as they like: everything moves, nothing repeats."""
    from scipy.ndimage import gaussian_filter

    field = gaussian_filter(rng.normal(0, 1, (200, 90, 160)), (6, 8, 8))
    return np.clip(128 + 45 * field / field.std(), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("kind", ["noise", "drifting"])
def test_a_picture_in_which_nothing_repeats_is_said_so(kind, seed):
    rng = np.random.default_rng(seed)
    clip = SimpleNamespace(n_frames=200, times=np.arange(200) / 25, size=(160, 90), path=None, times_are_nominal=False)
    grey = rng.integers(0, 255, (200, 90, 160), dtype=np.uint8) if kind == "noise" else drifting(rng)
    pictures = np.repeat(grey[..., None], 3, -1)
    clip.frames = lambda start, stop, step: iter(pictures[start:stop:step])
    got = rate_of_picture(Shot("a", clip, "side_under", "right", 0, 200, camera="following"))
    assert not got
    assert got.reason and got.remedy
