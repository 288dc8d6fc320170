"""Drafts of the demo swimmers against their truth: found, near, left and right as they are. Needs the pose model.

The bounds are those that a draft must keep to be of use to a coach, with room for another build of the model's library;
they say nothing about real pools.
"""

from __future__ import annotations

import numpy as np
import pytest
from draft_measures import NAMES, bare, columns, demo, distances, measure

from casebook.marks.draft import draft
from casebook.marks.model import fetch_model, find_model

pytestmark = pytest.mark.pose

#: What is looked at of each clip: two and more cycles of the arms, so that their rhythm shows.
CLIPS = {
    "wren_side": demo("wren_side", step=3),
    "heron_side": demo("heron_side", step=3),
    "heron_hard": demo("heron_hard"),
    "rowan_split": demo("rowan_split"),
    "rowan_above": demo("rowan_above"),
    "rowan_front": demo("rowan_front"),
}
EASY_SIDE = ("wren_side", "heron_side", "rowan_split", "rowan_above")


@pytest.fixture(scope="module")
def model():
    fetch_model(say=lambda told: None)
    return find_model()


@pytest.fixture(scope="module")
def drafts(model):
    return {name: known.draft(model) for name, known in CLIPS.items()}


@pytest.fixture(scope="module")
def measured(drafts):
    return {name: measure(drafts[name].marks, known) for name, known in CLIPS.items()}


@pytest.mark.parametrize("name", EASY_SIDE)
def test_from_the_side_in_clear_water_a_draft_is_within_a_fortieth_of_stature(measured, name):
    got = measured[name]
    print(f"\n{name}: found {got.found:.2f}, median {got.median:.2f} %, arms {got.arms:.3f}, legs {got.legs:.3f}")
    assert got.found >= 0.95
    # The aim of the project: 2.5 % of stature, about 4.5 cm.
    assert got.median <= 2.5


@pytest.mark.parametrize("name", CLIPS)
def test_left_and_right_are_exchanged_on_fewer_than_one_frame_in_fifty(measured, name):
    got = measured[name]
    print(f"\n{name}: arms {got.arms:.3f}, legs {got.legs:.3f}")
    # One frame more is let pass where the clip is short.
    most = 0.02 + 1 / len(CLIPS[name].frames)
    assert got.arms <= most and got.legs <= most


@pytest.mark.parametrize("name", ["heron_hard", "rowan_front"])
def test_in_murk_and_head_on_most_frames_get_a_draft_that_is_of_use(measured, name):
    got = measured[name]
    print(f"\n{name}: found {got.found:.2f}, median {got.median:.2f} %")
    assert got.found >= 0.8
    # Twice the aim from the side: what is foreshortened or murky is drafted less well.
    assert got.median <= 5.0


@pytest.mark.parametrize("name", ["rowan_above", "rowan_front"])
def test_where_the_model_by_itself_is_lost_the_draft_is_clearly_better(measured, model, name):
    alone = measure(*bare(CLIPS[name], model, step=3))
    got = measured[name]
    print(f"\n{name}: found {alone.found:.2f} alone, {got.found:.2f}; {alone.median:.1f} % alone, {got.median:.1f} %")
    assert got.found > alone.found
    assert got.median < 0.6 * alone.median


@pytest.mark.parametrize("name", ["wren_side", "heron_side", "rowan_above"])
def test_the_stroke_rate_of_the_drafted_wrist_is_the_swimmers_own(measured, name):
    # With left and right exchanged now and then it comes out doubled.
    true = CLIPS[name].plan["swimmer"]["rate"]
    assert measured[name].rate == pytest.approx(true, rel=0.1)


def test_the_stated_error_is_no_boast(drafts):
    # Two standard deviations are meant to hold 95 % of each coordinate's errors; wren and heron_hard took no part in
    # finding them.
    inside = []
    for name in ("wren_side", "heron_hard"):
        marks, (xy, there, _) = drafts[name].marks, CLIPS[name].truth
        z = np.abs(marks.xy - xy) / marks.sigma_px[..., None]
        inside.append((z[there & np.isfinite(marks.xy[..., 0])] <= 2).mean())
        print(f"\n{name}: {inside[-1]:.3f} of errors within two standard deviations")
    assert min(inside) > 0.9


def test_few_frames_need_a_second_look_in_clear_water(drafts):
    for name in EASY_SIDE:
        report = drafts[name].report
        print(f"\n{name}: {report.text()}")
        assert report.share_again < 0.3
        assert report.frames <= report.looks


def test_hardly_any_arm_is_drawn_that_is_out_of_the_water(drafts):
    # With the model's own word alone every one of them is drawn; what is left are arms it is sure of for several
    # frames. Without the water line as well as with it.
    for name in ("heron_side", "heron_hard", "rowan_front"):
        _, there, height = CLIPS[name].truth
        arm = columns("elbow", "wrist")
        dry = ~there[:, arm] & (height[:, arm] > 0.05)
        drawn = np.isfinite(drafts[name].marks.xy[:, arm, 0])[dry].mean()
        print(f"\n{name}: {drawn:.2f} of {dry.sum()} joints above the surface drawn")
        assert drawn < 0.35


def test_the_swimmer_is_not_mixed_up_with_his_image_in_the_surface(drafts):
    # heron_hard has an image in the surface more than half as strong as the swimmer.
    known = CLIPS["heron_hard"]
    hips = drafts["heron_hard"].marks.xy[:, columns("hip")]
    line = known.water[0]
    assert np.nanmin(hips[..., 1]) > min(line.y0_px, line.y1_px)
    assert np.nanmax(distances(drafts["heron_hard"].marks, known)[:, columns("hip")]) < 0.15


def test_a_box_of_the_coach_leads_to_the_same_swimmer(model, drafts):
    known = CLIPS["wren_side"]
    first = known.frames[:8]
    x, y = known.truth[0][0].T
    box = (np.nanmin(x) - 20, np.nanmin(y) - 20, np.nanmax(x) + 20, np.nanmax(y) + 20)
    boxed = draft(known.shot, first, box, model, lambda n, of: None)
    whole = drafts["wren_side"].marks
    apart = np.linalg.norm(boxed.xy - whole.xy[:8], axis=-1)[:, [NAMES.index("hip_l"), NAMES.index("knee_r")]]
    assert np.nanmedian(apart) < 0.03 * known.stature_px
