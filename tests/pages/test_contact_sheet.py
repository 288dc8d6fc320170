"""The sheet of covered pictures, and the coach's word that he looked at it."""

from __future__ import annotations

import io
import re

import numpy as np
import pytest
from PIL import Image

from casebook.case.case import Case
from casebook.case.covering import check_of
from casebook.case.create import ClipAnswers, new_case
from casebook.cli import main
from casebook.clip.cover import FILL
from casebook.errors import CaseError
from casebook.marks.marks import Marks
from casebook.pages.contact_sheet import contact_sheet, looked_at
from casebook.resources import shipped


@pytest.fixture
def desk(tmp_path):
    """The first frames of a demo clip with the head marked by hand, all but on the last ones."""
    folder = new_case(tmp_path / "wren", shipped("demo_clips") / "wren_front.mp4", ClipAnswers("front_under", "toward"))
    desk = Case.open(folder).desk().filmed(start=0, stop=40)
    places = [[[475.0, 160.0], [470.0, 185.0], [474.0, 130.0], [400.0, 170.0], [560.0, 170.0]]] * 5
    points = ("crown", "mouth", "neck", "shoulder_r", "shoulder_l")
    desk.store.put_marks(Marks.from_arrays(points, [0, 8, 16, 20, 24], np.array(places)))
    return desk


def cover(desk):
    from casebook.case.covering import cover_heads

    return cover_heads(desk, use_model=False)


def test_every_frame_stands_on_the_sheet_and_those_in_doubt_are_marked(desk):
    found = cover(desk)
    sheet = contact_sheet(desk, found.weak)
    assert sheet.frames == tuple(range(40)) and sheet.doubtful == found.weak
    page = sheet.page.read_text("utf-8")
    assert page.count("<img") == 40 and page.count("look closely") == 2 * len(found.weak)
    assert not re.findall(r"(?:src|href)=\"(?!data:)", page) and "<script" not in page
    assert sheet.withheld == found.bare and f"{len(found.bare)} frames nothing is shown" in str(sheet)


def test_the_one_picture_shows_covered_pictures_alone(desk):
    cover(desk)
    sheet = contact_sheet(desk)
    whole = np.asarray(Image.open(io.BytesIO(sheet._repr_jpeg_())), int)
    tile = whole[3 : 3 + 135, 3 : 3 + 240]
    assert np.abs(tile[40, 119] - FILL).max() < 12, "the head of frame 0"
    row, column = divmod(39, 6)
    last = whole[row * 141 + 40 : row * 141 + 130, column * 246 + 3 : column * 246 + 243]
    assert np.abs(last - FILL).max() < 40, "nothing of the last frame"


def test_a_long_shot_is_shown_evenly_with_every_frame_in_doubt(desk):
    cover(desk)
    sheet = contact_sheet(desk, doubtful=[3, 5, 999], every=10)
    assert sheet.frames == (0, 3, 5, 10, 20, 30, 39) and sheet.doubtful == (3, 5)


def test_only_a_sheet_of_the_covers_as_they_are_can_have_been_looked_at(desk):
    cover(desk)
    with pytest.raises(CaseError, match="no sheet"):
        looked_at(desk, "AB")
    contact_sheet(desk)
    check = looked_at(desk, "AB")
    assert check == check_of(desk.case.folder, desk.shot) and 0 < check.pictures < 40
    desk = desk.cover("bystander", 3, (0, 0, 50, 50))
    with pytest.raises(CaseError, match="no sheet"):
        looked_at(desk, "AB")


def test_the_commands_cover_look_and_refuse_in_sentences(desk, capsys, tmp_path):
    folder = str(desk.case.folder)
    desk.store.close()
    assert main(["cover", folder, "--add", "head", "--frame", "30", "--box", "400", "80", "560", "230"]) == 0
    assert "head 1 covered" in capsys.readouterr().out
    assert main(["cover", folder, "--sheet"]) == 0
    assert "40 pictures to look at" in capsys.readouterr().out
    assert main(["cover", folder, "--checked"]) == 2
    assert "initials" in capsys.readouterr().err
    assert main(["cover", folder, "--checked", "--by", "AB"]) == 0
    assert "looked at by AB" in capsys.readouterr().out
    assert main(["cover", folder, "--add", "suit", "--frame", "3"]) == 2
    assert "needs a frame and a box" in capsys.readouterr().err
    assert main(["pack", folder, "-o", str(tmp_path / "out"), "--audience", "the club"]) == 2
    assert "No consent for teaching" in capsys.readouterr().err
    assert main(["cover", folder, "--remove", "head 1"]) == 0
    assert "nothing covered" in capsys.readouterr().out
