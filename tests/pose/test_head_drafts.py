"""Heads covered by the pose model alone: no mark of the coach, every head still hidden."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.marks.faces import head_regions
from casebook.marks.head_covers import drafts_for
from casebook.marks.marks import Marks
from casebook.resources import shipped

sys.path.append(str(Path(__file__).parents[1] / "marks"))

from true_heads import all_inside, head_in_picture, truth_and_shot

pytestmark = pytest.mark.pose
NOTHING = Marks.empty(("crown",), [0])


@pytest.mark.parametrize("name", ["rowan_above", "rowan_front"])
def test_the_whole_head_lies_in_a_cover_made_from_drafts(name):
    truth, shot = truth_and_shot(name)
    with Clip(shipped("demo_clips") / f"{name}.mp4") as clip:
        drafts, why = drafts_for(replace(shot, clip=clip), NOTHING, tell=lambda *_: None)
    assert not why and drafts is not None
    found = head_regions(shot, NOTHING, drafts)
    assert found.weak.all(), "whatever the model says is looked at"
    looked_at = 0
    for frame in range(0, len(truth.times), 3):
        xy = head_in_picture(name, float(truth.times[frame]))
        if len(xy) and np.isfinite(found.outline[frame, 0, 0]):
            looked_at += 1
            assert all_inside(xy, [found.outline[frame]]), frame
    assert looked_at > 0.9 * len(truth.times) / 3


def test_without_the_model_marks_alone_have_to_do(monkeypatch):
    monkeypatch.setenv("CASEBOOK_POSE_MODEL", "/no/such/model.task")
    _, shot = truth_and_shot("rowan_above")
    drafts, why = drafts_for(shot, NOTHING)
    assert drafts is None and "marks alone" in why
