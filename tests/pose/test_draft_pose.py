"""The real pose model on the demo swimmer, whose true points are known. Fetches the model once."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.clip.shot import Shot
from casebook.marks.draft import LANDMARKS, draft
from casebook.marks.marks import Marks, Origin
from casebook.marks.model import fetch_model, find_model
from casebook.marks.store import MarkStore
from casebook.resources import shipped

pytestmark = pytest.mark.pose

CLIP = "rowan_side"


@pytest.fixture(scope="module")
def model():
    fetch_model()
    return find_model()


@pytest.fixture(scope="module")
def shot():
    with Clip(shipped("demo_clips") / f"{CLIP}.mp4") as clip:
        yield Shot(CLIP, clip, "side_under", "right", 0, clip.n_frames)


@pytest.fixture(scope="module")
def drafted(model, shot) -> Marks:
    """Sixteen frames spread over the clip."""
    frames = np.unique(np.linspace(0, shot.stop - 1, 16).astype(int))
    return draft(shot, frames, model=model)


@pytest.fixture(scope="module")
def truth(drafted) -> np.ndarray:
    """True places of the drafted points on the drafted frames, NaN where not in sight. Shape (F, P, 2) [px]"""
    xy = np.full(drafted.xy.shape, np.nan)
    row = {str(f): i for i, f in enumerate(drafted.frames)}
    with (shipped("demo_clips") / f"{CLIP}.truth.csv").open(encoding="utf-8", newline="") as stream:
        lines = (line for line in stream if not line.startswith("#"))
        for r in csv.DictReader(lines):
            if r["frame"] in row and r["point"] in drafted.points and r["visible"] == "visible":
                xy[row[r["frame"]], drafted.index(r["point"])] = float(r["x_px"]), float(r["y_px"])
    return xy


def length_px(truth: np.ndarray, points: tuple[str, ...]) -> float:
    """The demo swimmer's length from ear to heel, a little under his stature. [px]"""
    ears, heels = ([points.index(f"{name}_{side}") for side in "lr"] for name in ("ear", "heel"))
    pairs = np.linalg.norm(truth[:, ears, None] - truth[:, None, heels], axis=-1)
    return float(np.nanmedian(pairs))


def test_the_swimmer_is_found_on_most_frames(drafted):
    found = np.isfinite(drafted.xy[..., 0]).any(1).mean()
    print(f"\nfound on {found:.0%} of {len(drafted.frames)} frames")
    assert found >= 0.7


def test_drafted_points_are_near_the_true_ones(drafted, truth):
    # Source: the demo swimmer's own truth. The bound, 5 % of ear to heel, is loose on purpose: it tells a draft from
    # a body found elsewhere, turned round, or moved by a wrong cut-out, and says nothing about real pools.
    error = np.linalg.norm(drafted.xy - truth, axis=-1)
    length = length_px(truth, drafted.points)
    share = np.nanmedian(error) / length
    print(f"\nmedian error {np.nanmedian(error):.1f} px, {share:.1%} of the {length:.0f} px from ear to heel")
    assert np.isfinite(error).sum() > 100
    assert share < 0.05
    for name in ("shoulder", "hip", "knee"):
        columns = [drafted.index(f"{name}_{side}") for side in "lr"]
        assert np.nanmedian(error[:, columns]) < 0.05 * length, name


def test_the_stated_error_is_no_boast(drafted, truth):
    # Median distance of a two-dimensional normal error is 1.18 standard deviations per coordinate; half as much again
    # is allowed for, since the model's points are not joint centres.
    error = np.linalg.norm(drafted.xy - truth, axis=-1)
    assert np.nanmedian(error / drafted.sigma_px) < 1.5 * 1.18


def test_a_frame_gets_the_same_draft_alone_and_in_a_cut_out_a_near_one(model, shot, drafted):
    frame = int(drafted.frames[np.isfinite(drafted.xy[..., 0]).any(1)][0])
    row = drafted.frames.tolist().index(frame)
    alone = draft(shot, [frame], model=model)
    np.testing.assert_allclose(alone.xy[0], drafted.xy[row], atol=1e-6)
    x, y = drafted.xy[row, :, 0], drafted.xy[row, :, 1]
    box = (np.nanmin(x) - 80, np.nanmin(y) - 80, np.nanmax(x) + 80, np.nanmax(y) + 80)
    cut = draft(shot, [frame], box=box, model=model)
    assert np.nanmedian(np.linalg.norm(cut.xy[0] - drafted.xy[row], axis=-1)) < 12


def test_a_draft_goes_into_the_store_under_the_coachs_marks(drafted, shot, tmp_path):
    frame = int(drafted.frames[np.isfinite(drafted.xy[..., 0]).any(1)][0])
    with MarkStore(tmp_path / "side.csv", shot.clip.times, by="JS") as store:
        store.put(frame, "hip_r", 1.0, 2.0)
        store.put_marks(drafted, by="")
        assert store.marks.at(frame)["hip_r"] == (1.0, 2.0)
        others = store.marks.origin[store.marks.origin > 0]
        assert (others == Origin.drafted).sum() >= len(others) - 1 > 100
        assert set(store.marks.points) <= set(LANDMARKS)


def test_an_empty_picture_has_no_swimmer(model, shot):
    from casebook.marks.landmarker import Landmarker

    with Landmarker(model) as landmarker:
        assert np.isnan(landmarker.see(np.zeros((540, 960, 3), np.uint8))).all()
