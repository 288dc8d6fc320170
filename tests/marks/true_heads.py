"""The true head of a demo swimmer in the picture: every corner of the solid that it is drawn from, neck left out."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace

import numpy as np
from matplotlib.path import Path as Inside

from casebook.clip.shot import Shot
from casebook.demo.body import make_body
from casebook.demo.body_shape import PARTS
from casebook.demo.clip_plans import PLANS
from casebook.demo.truth_files import read_truth
from casebook.demo.water import surface_at
from casebook.resources import shipped


@cache
def truth_and_shot(name):
    """Truth of a demo clip, and a shot of it without pictures."""
    plan, truth = PLANS[name], read_truth(shipped("demo_clips"), name)
    n = len(truth.times)
    clip = SimpleNamespace(n_frames=n, times=truth.times, size=truth.camera.size, path=None)
    return truth, Shot(name, clip, plan.view, truth.camera.direction, 0, n, camera=plan.mode)


def head_in_pool(name, time_s, every=15):
    """Corners of the head's solid (V, 3) [m]."""
    swimmer, body = PLANS[name].scene.swimmer, make_body()
    bones = swimmer.bones(time_s)
    corners = body.posed(bones, swimmer.stature_m)[0][body.part == PARTS.index("head")]
    turn, origin = bones["head"]
    local = (corners - origin) @ turn / swimmer.stature_m * 1.78
    neck = (local[:, 0] < 0.0) & (local[:, 2] > -0.06)
    return corners[~neck][::every]


@cache
def head_in_picture(name, time_s):
    """Where they are seen, (V, 2) [px]. At the water line a window shifts what is below it and nothing above."""
    camera, corners = PLANS[name].scene.camera, head_in_pool(name, time_s)
    xy = camera.project(corners[None], [time_s])[0][0]
    if PLANS[name].view == "side_split":
        dry = corners[:, 2] >= 0
        xy[dry] = replace(camera, refraction="none").project(corners[None], [time_s])[0][0][dry]
    return in_frame(xy, camera.size)


@cache
def image_in_picture(name, time_s):
    """The head's mirror image in the moving surface, (V, 2) [px]: as the renderer draws it."""
    camera, corners = PLANS[name].scene.camera, head_in_pool(name, time_s)
    corners = corners[corners[:, 2] < 0]
    height, along, across = surface_at(corners[:, 0], corners[:, 1], time_s)
    image = corners * [1.0, 1.0, -1.0]
    image += np.stack([2 * image[:, 2] * along, 2 * image[:, 2] * across, 2 * height], -1)
    return in_frame(camera.project(image[None], [time_s])[0][0], camera.size)


def in_frame(xy, size):
    return xy[((xy >= 0) & (xy <= np.array(size) - 1)).all(-1)]


def all_inside(xy, outlines):
    """Whether every place lies inside one of the outlines."""
    return bool(np.any([Inside(o).contains_points(xy) for o in outlines], 0).all()) if len(xy) else True
