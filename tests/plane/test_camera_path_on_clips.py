"""The path of the camera of two demo clips, from the colour changes of the rope marked now and then and followed."""

from __future__ import annotations

import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.clip.shot import Shot
from casebook.demo.clip_plans import PLANS
from casebook.demo.pool import ROPE_BLOCK_M, ROPE_Y_M
from casebook.demo.rope import BEAD_M
from casebook.demo.water import surface_at
from casebook.marks.fixed import FixedMark
from casebook.marks.follow_fixed import follow_fixed
from casebook.marks.marks import Origin
from casebook.plane.path_of import path_of
from casebook.plane.plane import Plane
from casebook.resources import shipped

#: A coach marks each place when it comes, when it goes, and every so many frames between.
EVERY, SIGMA_PX = 8, 1.0


def marked(name: str, start: int, stop: int) -> list[FixedMark]:
    """The first bead after each change of colour, as the scene has it, with a coach's error."""
    plan, random = PLANS[name], np.random.default_rng(0)
    camera, marks = plan.scene.camera, []
    away = abs(camera.position[1])
    for block in range(-8, 16):
        x, seen = block * ROPE_BLOCK_M + BEAD_M / 2, []
        for frame in range(start, stop):
            t = plan.times[frame]
            z = 0.7 * surface_at(np.array([x]), np.array([ROPE_Y_M]), t)[0][0]
            xy = camera.project(np.array([[x, ROPE_Y_M, z]]), t)[0][0]
            if 8 < xy[0] < camera.size[0] - 8:
                seen.append((frame, xy))
        for i in sorted({0, len(seen) - 1, *range(0, len(seen), EVERY)}) if len(seen) > 2 else []:
            frame, xy = seen[i]
            at = xy + random.normal(0, SIGMA_PX, 2)
            ratio = away / (away + ROPE_Y_M)
            marks.append(FixedMark(frame, f"rope change {block}", *at, SIGMA_PX, Origin.hand, "", ratio, 0.01))
    return marks


@pytest.mark.parametrize(
    ("name", "start", "stop", "within_m"), [("rowan_pan", 0, 90, 0.008), ("rowan_side", 60, 140, 0.015)]
)
def test_place_beside_the_swimmer_stays_fixed_to_the_pool(name, start, stop, within_m):
    plan = PLANS[name]
    camera, frames = plan.scene.camera, np.arange(start, stop)
    marks = marked(name, start, stop)
    with Clip(shipped("demo_clips") / f"{name}.mp4") as clip:
        shot = Shot("pass", clip, plan.view, camera.direction, start, stop, camera=plan.mode)
        followed = follow_fixed(shot, marks)
        path = path_of(shot, [*marks, *followed])
    assert len(followed) > 2 * len(marks)
    assert all(m.origin == Origin.tracked for m in followed)
    # A place that swims along 0.4 m under the water; truth from the scene, by no measuring code.
    x = plan.scene.swimmer.speed * plan.times[frames] + 0.5
    xy = camera.project(np.stack([x, 0 * x, 0 * x - 0.4], -1), plan.times[frames])[0]
    plane = Plane.given(1, m_per_px=abs(camera.position[1]) / camera.focal_px, path=path)
    off = plane.pool_x(xy, frames) * plane.m_per_px - x
    off = off[np.isfinite(off)] - np.nanmean(off)
    assert len(off) > 0.9 * len(frames)
    assert np.std(off) < within_m
    # And it says so itself: no surer than it is.
    assert np.std(off) < 2 * np.nanmean(path.sigma_px(frames)) * plane.m_per_px
