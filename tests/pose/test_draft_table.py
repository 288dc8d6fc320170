"""Drafts by view, before and after: a table of figures, and how long a draft takes against the bare pose model.

Run with ``-m bench -s``. Ways of looking, limits and stated errors were found on other clips: Rowan's, and Heron's but
for the one in murky water under the surface. No number was fitted to a clip of this table. The first run renders clips
for some minutes and keeps them in pytest's cache.
"""

from __future__ import annotations

import time
import warnings
from pathlib import Path

import numpy as np
import pytest
from draft_measures import JOINTS, KnownClip, Measured, bare, demo, measure
from more_clips import MORE

from casebook.marks.draft import make_draft
from casebook.marks.model import fetch_model, find_model

pytestmark = [pytest.mark.pose, pytest.mark.bench, pytest.mark.timeout(3600)]


@pytest.fixture(scope="module")
def model() -> Path:
    fetch_model(say=lambda told: None)
    return find_model()


def row(what: str, got: Measured) -> str:
    joints = " ".join(f"{got.error[name]:5.1f}" for name in JOINTS)
    return (
        f"  {what:<6} {got.found:5.2f} {got.shown:5.2f} {got.median:6.1f}  {joints}  {got.arms:5.2f} {got.legs:5.2f}"
        f" {got.on_nothing:5.2f} {got.rate:6.1f}"
    )


def test_table_by_view(model, request):
    kept = Path(request.config.cache.mkdir("draft_clips"))
    clips = [demo("wren_side", step=2), demo("heron_hard"), *(KnownClip(c.name, c.make(kept)) for c in MORE)]
    print(f"\n\n{'':8} found shown median  {' '.join(f'{n[:5]:>5}' for n in JOINTS)}   arms  legs   dry   rate")
    print("median distance in % of stature; arms, legs: share of frames with names exchanged; dry: arms drawn that are")
    print("above the surface; rate: cycles a minute from the wrist on the near side")
    for known in clips:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)
            before = measure(*bare(known, model))
            made = known.draft(model)
            after = measure(made.marks, known)
        report = made.report
        z = np.abs(made.marks.xy - known.truth[0]) / made.marks.sigma_px[..., None]
        held = (z[known.truth[1] & np.isfinite(made.marks.xy[..., 0])] <= 2).mean()
        print(f"{known.name} ({known.shot.view}; {known.plan['swimmer']['rate']:.0f} cycles a minute)")
        print(row("before", before))
        print(row("after", after))
        print(
            f"         looked at again {report.share_again:.2f}, looks a frame {report.looks / report.frames:.2f}, "
            f"within two standard deviations {held:.2f}",
            flush=True,
        )


def test_time_of_a_draft_against_the_bare_model(model):
    for name in ("rowan_above", "wren_side"):
        known = demo(name, stop=90)
        for frame in known.frames.tolist():
            known.shot.clip.frame(frame)
        spent = {"bare": 0.0, "draft": 0.0}
        report = None
        for _ in range(2):
            began = time.perf_counter()
            bare(known, model)
            between = time.perf_counter()
            report = make_draft(known.shot, known.frames, model=model, tell=lambda n, of: None).report
            spent["bare"] += between - began
            spent["draft"] += time.perf_counter() - between
        assert report is not None
        looks = report.looks / report.frames
        ratio = spent["bare"] / spent["draft"]
        print(
            f"\n{name}: {ratio:.2f} of the bare model's frames a second with {looks:.2f} looks a frame, "
            f"{ratio * looks:.2f} where the first look is believed; {report.share_again:.2f} looked at again"
        )
