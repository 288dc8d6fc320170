"""Slates held into rendered pictures: how small, tilted, blurred, dim or covered they may be, and that none is misread.

The truth is the number that was drawn. What the marker of a number looks like is taken from OpenCV's own drawing.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from PIL import Image
from squad_maker import DAY, FREE, member, squad_of

from casebook.clip.clip import Clip
from casebook.clip.loop import encode_loop
from casebook.demo.slate_scene import Held, corners_of, with_slate
from casebook.resources import shipped
from casebook.squad import day
from casebook.squad.cuts import read_cuts
from casebook.squad.cutting import why_closed
from casebook.squad.find_slates import (
    CLOSED_MARGIN_S,
    MARGIN_S,
    MISSED,
    NOT_READ,
    TWO_AT_ONCE,
    Showing,
    cuts_between,
    find_slates,
    leafed,
)
from casebook.squad.slate import CARD_MM, CELLS, FIGURE_MM, LARGE_MM, NUMBERS, SMALL_MM, marker_cells, slates_in

EACH = 6
#: How the slate is seen, heights of the card in a picture 720 high [px], and the least part that must be read.
CONDITIONS = [
    ("as it should be", {"blur_px": 0.7, "noise": 3}, (80, 140, 280), 1.0),
    ("noisy", {"blur_px": 1.0, "noise": 14}, (100, 200), 0.9),
    ("blurred", {"blur_px": 2.2, "noise": 3}, (120, 200), 0.9),
    ("dim", {"blur_px": 1.0, "noise": 3, "light": 0.15}, (100, 200), 0.9),
    ("through blue water", {"blur_px": 1.2, "noise": 4, "water": True}, (100, 200), 0.9),
    ("dim blue water", {"blur_px": 1.2, "noise": 3, "water": True, "light": 0.35}, (120, 200), 0.9),
    ("lower half covered", {"blur_px": 0.8, "noise": 3, "covered": 0.4}, (180, 280), 0.9),
]


@pytest.fixture(scope="module")
def pictures():
    out = []
    for name in ("rowan_side", "alder_rear", "heron_hard", "rowan_above", "wren_front", "rowan_split"):
        with Clip(shipped("demo_clips") / f"{name}.mp4") as clip:
            out.append(np.asarray(Image.fromarray(clip.frame(20)).resize((1280, 720))))
    return out


def any_way(rng, height, **how):
    """A slate turned and tilted at random, up to 40 degrees about each axis."""
    turn, tilt, swing = rng.uniform(-40, 40, 3)
    middle = (rng.uniform(0.3, 0.7), rng.uniform(0.35, 0.65))
    return Held(height=height, middle=middle, turn=turn, tilt=tilt, swing=swing, **how)


@pytest.mark.parametrize(("name", "how", "heights", "least"), CONDITIONS, ids=[c[0] for c in CONDITIONS])
def test_slates_are_read_and_never_as_another_number(pictures, name, how, heights, least):
    rng = np.random.default_rng(7)
    for height in heights:
        read = wrong = 0
        for k in range(EACH):
            number = int(rng.choice(NUMBERS))
            seen = slates_in(with_slate(pictures[k % len(pictures)], number, any_way(rng, height, **how), k))
            read += number in seen.numbers
            wrong += bool(seen.numbers - {number})
        print(f"{name}, card {height} px high: {read} of {EACH} read, {wrong} wrong")
        assert wrong == 0
        assert read >= least * EACH - 1e-9


def test_pictures_without_a_slate_show_none():
    looked = 0
    for name in ("rowan_side", "alder_rear", "rowan_above", "rowan_split", "rowan_pan"):
        with Clip(shipped("demo_clips") / f"{name}.mp4") as clip:
            for frame in range(0, 80, 27):
                seen = slates_in(clip.frame(frame))
                assert not seen.numbers and not seen.unread, (name, frame)
                looked += 1
    print(f"0 of {looked} pictures without a slate show one")


def test_a_slate_that_cannot_be_read_is_noticed_and_not_guessed(pictures):
    rng = np.random.default_rng(8)
    noticed = 0
    for k in range(8):
        held = any_way(rng, 240, blur_px=0.8, noise=3, thumb=True)
        seen = slates_in(with_slate(pictures[k % len(pictures)], 1 + k, held, k))
        assert not seen.numbers
        noticed += bool(seen.unread)
    assert noticed >= 7


def test_two_slates_in_one_picture_are_both_read(pictures):
    first = with_slate(pictures[0], 3, Held(height=220, middle=(0.3, 0.5)))
    assert slates_in(with_slate(first, 14, Held(height=220, middle=(0.7, 0.5)))).numbers == {3, 14}


def test_the_marker_is_opencvs_own_of_that_number():
    # External: OpenCV's drawing of the 5 x 5 dictionary of a hundred, one pixel a cell and at twenty pixels a cell.
    cv2 = pytest.importorskip("cv2")
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100)
    for number in (1, 42, 99):
        large = cv2.aruco.generateImageMarker(dictionary, number, 20 * CELLS)
        assert np.array_equal(marker_cells(number), large[10::20, 10::20] > 127)


def test_the_markers_of_any_two_numbers_differ_in_at_least_seven_cells_however_turned():
    # External: OpenCV's documentation of the predefined dictionaries gives no distance; it is counted here.
    codes = {n: marker_cells(n)[1:-1, 1:-1] for n in NUMBERS}
    turned = {n: np.array([np.rot90(code, k).ravel() for k in range(4)]) for n, code in codes.items()}
    least = min(
        int((turned[a][:, None] != codes[b].ravel()[None, None]).sum(-1).min())
        for a in NUMBERS
        for b in NUMBERS
        if a < b
    )
    assert least >= 7


def test_everything_on_the_card_has_white_around_it_and_lies_on_the_card():
    boxes = [(x, y, x + s, y + s) for x, y, s in (LARGE_MM, SMALL_MM)]
    cell = [LARGE_MM[2] / CELLS, SMALL_MM[2] / CELLS]
    figure = (FIGURE_MM[0], FIGURE_MM[1], FIGURE_MM[0] + FIGURE_MM[2], FIGURE_MM[1] + FIGURE_MM[3])
    for (left, top, right, low), quiet in zip(boxes, cell, strict=True):
        assert min(left, top, CARD_MM[0] - right, CARD_MM[1] - low) >= quiet * 0.9
    apart = [max(b[0] - a[2], b[1] - a[3]) for a, b in pairwise([boxes[0], boxes[1]])]
    assert min(apart) > cell[1]
    assert figure[1] >= boxes[0][3] + 0.5 * cell[0] and figure[2] <= boxes[1][0]


@pytest.fixture(scope="module")
def swim():
    with Clip(shipped("demo_clips") / "wren_side.mp4") as clip:
        return [np.asarray(Image.fromarray(clip.frame(6 * k)).resize((320, 180))) for k in range(30)]


def recording(path, swim, *parts, fps=10):
    """A recording of parts: a slate's number or a ready picture, seconds of it, seconds of swim, how it is held."""
    pictures = []
    for slate, slate_s, swim_s, *how in parts:
        held = Held(**{"height": 150.0} | (how[0] if how else {}))
        picture = with_slate(swim[0], slate, held) if isinstance(slate, int) else slate
        pictures += [picture] * round(slate_s * fps) + [swim[k % 30] for k in range(round(swim_s * fps))]
    path.write_bytes(encode_loop(pictures, np.arange(len(pictures)) / fps, width=320, crf=20).mp4)
    return path


def test_stretches_lie_between_the_slates_to_the_picture(tmp_path, swim):
    parts = (4, 1.0, 3.0), (9, 1.5, 4.0, {"turn": 20.0}), (2, 1.0, 2.5, {"tilt": 30.0})
    path = recording(tmp_path / "r.mp4", swim, *parts)
    with Clip(path) as clip:
        found = find_slates(clip, progress=False)
        assert found == (
            Showing(0, 10, frozenset({4})), Showing(40, 55, frozenset({9})), Showing(95, 105, frozenset({2}))
        )  # fmt: skip
        squad = squad_of(tmp_path / "s", member(4), member(9), member(2))
        cuts = cuts_between(squad, clip, found)
        lead = round(MARGIN_S * 10)
        assert [(c.number, c.start, c.stop) for c in cuts] == [(4, 10, 40 - lead), (9, 55, 95 - lead), (2, 105, 130)]


def test_a_closed_swimmers_stretch_is_never_cut_and_the_one_before_ends_earlier(tmp_path, swim):
    path = recording(tmp_path / "r.mp4", swim, (1, 1.0, 5.0), (2, 1.0, 3.0), (3, 1.0, 3.0))
    squad = squad_of(tmp_path / "s", member(1), member(2, do_not_film=True), member(3))
    said = day.cut(squad, path, progress=False)
    assert "NOT CUT, number 2" in said
    assert sorted(p.name for p in (squad.folder / "swimmers").iterdir()) == ["1", "3"]
    with Clip(path) as clip:
        first = read_cuts(squad.cuts_file, clip)[0]
    assert first.stop == 60 - round(CLOSED_MARGIN_S * 10)


def test_unread_double_and_missed_slates_wait_and_nothing_is_guessed(tmp_path, swim):
    two = with_slate(with_slate(swim[0], 5, Held(140.0, (0.25, 0.5))), 6, Held(140.0, (0.75, 0.5)))
    hidden = {"height": 150.0, "thumb": True}
    parts = (1, 1.0, 4.0), (2, 1.0, 4.0, hidden), (3, 1.0, 4.0), (4, 1.0, 4.0), (swim[0], 1.0, 8.0), (two, 1.0, 4.0)
    path = recording(tmp_path / "r.mp4", swim, *parts)
    squad = squad_of(tmp_path / "s", *(member(n) for n in range(1, 8)))
    said = day.cut(squad, path, progress=False)
    with Clip(path) as clip:
        cuts = read_cuts(squad.cuts_file, clip)
    assert [(c.number, c.say) for c in cuts] == [(1, ""), (None, NOT_READ), (3, ""), (4, MISSED), (None, TWO_AT_ONCE)]
    assert sorted(p.name for p in (squad.folder / "swimmers").iterdir()) == ["1", "3"]
    assert "No stretch for 2, 5, 6, 7" in said
    # The coach looks and types: only then is it cut.
    day.it_was(squad, path, "0:08", 2)
    day.cut(squad, path, progress=False)
    assert squad.entry(2).is_dir() and not squad.entry(4).exists()


def test_a_long_recording_is_leafed_through_at_its_key_pictures(tmp_path, swim):
    path = recording(tmp_path / "r.mp4", swim, (1, 1.0, 6.0))
    with Clip(path) as clip:
        frames, keys = leafed(clip), clip.key_frames
        assert set(keys) <= set(frames.tolist()) and keys[0] == 0
        assert np.diff(clip.times[frames]).max() <= 0.81, "a key picture every eighth, and none further from the last"


def test_the_corners_of_a_card_that_faces_the_camera_are_those_of_a_rectangle():
    # By hand: 297 high, so 210 wide, about the middle of a picture of 1000 by 500.
    assert corners_of(Held(height=297.0), (1000, 500)) == pytest.approx(
        np.array([[395, 101.5], [605, 101.5], [605, 398.5], [395, 398.5]])
    )


def test_nobody_off_the_roster_is_ever_cut(tmp_path):
    squad = squad_of(tmp_path / "s", FREE)
    assert why_closed(squad, 77) == "not on the roster" and why_closed(squad, 1) == "" and squad.day == DAY
