"""The shipped demo clips are what the command that rebuilds them would make."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from casebook.demo.clip_plans import PLANS, SIZE
from casebook.demo.clips import PSNR_DB, encoded, main, psnr_db
from casebook.demo.render import render
from casebook.demo.truth_files import write_truth
from casebook.errors import CasebookError
from casebook.resources import shipped

CLIPS = shipped("demo_clips")
LARGEST_MB = 15.0


def pictures(name: str) -> list[np.ndarray]:
    import av

    with av.open(str(CLIPS / f"{name}.mp4")) as box:
        return [f.to_ndarray(format="rgb24") for f in box.decode(video=0)]


@pytest.mark.parametrize("name", sorted(PLANS))
def test_truth_is_rebuilt_byte_for_byte(name: str, tmp_path: Path) -> None:
    for path in write_truth(tmp_path, PLANS[name].truth):
        assert path.read_bytes() == (CLIPS / path.name).read_bytes(), path.name


@pytest.mark.parametrize(("name", "share"), [("rowan_side", 0.37), ("rowan_above", 0.6), ("heron_hard", 0.8)])
def test_pixels_are_rebuilt_within_the_stated_ratio(name: str, share: float) -> None:
    plan = PLANS[name]
    number = round(share * len(plan.times))
    shown = pictures(name)
    assert len(shown) == len(plan.times)
    anew = render(plan.scene, float(plan.times[number]), number)
    ratio = psnr_db(anew, shown[number])
    assert ratio >= PSNR_DB
    # The frame before is a worse match: the number of the frame is right.
    assert ratio > psnr_db(anew, shown[number - 1])


@pytest.mark.parametrize("name", sorted(PLANS))
def test_clips_have_the_planned_size_rate_and_no_sound(name: str) -> None:
    import av

    plan = PLANS[name]
    with av.open(str(CLIPS / f"{name}.mp4")) as box:
        video = box.streams.video[0]
        assert len(box.streams) == 1
        assert (video.width, video.height) == SIZE
        assert float(video.average_rate) == plan.fps
        assert video.frames == len(plan.times)


def test_all_clips_together_stay_small() -> None:
    total = sum(path.stat().st_size for path in CLIPS.iterdir())
    assert total < LARGEST_MB * 1e6


def test_one_clip_is_long_and_the_readme_says_that_all_is_invented() -> None:
    assert max(plan.seconds for plan in PLANS.values()) >= 8
    readme = (CLIPS / "README.md").read_text("utf-8")
    assert "invented" in readme
    assert all(name in readme for name in PLANS)


def test_encoded_pictures_come_back_in_order_and_alike() -> None:
    import io

    import av

    x, y = np.meshgrid(np.arange(160), np.arange(96))
    waves = [127 + 100 * np.sin((x + 5 * k) / 11.0) * np.cos(y / 17.0) for k in range(12)]
    given = [np.stack([w, 0.5 * w + 40, 255 - w], -1).astype(np.uint8) for w in waves]
    with av.open(io.BytesIO(encoded(iter(given), 30, (160, 96)))) as box:
        back = [f.to_ndarray(format="rgb24") for f in box.decode(video=0)]
    assert len(back) == len(given)
    for k, picture in enumerate(back):
        assert int(np.argmax([psnr_db(g, picture) for g in given])) == k
        assert psnr_db(given[k], picture) >= PSNR_DB


def test_an_unknown_clip_is_named_with_those_that_exist() -> None:
    with pytest.raises(CasebookError, match="rowan_side"):
        main(["--only", "no_such_clip"])
