"""Tracking on the demo clips against the truth of the rendered swimmer, which no part of the tracker sees.

The error model was fitted to ``rowan_side``; the other clips took no part in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from casebook.clip.clip import Clip
from casebook.clip.shot import Shot
from casebook.demo.truth_files import read_truth
from casebook.demo.truth_marks import marks_from_truth
from casebook.marks.marks import Origin
from casebook.marks.track import track
from casebook.resources import shipped

FITTED, UNSEEN = "rowan_side", ("wren_side", "heron_side")
OTHER_VIEWS = ("rowan_front", "rowan_split", "rowan_above")


@dataclass(frozen=True)
class Check:
    """Errors of one clip: of tracked places, of a straight line at the same places [px], and how far sigma holds."""

    clip: str
    between: int
    noise_px: int
    error: np.ndarray
    straight: np.ndarray
    inside: float
    lost: float
    kept_hidden: float
    stature_px: float

    def line(self) -> str:
        """One row of the table."""
        median, far = np.percentile(self.error, [50, 95])
        straight, straight_far = np.percentile(self.straight, [50, 95])
        share = 100 / self.stature_px
        return (
            f"{self.clip:<11} {self.noise_px} px {self.between:>3} | {median:5.2f} {far:6.2f} | {median * share:5.2f} "
            f"{far * share:5.2f} | {straight:6.2f} {straight_far:6.2f} | {100 * self.lost:5.1f} "
            f"{100 * self.inside:6.1f} {100 * self.kept_hidden:6.1f}"
        )


HEAD = "clip        marks  gap | error px 50 95 % | % of stature | straight line px | lost % in 2 sigma % hidden kept %"


def check(name: str, between: int, noise_px: int) -> Check:
    """Hand marks on every (between + 1)th frame where the point is in sight; the frames between are judged."""
    truth = read_truth(shipped("demo_clips"), name)
    with Clip(shipped("demo_clips") / f"{name}.mp4") as clip:
        n, frames = clip.n_frames, np.arange(0, clip.n_frames, between + 1)
        marks = marks_from_truth(truth, frames=frames, sigma_px=noise_px)
        found = track(Shot(name, clip, "side_under", truth.camera.direction, 0, n), marks)
    xy, sigma = np.full((n, len(found.points), 2), np.nan), np.full((n, len(found.points)), np.nan)
    xy[found.frames], sigma[found.frames] = found.xy, found.sigma_px
    i = np.clip(np.arange(n) // (between + 1), 0, len(frames) - 2)
    u = (np.arange(n) - frames[i])[:, None, None] / (between + 1)
    straight = marks.xy[i] * (1 - u) + marks.xy[i + 1] * u
    due = (
        np.isfinite(straight[..., 0]) & ~np.isin(np.arange(n), frames)[:, None] & (np.arange(n) <= frames[-1])[:, None]
    )
    seen = due & (truth.visible == "visible")
    good, hidden = seen & np.isfinite(sigma), due & ~seen
    assert not (np.isfinite(sigma) & ~due).any(), "tracked where no gap lies"
    off = xy - truth.xy
    camera = truth.camera
    metre_px = camera.focal_px / float(np.linalg.norm(np.subtract(camera.target, camera.position)))
    return Check(
        name,
        between,
        noise_px,
        np.linalg.norm(off[good], axis=-1),
        np.linalg.norm((straight - truth.xy)[good], axis=-1),
        float((np.abs(off[good]) < 2 * sigma[good][:, None]).mean()),
        float(1 - good.sum() / seen.sum()),
        float(np.isfinite(sigma[hidden]).mean()) if hidden.any() else 0.0,
        truth.swimmer.stature_m * metre_px,
    )


@pytest.fixture(scope="module")
def checks():
    """The rows that the tests below ask for, each tracked once."""
    wanted = [
        (FITTED, 10, 2),
        *((name, between, 0) for name in UNSEEN for between in (5, 10, 20)),
        ("wren_side", 10, 2),
        ("heron_hard", 5, 0),
        ("rowan_pass", 10, 0),
        *((name, between, 0) for name in OTHER_VIEWS for between in (5, 20)),
    ]
    made = {row: check(*row) for row in wanted}
    print("\n" + HEAD, *(c.line() for c in made.values()), sep="\n")
    return made


@pytest.mark.parametrize("name", UNSEEN)
@pytest.mark.parametrize(("between", "times", "times_far"), [(5, 3.0, 3.0), (10, 3.0, 3.0), (20, 2.5, 2.5)])
def test_nearer_than_a_straight_line_between_the_marks(checks, name, between, times, times_far):
    """At the very places that were tracked, the easier ones. The least ratios measured were 3.9, 3.3 and 2.9."""
    made = checks[name, between, 0]
    assert np.median(made.straight) > times * np.median(made.error)
    assert np.percentile(made.straight, 95) > times_far * np.percentile(made.error, 95)


@pytest.mark.parametrize("name", UNSEEN)
@pytest.mark.parametrize(("between", "share"), [(5, 0.2), (10, 0.35), (20, 0.55)])
def test_median_error_as_a_share_of_stature(checks, name, between, share):
    """A marking coach's own hand is 2 px or 0.4 % of stature in these clips."""
    made = checks[name, between, 0]
    assert 100 * np.median(made.error) / made.stature_px < share


def test_sigma_is_honest_on_clips_that_it_was_not_fitted_to(checks):
    """Two sigma hold 95 % of a Gaussian's coordinates: 88 to 98 % at each spacing, over all of them 92 to 97 %."""
    for row, made in checks.items():
        assert 0.88 < made.inside < 0.98, row
    places = [len(made.error) for made in checks.values()]
    assert 0.92 < np.average([made.inside for made in checks.values()], weights=places) < 0.97


def test_noise_of_the_hand_is_carried_and_not_magnified(checks):
    """Two hand marks of 2 px each side: the median distance of one such mark is 2.35 px (Rayleigh)."""
    for row in ((FITTED, 10, 2), ("wren_side", 10, 2)):
        assert np.median(checks[row].error) < 1.3 * 2 * np.sqrt(2 * np.log(2))


def test_most_of_what_is_in_sight_is_found_at_close_marks_and_most_of_what_is_hidden_is_not(checks):
    for name in UNSEEN:
        assert checks[name, 5, 0].lost < 0.15
        assert checks[name, 10, 0].lost < 0.35
        assert max(checks[name, between, 0].kept_hidden for between in (5, 10, 20)) < 0.3


def test_a_kick_between_two_marks_is_followed_though_the_marks_know_nothing_of_it(checks):
    """A third of a second from mark to mark holds most of a kick: held to the marks' own path, 73 to 77 % was lost."""
    for name in UNSEEN:
        assert checks[name, 20, 0].lost < 0.62


@pytest.mark.bench
def test_table_of_errors(capsys):
    """The whole table, per clip, noise of the hand marks and frames between them: ``-m bench -s``."""
    clips = (FITTED, *UNSEEN, "rowan_pass", "heron_hard", *OTHER_VIEWS)
    rows = [check(n, b, s).line() for n in clips for s in (0, 2) for b in (1, 5, 10, 20)]
    with capsys.disabled():
        print("\n" + HEAD, *rows, sep="\n")
    assert len(rows) == 8 * len(clips)


def test_tracked_marks_carry_their_origin_and_a_sigma():
    truth = read_truth(shipped("demo_clips"), FITTED)
    with Clip(shipped("demo_clips") / f"{FITTED}.mp4") as clip:
        marks = marks_from_truth(truth, ["elbow_r", "wrist_r"], [60, 66, 72])
        found = track(Shot(FITTED, clip, "side_under", "right", 60, 80), marks, ["wrist_r"])
    assert found.points == ("wrist_r",)
    held = np.isfinite(found.xy[..., 0])
    np.testing.assert_array_equal(held, found.origin == Origin.tracked)
    np.testing.assert_array_equal(held, np.isfinite(found.sigma_px))
    assert (found.sigma_px[held] > 0.5).all()
