"""The path of a moving camera against the demo camera that made it: x fixed to the pool comes back in metres."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.clip.shot import Shot, Swim
from casebook.demo.cameras import camera_for
from casebook.errors import CasebookError
from casebook.marks.fixed import FixedMark
from casebook.marks.lines import LineMark
from casebook.marks.scales import LengthMark
from casebook.plane.make import plane_of
from casebook.plane.measured import Measured
from casebook.plane.path_of import path_of
from casebook.plane.plane import Plane

FRAMES, FPS, SPEED, AWAY, BEHIND = 60, 30, 1.5, 3.8, 1.25
TIMES = np.arange(FRAMES) / FPS
ROPE = np.array([[x, BEHIND, z] for x in np.arange(-4, 9, 0.8) for z in (-0.1, -1.2)])
RATIO = AWAY / (AWAY + BEHIND)


def filmed(mode: str, **more: float):
    """A demo camera that follows or turns, and its shot."""
    camera = camera_for("side_under", speed=SPEED, mode=mode, distance_m=AWAY, at_s=FRAMES / FPS / 2, **more)
    clip = SimpleNamespace(n_frames=FRAMES, times=TIMES, size=camera.size)
    return camera, Shot("pass", clip, "side_under", camera.direction, 0, FRAMES, camera=mode)


def seen_on(camera, places: np.ndarray, frames=range(FRAMES), noise: float = 0.0, seed: int = 0, ratio: float = RATIO):
    """Fixed places as a coach marks them, whenever they are in the picture."""
    random, marks = np.random.default_rng(seed), []
    for f in frames:
        xy = camera.project(places, TIMES[f])[0] + random.normal(0, noise, (len(places), 2))
        inside = ((xy > 0) & (xy < np.array(camera.size))).all(-1)
        for i in np.flatnonzero(inside):
            marks.append(FixedMark(f, f"rope {i}", *xy[i], max(noise, 0.01), distance_ratio=ratio, distance_sigma=0.01))
    return marks


def hand(camera, speed: float = 0.4) -> tuple[np.ndarray, np.ndarray]:
    """A hand that moves through the pool: true x and z (F, 2) [m], and where it is seen (F, 2)."""
    t = TIMES - TIMES.mean()
    xyz = np.stack([SPEED + 0.3 + speed * t, np.zeros(FRAMES), -0.4 - 0.2 * np.sin(3 * t)], -1)
    return xyz[:, [0, 2]], camera.project(xyz, TIMES)[0]


@pytest.mark.parametrize("mode", ["following", "panning"])
@pytest.mark.parametrize("roll_deg", [0.0, 3.0])
def test_hand_fixed_to_the_pool_comes_back_in_metres(mode, roll_deg):
    camera, shot = filmed(mode, roll_deg=roll_deg)
    path = path_of(shot, seen_on(camera, ROPE), level_deg=-roll_deg)
    middle = path.reference
    plane = Plane.given(1, m_per_px=AWAY / camera.focal_px, tilt_deg=-roll_deg, path=path)
    true, xy = hand(camera)
    found = plane.pool(xy, np.arange(FRAMES)) * plane.m_per_px
    inside = (xy[:, 0] > 0) & (xy[:, 0] < camera.size[0])
    assert inside.sum() > 30
    # The reference frame is one frame off square, a quarter of a degree.
    np.testing.assert_allclose((found - found[middle])[inside], (true - true[middle])[inside], atol=0.012)


def test_panning_camera_tells_its_focal_length_by_how_places_wander():
    camera, shot = filmed("panning")
    path = path_of(shot, seen_on(camera, ROPE, noise=1.0))
    assert np.exp(path.params[0]) == pytest.approx(camera.focal_px, rel=0.02)
    sigma = np.sqrt(path.covariance[0, 0])
    assert abs(path.params[0] - np.log(camera.focal_px)) < 4 * sigma < 0.05
    told = path_of(shot, seen_on(camera, ROPE[:4], noise=1.0), focal_px=Measured(camera.focal_px, 5.0))
    assert np.exp(told.params[0]) == pytest.approx(camera.focal_px, rel=0.01)


@pytest.mark.parametrize("mode", ["following", "panning"])
def test_camera_errors_on_each_frame_match_random_draws(mode):
    camera, shot = filmed(mode)
    clean = path_of(shot, seen_on(camera, ROPE, frames=range(0, FRAMES, 6), noise=0.0), reference=30)
    kept = clean.frames
    middle = (np.array(camera.size, float) - 1) / 2
    true = clean.carried(np.tile(middle, (len(kept), 1)), kept)[:, 0]
    off, said = [], []
    for seed in range(60):
        marks = seen_on(camera, ROPE, frames=range(0, FRAMES, 6), noise=1.5, seed=seed)
        focal = Measured(camera.focal_px, 0.001 * camera.focal_px) if mode == "panning" else None
        path = path_of(shot, marks, reference=30, focal_px=focal)
        off.append(path.carried(np.tile(middle, (len(kept), 1)), kept)[:, 0] - true)
        said.append(path.sigma_px(kept))
    away = kept != 30
    # 60 draws of 9 frames that hang together.
    ratio = np.std(off, axis=0)[away] / np.mean(said, axis=0)[away]
    assert 0.7 < ratio.mean() < 1.3
    assert np.mean(said, axis=0)[~away] < 1e-3


def test_wrong_distance_of_the_rope_makes_the_pool_pass_too_slowly_and_is_said():
    camera, shot = filmed("following")
    path = path_of(shot, [FixedMark(m.frame, m.name, m.x_px, m.y_px) for m in seen_on(camera, ROPE)])
    assert any("State its distance ratio" in s for s in path.limits)
    plane = Plane.given(1, m_per_px=AWAY / camera.focal_px, path=path)
    x = plane.pool_x(np.tile([640.0, 300.0], (FRAMES, 1)), np.arange(FRAMES)) * plane.m_per_px
    # By hand: the rope at 5.05 m passes at 3.8 / 5.05 of the speed of what is beside the swimmer.
    assert np.polyfit(TIMES, x, 1)[0] == pytest.approx(SPEED * RATIO, rel=1e-3)
    right = Plane.given(1, m_per_px=AWAY / camera.focal_px, path=path_of(shot, seen_on(camera, ROPE)))
    x = right.pool_x(np.tile([640.0, 300.0], (FRAMES, 1)), np.arange(FRAMES)) * right.m_per_px
    assert np.polyfit(TIMES, x, 1)[0] == pytest.approx(SPEED, rel=1e-6)


def test_doubt_about_the_ropes_distance_is_among_the_planes_parameters():
    camera, shot = filmed("following")
    plane = Plane.given(1, m_per_px=AWAY / camera.focal_px, path=path_of(shot, seen_on(camera, ROPE)))
    assert plane.names[-1] == "path_ln_ratio"
    step = np.zeros(len(plane.params))
    step[-1] = 0.01
    frames, places = np.arange(FRAMES), np.tile([640.0, 300.0], (FRAMES, 1))
    speeds = [np.polyfit(TIMES, plane.pool_x(places, frames, s), 1)[0] for s in (0 * step, step)]
    # A rope that is 1 % nearer than thought: the same picture, the camera 1 % slower.
    assert speeds[1] / speeds[0] == pytest.approx(1 - 0.01, abs=2e-4)


def test_lines_and_lengths_of_any_frame_make_one_plane():
    camera, shot = filmed("panning")
    path = path_of(shot, seen_on(camera, ROPE))
    water, pole = [], []
    for f in (5, 30, 55):
        x = SPEED * TIMES[f]
        ends = camera.project(np.array([[x - 0.8, 0, 0], [x + 0.8, 0, 0]]), TIMES[f])[0]
        water.append(LineMark(f, "water", *ends.ravel()))
        ends = camera.project(np.array([[x - 0.5, 0, -0.8], [x + 0.5, 0, -0.8]]), TIMES[f])[0]
        pole.append(LengthMark(f, *ends.ravel(), 1.0, 0.0, what="pole"))
    plane = plane_of(shot, water, pole, path=path)
    assert plane.m_per_px == pytest.approx(AWAY / camera.focal_px, rel=2e-3)
    true, xy = hand(camera)
    found = plane.pool(xy, np.arange(FRAMES)) * plane.m_per_px
    inside = (xy[:, 0] > 0) & (xy[:, 0] < camera.size[0])
    np.testing.assert_allclose((found - found[30])[inside], (true - true[30])[inside], atol=0.012)
    np.testing.assert_allclose(found[inside, 1], true[inside, 1], atol=0.012)
    assert any("taken into the picture of one frame" in s for s in plane.limits)
    assert "places fixed to the pool" in plane.how
    # The same water without the path: its pieces slant with the turning camera.
    assert plane.tilt_sigma_deg < plane_of(shot, water, pole).tilt_sigma_deg


def test_plane_of_one_frame_levels_as_the_pool_does():
    camera, shot = filmed("following")
    shaken = []
    for mark in seen_on(camera, ROPE):
        c, turn, size = (np.array(camera.size) - 1) / 2, 0.02 * np.sin(mark.frame), 1 + 0.01 * np.cos(mark.frame)
        d = size * (np.array([mark.x_px, mark.y_px]) - c)
        x = c[0] + np.cos(turn) * d[0] - np.sin(turn) * d[1]
        y = c[1] + np.sin(turn) * d[0] + np.cos(turn) * d[1]
        shaken.append(FixedMark(mark.frame, mark.name, x, y, 0.5, distance_ratio=RATIO, distance_sigma=0.01))
    path = path_of(shot, shaken)
    plane = Plane.given(1, m_per_px=0.003, tilt_deg=2.0, water_px=(600, 100), path=path).shifted([0, 0, 4.0])
    xy = np.random.default_rng(1).uniform(100, 600, (5, 2))
    for frame in (3, 30, 50):
        own = plane.at(frame)
        assert own.path is None
        np.testing.assert_allclose(own.world(xy), plane.pool(xy, frame) * plane.m_per_px, atol=1e-9)
        assert own.tilt_sigma_deg >= plane.tilt_sigma_deg
    assert plane.at(3).tilt_deg != pytest.approx(plane.at(50).tilt_deg, abs=0.2)


def test_turning_camera_has_no_plane_of_one_frame():
    camera, shot = filmed("panning")
    plane = Plane.given(1, m_per_px=0.003, path=path_of(shot, seen_on(camera, ROPE)))
    with pytest.raises(CasebookError, match="no one scale and tilt"):
        plane.at(4)


def test_still_camera_is_fixed_to_the_pool_and_a_moving_one_without_a_path_is_not():
    still = Plane.given(1, m_per_px=0.003, tilt_deg=2.0, still=True)
    xy = np.random.default_rng(2).uniform(0, 700, (6, 3, 2))
    np.testing.assert_array_equal(still.pool(xy, np.arange(6)[:, None]), still.level(xy))
    assert still.knows_pool
    assert (still.pool_sigma_px(np.arange(6)) == 0).all()
    assert still.at(3) is still
    moving = Plane.given(1, m_per_px=0.003)
    assert not moving.knows_pool
    with pytest.raises(CasebookError, match="cannot be seen against the pool"):
        moving.pool(xy, 0)


@pytest.mark.parametrize(
    ("camera", "place", "still"), [("still", "25 m", True), ("still", "flume", False), ("following", "25 m", False)]
)
def test_plane_knows_from_its_shot_whether_it_stands_still_in_the_water(camera, place, still):
    clip = SimpleNamespace(n_frames=9, times=np.arange(9), size=(1280, 720))
    shot = Shot("pass", clip, "side_under", "right", 0, 9, swim=Swim("swim", place=place), camera=camera)
    assert plane_of(shot).still is still


def test_frames_without_fixed_places_stay_missing_and_loose_ones_are_left_out():
    camera, shot = filmed("following")
    marks = seen_on(camera, ROPE, frames=range(20, 40))
    alone = FixedMark(50, "a tile nobody else saw", 300.0, 300.0)
    path = path_of(shot, [*marks, alone])
    assert path.frames.tolist() == list(range(20, 40))
    assert any("1 frames with fixed places share none" in s for s in path.limits)
    out = path.carried(np.array([[300.0, 300.0], [300.0, 300.0]]), [25, 50])
    assert np.isfinite(out[0]).all()
    assert np.isnan(out[1]).all()
    assert np.isnan(path.sigma_px(50))
    with pytest.raises(CasebookError, match="frame 50"):
        Plane.given(1, path=path).at(50)


def test_place_that_slips_is_named_kept_and_paid_for():
    camera, shot = filmed("following")
    good = seen_on(camera, ROPE, noise=1.0)
    slipping = [
        FixedMark(m.frame, m.name, m.x_px, m.y_px + 0.6 * m.frame, 1.0, distance_ratio=RATIO, distance_sigma=0.01)
        if m.name == "rope 14" else m
        for m in good
    ]  # fmt: skip
    bad = path_of(shot, slipping)
    assert any('"rope 14" moves against the other fixed places' in s for s in bad.limits)
    assert not any("moves against" in s for s in path_of(shot, good).limits)
    assert np.nanmean(bad.sigma_px(bad.frames)) > 1.5 * np.nanmean(path_of(shot, good).sigma_px(bad.frames))


@pytest.mark.parametrize(
    ("marks", "reference", "words"),
    [
        ([], None, "No place fixed to the pool"),
        ([FixedMark(3, "tile", 1.0, 2.0)], None, "is marked on another frame too"),
        ([FixedMark(3, "tile", 1.0, 2.0), FixedMark(4, "tile", 2.0, 2.0)], 9, "reference frame 9"),
    ],
)
def test_too_little_for_a_path_is_refused(marks, reference, words):
    with pytest.raises(CasebookError, match=words):
        path_of(filmed("following")[1], marks, reference=reference)


def test_motion_of_no_known_kind_is_refused():
    with pytest.raises(CasebookError, match='does not move "sideways"'):
        path_of(filmed("following")[1], [FixedMark(3, "tile", 1.0, 2.0)], kind="sideways")
