"""The catch against the water from a camera that moves, once places fixed to the pool tell its path."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from casebook.checkpoints.bands import load_bands
from casebook.checkpoints.catch import measure_catch
from casebook.clip.shot import Shot
from casebook.demo.clip_plans import PLANS
from casebook.demo.truth_marks import marks_from_truth
from casebook.marks.fixed import FixedMark
from casebook.plane.path_of import path_of
from casebook.plane.plane import Plane

PLAN = PLANS["rowan_side"]
FRAMES = np.arange(250)
SIGMA_PX = 1.0


def filmed() -> Shot:
    camera = PLAN.scene.camera
    clip = SimpleNamespace(n_frames=len(PLAN.times), times=PLAN.times, size=camera.size)
    return Shot("pass", clip, PLAN.view, camera.direction, 0, len(FRAMES), camera="following")


def rope_marks() -> list[FixedMark]:
    """Rope changes on every other frame, as a coach and a tracker would have them."""
    camera, random, marks = PLAN.scene.camera, np.random.default_rng(3), []
    away = abs(camera.position[1])
    places = np.array([[x, 1.25, z] for x in np.arange(-4, 14, 1.2) for z in (-0.05, -0.9)])
    for frame in FRAMES:
        xy = camera.project(places, PLAN.times[frame])[0] + random.normal(0, SIGMA_PX, (len(places), 2))
        inside = ((xy > 0) & (xy < np.array(camera.size))).all(-1)
        ratio = away / (away + 1.25)
        for i in np.flatnonzero(inside):
            marks.append(
                FixedMark(int(frame), f"rope {i}", *xy[i], SIGMA_PX, distance_ratio=ratio, distance_sigma=0.01)
            )
    return marks


def measured_events(plane: Plane, side: str):
    marks = marks_from_truth(PLAN.truth, frames=FRAMES, sigma_px=SIGMA_PX)
    result = measure_catch(filmed(), marks, plane, bands=load_bands("triathlete"))
    return [e for s in result.strokes if s.side == side for e in s.events if e.event == "catch"]


@pytest.fixture(scope="module")
def bare() -> Plane:
    camera = PLAN.scene.camera
    return Plane.given(1, m_per_px=abs(camera.position[1]) / camera.focal_px, water_px=(480, 120))


def test_without_a_path_a_moving_camera_shows_no_catch(bare):
    events = measured_events(bare, "r")
    assert events
    assert not any(events)


def test_with_a_path_the_catch_comes_when_the_scene_has_it(bare):
    camera = PLAN.scene.camera
    path = path_of(filmed(), rope_marks())
    plane = Plane.given(
        1, m_per_px=abs(camera.position[1]) / camera.focal_px, water_px=tuple(bare.anchor_px), path=path
    )
    found = np.array([e.time_s for e in measured_events(plane, "r") if e])
    truth = next(c for c in PLAN.truth.catches if c.way == "plane" and c.side == "r").events["catch"]
    assert len(found) >= 2
    # One frame is 17 ms. The plane's truth is that of the arm's own distance, the path that of the swimmer's line.
    off = np.abs(found[:, None] - truth).min(1)
    assert off.max() < 0.03
