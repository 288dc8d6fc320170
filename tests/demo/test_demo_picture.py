"""The demo's pictures against the swimmer's own joints, the water line, and themselves in another order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from casebook.demo.body import make_body
from casebook.demo.cameras import camera_for
from casebook.demo.clip_plans import PLANS
from casebook.demo.figure_layers import layers, mirror_image
from casebook.demo.raster import rasterize
from casebook.demo.render import render
from casebook.demo.scene import LOOKS, Look, Scene
from casebook.demo.swimmer import Swimmer
from casebook.demo.water import BLUE, HIGHEST_M, surface_at, through

SIZE = (320, 180)
#: Joint centres lie well inside the body; the tips of hand and head lie at its skin.
INNER = tuple(f"{p}_{s}" for p in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle") for s in "lr")
AT_SKIN = ("crown", "fingertip_l", "fingertip_r", "toe_l", "toe_r", "heel_l", "heel_r")
SWIMMER = Swimmer(variation=1.0)


def scene(view: str, refraction: str = "none", **look: float) -> Scene:
    camera = camera_for(view, speed=SWIMMER.speed, size=SIZE, refraction=refraction)
    return Scene(SWIMMER, camera, look=replace(Look(), **look))


def silhouette(shot: Scene, time_s: float) -> np.ndarray:
    body = make_body()
    vertices, _ = body.posed(SWIMMER.bones(time_s), SWIMMER.stature_m)
    xy, depth = shot.camera.project(vertices, time_s)
    picture = np.zeros(SIZE[0] * SIZE[1], bool)
    picture[rasterize(xy, depth, body.triangles, SIZE).pixel] = True
    return picture.reshape(SIZE[1], SIZE[0])


def grown(picture: np.ndarray, by: int) -> np.ndarray:
    out = picture.copy()
    for _ in range(by):
        padded = np.pad(out, 1)
        out = padded[1:-1, 1:-1] | padded[:-2, 1:-1] | padded[2:, 1:-1] | padded[1:-1, :-2] | padded[1:-1, 2:]
    return out


@pytest.mark.parametrize(
    ("view", "refraction"), [("side_under", "none"), ("front_under", "none"), ("side_above", "surface")]
)
def test_projected_joints_lie_inside_the_drawn_body(view: str, refraction: str) -> None:
    shot = scene(view, refraction)
    for time_s in 1.0 + np.arange(6) / 6 * SWIMMER.period_s:
        drawn = silhouette(shot, float(time_s))
        for names, slack in ((INNER, 0), (AT_SKIN, 2)):
            joints = np.stack([SWIMMER.joints(time_s)[name][0] for name in names])
            xy, _ = shot.camera.project(joints, time_s)
            column, row = np.rint(xy).astype(int).T
            inside = (column >= 0) & (column < SIZE[0]) & (row >= 0) & (row < SIZE[1])
            assert inside.mean() > 0.8
            assert grown(drawn, slack)[row[inside], column[inside]].all(), time_s


def test_a_frame_is_the_same_whatever_was_drawn_before() -> None:
    shot = scene("side_under")
    first = render(shot, 2.0, 120)
    render(shot, 0.5, 30)
    assert np.array_equal(render(shot, 2.0, 120), first)
    again = Scene(replace(SWIMMER), replace(shot.camera))
    assert np.array_equal(render(again, 2.0, 120), first)


def test_neighbouring_frames_differ_in_grain_and_water() -> None:
    shot = scene("side_under")
    assert not np.array_equal(render(shot, 2.0, 120), render(shot, 2.0, 121))
    assert not np.array_equal(render(shot, 2.0, 120), render(shot, 2.1, 120))


@pytest.mark.parametrize("view", ["side_under", "front_under"])
def test_under_water_nothing_of_the_body_shows_above_the_surface(view: str) -> None:
    shot = scene(view, mirror=0.0)
    behind = np.zeros((SIZE[1], SIZE[0], 3))
    body = make_body()
    hidden = 0
    for time_s in 1.0 + np.arange(8) / 8 * SWIMMER.period_s:
        vertices, _ = body.posed(SWIMMER.bones(float(time_s)), SWIMMER.stature_m)
        eye, axes = shot.camera.pose(float(time_s))
        nearest = vertices[((vertices - eye) @ axes[2]).argmin()]
        # Under a surface that the camera looks up to, still water farther off lies lower in the picture.
        line, _ = shot.camera.project(nearest * [1.0, 1.0, 0.0], float(time_s))
        drawn = list(layers(shot, float(time_s), behind))
        assert len(drawn) == 1
        assert (drawn[0].place[:, 2] < 0).all()
        assert (drawn[0].pixel // SIZE[0]).min() >= np.floor(line[1])
        hidden += int((vertices[:, 2] > 0.1).any())
    assert hidden >= 4  # The recovering arm is above water for much of the cycle, so there was something to hide.


def test_the_mirror_image_lies_behind_the_body_and_above_it() -> None:
    shot = scene("side_under", mirror=0.5)
    (body,) = layers(shot, 1.0, np.zeros((SIZE[1], SIZE[0], 3)))
    mirror = mirror_image(shot, 1.0)
    assert mirror.solid.max() <= 0.5 and (body.solid == 1).all()
    assert (mirror.pixel // SIZE[0]).mean() < (body.pixel // SIZE[0]).mean()


def test_the_submerged_body_appears_higher_through_the_surface() -> None:
    # Source: Snell's law; water looks shallower from above.
    bent, straight = (silhouette(scene("side_above", r), 1.0) for r in ("surface", "none"))
    rows = np.arange(SIZE[1])[:, None]
    assert (rows * bent).max() < (rows * straight).max()


def test_a_window_before_the_lens_enlarges_what_is_under_water_alone() -> None:
    # Source: behind a flat window directions near the axis grow by the refractive index of water, 1.333.
    widths = {}
    for refraction in ("none", "port"):
        shot = scene("side_split", refraction)
        shot = replace(shot, camera=replace(shot.camera, focal_px=0.6 * shot.camera.focal_px))
        wet, _ = layers(shot, 1.0, np.zeros((SIZE[1], SIZE[0], 3)))
        widths[refraction] = np.ptp(wet.pixel % SIZE[0])
    assert 1.30 < widths["port"] / widths["none"] < 1.45


def test_the_hard_look_shows_less_of_the_body_and_more_of_its_mirror_image() -> None:
    easy = scene("side_under")
    behind = np.zeros((SIZE[1], SIZE[0], 3))
    shots = {name: replace(easy, look=look) for name, look in LOOKS.items()}
    contrast = {name: np.abs(next(layers(s, 1.0, behind)).colour - BLUE).mean() for name, s in shots.items()}
    mirrored = {name: mirror_image(s, 1.0).solid.mean() for name, s in shots.items()}
    assert contrast["hard"] < 0.8 * contrast["easy"]
    assert mirrored["hard"] > 2 * mirrored["easy"]


def test_water_takes_red_first_and_ends_in_its_own_colour() -> None:
    white = np.ones((3, 3))
    near, _, far = through(white, np.array([0.5, 3.0, 100.0]), 0.13)
    assert near[0] < near[1] < near[2] < 1
    assert far == pytest.approx(BLUE, abs=0.01)


def test_slopes_of_the_surface_are_those_of_its_height() -> None:
    x, y, step = np.linspace(-3, 3, 41), np.linspace(0, 5, 41), 1e-5
    height, along, across = surface_at(x, y, 1.7)
    assert along == pytest.approx(
        (surface_at(x + step, y, 1.7)[0] - surface_at(x - step, y, 1.7)[0]) / (2 * step), abs=1e-6
    )
    assert across == pytest.approx(
        (surface_at(x, y + step, 1.7)[0] - surface_at(x, y - step, 1.7)[0]) / (2 * step), abs=1e-6
    )
    assert np.abs(height).max() < HIGHEST_M


def test_every_committed_clip_taken_under_water_hides_what_is_above() -> None:
    for plan in PLANS.values():
        shot = plan.scene
        if shot.under:
            *_, body = layers(shot, plan.seconds / 2, np.zeros((shot.camera.size[1], shot.camera.size[0], 3)))
            assert (body.place[:, 2] < 0).all(), plan.name
