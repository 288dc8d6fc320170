"""Covers of a case: bystanders everywhere, heads for others, and the coach's word that ends with any change."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from two_swimmers import FRAMES, NEXT_LANE, film_of_two

from casebook.case.case import Case
from casebook.case.covering import always_covered, check_of, covered_for_others, keep_check, require_check
from casebook.case.create import ClipAnswers, new_case
from casebook.clip.clip import Clip
from casebook.clip.cover import FILL
from casebook.clip.covered import CoveredClip
from casebook.errors import CaseError, MarksError
from casebook.marks.marks import Marks


@pytest.fixture(scope="module")
def film(tmp_path_factory):
    return film_of_two(tmp_path_factory.mktemp("film") / "two.mp4")


@pytest.fixture
def case(tmp_path, film) -> Case:
    return Case.open(new_case(tmp_path / "wren", film, ClipAnswers(), coach="AB"))


def mark_head(desk):
    frames = [*range(0, FRAMES, 4), FRAMES - 1]
    places = np.array([[[340.0, 60.0], [310.0, 70.0], [330.0, 80.0], [300.0, 70.0], [290.0, 110.0]]] * len(frames))
    points = ("crown", "neck", "mouth", "shoulder_r", "elbow_r")
    desk.store.put_marks(Marks.from_arrays(points, frames, places))


def test_the_other_swimmer_is_covered_in_every_picture_of_the_swimmers_own_case(case):
    desk = case.desk()
    with Clip(desk.shot.clip.path) as bare:
        assert np.ptp(bare.frame(10)[160:260]) > 60, "nobody to be seen in the next lane"
    desk = desk.cover("bystander", 0, NEXT_LANE)
    desk = desk.cover("bystander", FRAMES - 1, NEXT_LANE, name="bystander 1")
    clip = Case.open(case.folder).shot().clip
    assert isinstance(clip, CoveredClip) and isinstance(desk.shot.clip, CoveredClip)
    for i in range(FRAMES):
        assert (clip.frame(i)[151:269] == FILL).all()
    assert np.ptp(clip.frame(10)[:140]) > 60, "the swimmer herself is to be seen"
    small = np.asarray(Image.open(io.BytesIO(clip.jpeg(10, 240))), int)
    assert np.abs(small[80:] - FILL).max() < 12


def test_a_second_swimmer_who_moves_is_covered_between_two_boxes(case):
    desk = case.desk()
    desk = desk.cover("bystander", 0, (0, 150, 100, 270))
    desk = desk.cover("bystander", 20, (200, 150, 300, 270), name="bystander 1", stop=21)
    middle = desk.shot.clip.frame(10)
    assert (middle[200, 101:199] == FILL).all() and not (middle[200, 320:] == FILL).all()


def test_pictures_made_before_a_bystander_was_covered_do_not_stay(case):
    media = case.out / "media"
    media.mkdir(parents=True)
    (media / "wren-whole.jpg").write_bytes(b"bare")
    case.desk().cover("suit", 0, NEXT_LANE)
    assert (media / "wren-whole.jpg").exists()
    case.desk().cover("bystander", 0, NEXT_LANE)
    assert not list(media.iterdir())


def test_heads_are_covered_for_others_and_not_in_the_swimmers_own_pictures(case):
    desk = case.desk()
    mark_head(desk)
    found = desk.cover_heads()
    assert f"{FRAMES} of {FRAMES}" in found.told
    assert type(Case.open(case.folder).shot().clip) is Clip
    shown = covered_for_others(desk, "film 1").shot.clip
    assert (shown.frame(3)[66, 318:340] == FILL).all()
    assert {c.kind for c in desk.covers} == {"head", "image"}


def test_heads_covered_anew_leave_every_other_cover_alone(case):
    desk = case.desk()
    mark_head(desk)
    desk = desk.cover("tattoo", 3, (200, 60, 220, 80), name="left calf")
    desk.cover_heads()
    desk.cover_heads()
    assert [c.name for c in desk.covers] == ["left calf", "head found", "image found"]
    desk = desk.uncover("left calf")
    assert "left calf" not in [c.name for c in desk.covers]
    with pytest.raises(CaseError, match="It has: head found"):
        desk.uncover("left calf")


def test_cap_suit_and_tattoo_are_covered_for_others_alone(case):
    desk = case.desk()
    for kind in ("cap", "suit", "tattoo"):
        desk = desk.cover(kind, 3, (200, 60, 220, 80))
    assert type(desk.shot.clip) is Clip and not always_covered(case.folder, desk.shot.id)
    # No head is covered: others see nothing at all.
    assert (covered_for_others(desk).shot.clip.frame(3) == FILL).all()


def test_a_head_covered_by_hand_counts_for_its_frames_alone(case):
    """The head is elsewhere on the next frame: that one stays withheld."""
    desk = case.desk().cover("head", 5, (300, 40, 360, 100))
    shown = covered_for_others(desk).shot.clip
    assert shown.withheld == frozenset(range(FRAMES)) - {5}
    desk = desk.cover("head", 9, (310, 40, 370, 100), name="head 1")
    assert covered_for_others(desk).shot.clip.withheld == frozenset(range(FRAMES)) - set(range(5, 10))


def test_the_coachs_word_counts_until_a_cover_changes(case):
    desk = case.desk()
    mark_head(desk)
    desk.cover_heads()
    with pytest.raises(CaseError, match="have not been looked at"):
        require_check(case.folder, desk.shot)
    keep_check(case.folder, desk.shot, "AB", FRAMES)
    assert require_check(case.folder, desk.shot).by == "AB"
    desk = desk.cover("suit", 3, (200, 60, 220, 80), name="suit")
    with pytest.raises(CaseError, match="have changed since they were looked at"):
        require_check(case.folder, desk.shot)
    desk = desk.uncover("suit")
    assert check_of(case.folder, desk.shot) is not None, "the pictures are those that were looked at again"


def test_the_coachs_word_does_not_count_for_another_stretch_or_film(case):
    desk = case.desk()
    mark_head(desk)
    desk.cover_heads()
    keep_check(case.folder, desk.shot, "AB", FRAMES)
    assert check_of(case.folder, replace(desk.shot, stop=FRAMES - 1)) is None
    other = Clip(desk.shot.clip.path)
    other.__dict__["sha256"] = "0" * 64
    assert check_of(case.folder, replace(desk.shot, clip=other)) is None


def test_nobody_can_have_looked_at_heads_that_are_not_covered(case):
    with pytest.raises(CaseError, match="No head is covered"):
        keep_check(case.folder, case.shot(), "AB", FRAMES)
    with pytest.raises(CaseError, match="initials"):
        keep_check(case.folder, case.shot(), " ", FRAMES)


def test_a_torn_record_of_the_coachs_word_counts_for_nothing(case):
    desk = case.desk()
    mark_head(desk)
    desk.cover_heads()
    keep_check(case.folder, desk.shot, "AB", FRAMES)
    (path,) = (case.folder / "marks").glob("*.checked.toml")
    for torn in ("", "schema = 2\n" + path.read_text("utf-8").partition("\n")[2], "x", "schema = 1\nby = 3"):
        path.write_text(torn, "utf-8")
        assert check_of(case.folder, desk.shot) is None


def test_a_torn_file_of_covers_is_an_error_and_never_a_bare_picture(case):
    desk = case.desk().cover("bystander", 0, NEXT_LANE)
    (path,) = (case.folder / "marks").glob("*.covers.csv")
    path.write_text(path.read_text("utf-8")[:-20], "utf-8")
    with pytest.raises(MarksError):
        Case.open(case.folder).shot()
    assert desk.shot.id


@pytest.mark.parametrize("box", [(5, 5, 5, 9), (9, 5, 5, 9)])
def test_a_cover_that_hides_nothing_is_refused(case, box):
    with pytest.raises(Exception, match="holds nothing"):
        case.desk().cover("bystander", 0, box)
    with pytest.raises(MarksError, match="not in shot"):
        case.desk().cover("bystander", FRAMES, NEXT_LANE)
    assert not list((case.folder / "marks").glob("*.covers.csv"))
