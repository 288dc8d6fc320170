"""Is the whole head covered on every frame? Against the solids that the demo clips were drawn from, in every view."""

from __future__ import annotations

import numpy as np
import pytest
from true_heads import all_inside, head_in_picture, image_in_picture, truth_and_shot

from casebook.demo.case import _water
from casebook.demo.clip_plans import PLANS
from casebook.demo.truth_marks import marks_from_truth
from casebook.marks.faces import area, head_regions
from casebook.marks.head_covers import head_covers
from casebook.marks.marks import Marks

ARM = ("shoulder", "elbow", "wrist")
SETS = {
    "everything": None,
    "ears": tuple(f"{p}_{s}" for p in ("ear", *ARM) for s in "lr"),
    "crown": ("crown", *(f"{p}_{s}" for p in ARM for s in "lr")),
    "arms alone": tuple(f"{p}_{s}" for p in ARM for s in "lr"),
}
#: Frames from one that is looked at to the next.
STEP = 11
#: Most of the picture that the head's cover may take, where crown, neck, ear and mouth are marked on every fifth frame.
MOST_SHARE = 0.045


def held(name, found, truth, step):
    """Frames looked at on which the head is in the picture and covered, and on which it is in the picture and not."""
    yes, no = [], []
    for frame in range(0, len(truth.times), step):
        xy = head_in_picture(name, float(truth.times[frame]))
        if len(xy) and np.isfinite(found.outline[frame, 0, 0]):
            (yes if all_inside(xy, [found.outline[frame]]) else no).append(frame)
    return yes, no


@pytest.mark.parametrize("name", PLANS)
@pytest.mark.parametrize(("every", "points"), [(5, "everything"), *((10, name) for name in SETS)])
def test_the_whole_head_lies_in_its_cover_on_every_frame(name, every, points):
    """From marks 2 px off, on every fifth and every tenth frame; only what the picture shows is marked."""
    truth, shot = truth_and_shot(name)
    marks = marks_from_truth(truth, SETS[points], frames=np.arange(0, len(truth.times), every), seed=every)
    found = head_regions(shot, marks)
    yes, no = held(name, found, truth, STEP)
    assert not no and yes
    # After the last mark of a shot, at most, nothing is known.
    assert all(frame > marks.frames.max() or frame < every for frame in found.bare) or name == "rowan_pass"


@pytest.mark.parametrize("name", [n for n in PLANS if not n.endswith(("rear", "split"))])
def test_the_cover_is_not_absurdly_large(name):
    truth, shot = truth_and_shot(name)
    found = head_regions(shot, marks_from_truth(truth, frames=np.arange(0, len(truth.times), 5)))
    shares = [area(o) / (960 * 540) for o in found.outline if np.isfinite(o[0, 0])]
    assert np.mean(shares) < MOST_SHARE


@pytest.mark.parametrize("name", ["rowan_side", "heron_side", "rowan_pan", "heron_hard", "rowan_front", "alder_rear"])
@pytest.mark.parametrize("with_line", [True, False])
def test_the_heads_image_in_the_surface_is_covered_with_and_without_a_water_line(name, with_line):
    truth, shot = truth_and_shot(name)
    n = len(truth.times)
    near = "r" if truth.camera.direction == "right" else "l"
    lines = [_water(truth, f, near) for f in (10, n // 2)] if with_line and shot.sign else []
    found = head_covers(shot, marks_from_truth(truth, frames=np.arange(0, n, 10)), lines)
    seen = 0
    for frame in range(0, n, STEP):
        xy = image_in_picture(name, float(truth.times[frame]))
        outlines = [o for c in found.covers if (o := c.at(frame)) is not None]
        if len(xy) and outlines:
            seen += 1
            assert all_inside(xy, outlines), frame
    assert seen > 5


def test_frames_without_evidence_within_reach_have_no_region_and_are_named():
    truth, shot = truth_and_shot("rowan_side")
    found = head_covers(shot, marks_from_truth(truth, frames=[0, 10, 20, 300, 310]))
    assert set(range(45, 280)) <= set(found.bare)
    assert not set(range(21)) & set(found.bare)
    assert {c.kind for c in found.covers} == {"head", "image"} and len(found.covers) == 4
    assert "left out" in found.told


def test_without_any_mark_nothing_is_known():
    _, shot = truth_and_shot("rowan_side")
    found = head_covers(shot, Marks.empty(("crown",), [0]))
    assert not found.covers and len(found.bare) == 480


def test_what_rests_on_shoulders_alone_is_to_be_looked_at():
    truth, shot = truth_and_shot("rowan_above")
    frames = np.arange(90)
    assert len(head_covers(shot, marks_from_truth(truth, SETS["arms alone"], frames)).weak) == 90
    assert not head_covers(shot, marks_from_truth(truth, SETS["ears"], frames)).weak


def test_a_childs_head_gets_more_room():
    truth, shot = truth_and_shot("rowan_above")
    marks = marks_from_truth(truth)
    areas = [area(np.array(head_covers(shot, marks, minor=m).covers[0].keys[0].corners)) for m in (False, True)]
    assert areas[1] > 1.3 * areas[0]


def test_more_time_to_the_next_mark_makes_the_region_larger():
    truth, shot = truth_and_shot("rowan_above")
    found = head_regions(shot, marks_from_truth(truth, frames=[10, 30]))
    sizes = [area(found.outline[f]) for f in (10, 15, 20, 30)]
    assert sizes[0] < sizes[1] < sizes[2] > sizes[3]
