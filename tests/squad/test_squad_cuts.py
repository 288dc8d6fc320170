"""Cutting by time: exact in frames, never whoever may not be filmed, the recording as it was."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest
from squad_maker import DAY, member, number_in, numbered_recording, squad_of

from casebook.clip.clip import Clip
from casebook.errors import CasebookError, SquadError
from casebook.squad import day
from casebook.squad.cuts import Cut, name_cut, read_cuts, seconds, told, write_cuts
from casebook.squad.cutting import cut_recording, earlier_cuts, write_blanked
from casebook.squad.deep import make_case
from casebook.squad.entry import choose_still, read_entry, shot_of, still_of
from casebook.squad.forgetting import forget

#: Uneven times, as phones write them. [s]
TIMES = np.cumsum(np.tile([0.033, 0.034, 0.033], 40)) - 0.033


@pytest.fixture(scope="module")
def recording(tmp_path_factory):
    return numbered_recording(tmp_path_factory.mktemp("rec") / "recording.mp4", TIMES)


@pytest.fixture
def squad(tmp_path):
    return squad_of(tmp_path / "s", member(1), member(2), member(7, do_not_film=True), member(8, minor=True))


def numbers_of(path):
    with Clip(path) as clip:
        return [number_in(clip.frame(i)) for i in range(clip.n_frames)]


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("0:00", 0),
        ("1:05.5", 65.5),
        ("65,5", 65.5),
        ("1:00:00.25", 3600.25),
        ("90", 90),
        ("x", None),
        ("1:2:3:4", None),
    ],
)
def test_times_are_read_as_coaches_write_them(word, value):
    assert seconds(word) == value


def test_a_clip_holds_exactly_the_frames_from_and_to(squad, recording):
    squad.cuts_file.write_text(f"from,to,number\n{told(TIMES[10])},{told(TIMES[25])},1\n0:02,0:02.5,2\n", "utf-8")
    day.cut(squad, recording, progress=False)
    assert numbers_of(squad.entry(1) / "pass_1.mp4") == list(range(10, 25))
    held = [i for i, t in enumerate(TIMES) if 2.0 - 1e-6 < t < 2.5 - 1e-6]
    assert numbers_of(squad.entry(2) / "pass_1.mp4") == held
    entry = read_entry(squad, 1)
    assert (entry.passes[0].start, entry.passes[0].stop) == (10, 25)


def test_every_frame_survives_writing_and_reading_the_cuts(tmp_path, recording):
    with Clip(recording) as clip:
        for start in range(0, clip.n_frames - 1, 7):
            cut = Cut(start, min(start + 5, clip.n_frames), 1)
            write_cuts(tmp_path / "cuts.csv", [cut], clip)
            assert read_cuts(tmp_path / "cuts.csv", clip) == (cut,)


def test_times_between_pictures_are_the_pools_own(squad, recording):
    squad.cuts_file.write_text("from,to,number\n0:01,0:02,1\n", "utf-8")
    day.cut(squad, recording, progress=False)
    with Clip(recording) as whole:
        entry = read_entry(squad, 1)
        own = shot_of(squad, 1).clip.times
        assert np.diff(own) == pytest.approx(
            np.diff(whole.times[entry.passes[0].start : entry.passes[0].stop]), abs=1e-4
        )


def test_nobody_closed_is_cut_whatever_the_cuts_say(squad, recording):
    squad.cuts_file.write_text("from,to,number\n0:00,0:01,7\n0:01,0:02,8\n0:02,0:03,55\n0:03,0:03.5,1\n", "utf-8")
    said = day.cut(squad, recording, progress=False)
    assert sorted(p.name for p in (squad.folder / "swimmers").iterdir()) == ["1"]
    assert "NOT CUT, number 7" in said and "do-not-film" in said
    assert "NOT CUT, number 8" in said and "guardian" in said
    assert "NOT CUT, number 55" in said and "not on the roster" in said


def test_a_row_without_number_or_with_a_word_waits_until_the_coach_has_said(squad, recording):
    squad.cuts_file.write_text("from,to,number,say\n0:00,0:01,,slate not read\n0:01,0:02,2,look\n", "utf-8")
    said = day.cut(squad, recording, progress=False)
    assert "Waits, no number" in said and "Waits, number 2" in said and not (squad.folder / "swimmers").exists()
    with Clip(recording) as clip:
        name_cut(squad.cuts_file, clip, "0:00.5", 1)
        assert read_cuts(squad.cuts_file, clip)[0] == Cut(0, read_cuts(squad.cuts_file, clip)[0].stop, 1)
    day.cut(squad, recording, progress=False)
    assert (squad.entry(1) / "pass_1.mp4").is_file()


def test_the_recording_stays_as_it_was(squad, recording):
    before = hashlib.sha256(recording.read_bytes()).hexdigest()
    squad.cuts_file.write_text("from,to,number\n0:00,0:01,1\n", "utf-8")
    day.cut(squad, recording, blanked=True, progress=False)
    assert hashlib.sha256(recording.read_bytes()).hexdigest() == before


def test_a_blanked_copy_shows_what_was_cut_and_nothing_else(squad, recording):
    with Clip(recording) as clip:
        cuts = [Cut(5, 20, 1), Cut(30, 50, 7), Cut(60, 70, None, "slate not read")]
        write_blanked(squad, clip, cuts, squad.out / "copy.mp4", progress=False)
        with Clip(squad.out / "copy.mp4") as copy:
            assert copy.n_frames == clip.n_frames
            shown = [i for i in range(copy.n_frames) if np.ptp(copy.frame(i).astype(int)[:16, :, 0]) > 40]
            assert shown == list(range(5, 20))
        with pytest.raises(SquadError, match="never changed"):
            write_blanked(squad, clip, cuts, recording, progress=False)


@pytest.mark.parametrize(
    ("rows", "told_of"),
    [
        ("0:00,0:02,1\n0:01,0:03,2", "overlap"), ("0:02,0:01,1", "no picture"), ("9:00,9:05,1", "no picture"),
        ("soon,0:01,1", "is no time"), ("0:00,0:01,=1+1", "not a whole number"),
    ],
)  # fmt: skip
def test_cuts_that_make_no_sense_are_named_by_their_line(tmp_path, recording, rows, told_of):
    (tmp_path / "cuts.csv").write_text(f"from,to,number\n{rows}\n", "utf-8")
    with Clip(recording) as clip, pytest.raises(SquadError, match=told_of):
        read_cuts(tmp_path / "cuts.csv", clip)


def test_cuts_of_another_recording_are_refused(tmp_path, recording):
    other = numbered_recording(tmp_path / "other.mp4", TIMES[:40])
    with Clip(other) as clip:
        write_cuts(tmp_path / "cuts.csv", [Cut(0, 5, 1)], clip)
    with Clip(recording) as clip, pytest.raises(SquadError, match="another recording"):
        read_cuts(tmp_path / "cuts.csv", clip)


def test_two_passes_of_one_swimmer_become_two_clips_and_the_still_is_the_coachs(squad, recording):
    with Clip(recording) as clip:
        cut_recording(squad, clip, [Cut(0, 20, 1), Cut(40, 50, 1)], progress=False)
        cut_recording(squad, clip, [Cut(2, 22, 1)], progress=False)
    assert [p.name for p in sorted(squad.entry(1).glob("pass_*"))] == ["pass_1.mp4"], "a new cut replaces the old"
    from io import BytesIO

    from PIL import Image

    assert number_in(np.asarray(Image.open(BytesIO(still_of(squad, 1))))) == 12, "the middle one, unless chosen"
    choose_still(squad, 1, 3)
    assert number_in(np.asarray(Image.open(BytesIO(still_of(squad, 1))))) == 5
    with pytest.raises(SquadError, match="frames 0 to 19"):
        choose_still(squad, 1, 20)


def test_a_swimmer_becomes_a_full_case_with_consents_and_what_was_seen(squad, recording):
    from casebook.case.case import Case
    from casebook.squad.grid import Grid

    with Clip(recording) as clip:
        cut_recording(squad, clip, [Cut(0, 30, 1), Cut(40, 60, 1)], progress=False)
    Grid(squad.grid_file, "mk").put(1, "kick", "fault", "hooked_feet")
    case = Case.open(make_case(squad, 1))
    assert (case.alias, case.level, len(case.shots)) == ("bird1", "triathlete", 2)
    assert [number_in(case.shot().clip.frame(i)) for i in (0, 29)] == [0, 29]
    assert {c.purpose for c in case.consents} == {"analysis", "sharing"}
    assert all(c.until == "2027-01-31" and c.date == DAY.isoformat() for c in case.consents)
    assert [(o.checkpoint, o.word) for o in case.observed] == [("kick", "hooked")]
    for number, why in ((7, "do-not-film"), (2, "Nothing has been cut")):
        with pytest.raises(SquadError, match=why):
            make_case(squad, number)


def test_links_and_names_that_lead_out_of_the_folder_are_refused(squad, recording, tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    (squad.folder / "swimmers").mkdir()
    (squad.folder / "swimmers" / "1").symlink_to(outside, target_is_directory=True)
    with Clip(recording) as clip, pytest.raises(CasebookError, match="leads out"):
        cut_recording(squad, clip, [Cut(0, 10, 1)], progress=False)
    assert list(outside.iterdir()) == []
    forget(squad, 1)
    with Clip(recording) as clip:
        cut_recording(squad, clip, [Cut(0, 10, 2)], progress=False)
    path = squad.entry(2) / "entry.toml"
    for name in ("../../../recording.mp4", "..\\\\..\\\\recording.mp4", str(recording).replace("\\", "/")):
        path.write_text(path.read_text("utf-8").replace("pass_1.mp4", name), "utf-8")
        with pytest.raises(CasebookError):
            still_of(squad, 2)
        path.write_text(path.read_text("utf-8").replace(name, "pass_1.mp4"), "utf-8")
    (squad.entry(2) / "pass_1.mp4").unlink()
    (squad.entry(2) / "pass_1.mp4").symlink_to(recording)
    with pytest.raises(CasebookError, match="leads out"):
        still_of(squad, 2)


def test_a_swimmer_who_may_no_longer_be_kept_is_named_and_can_be_taken_out(squad, recording):
    with Clip(recording) as clip:
        cut_recording(squad, clip, [Cut(0, 10, 1), Cut(20, 30, 2)], progress=False)
    text = (squad.folder / "roster.csv").read_text("utf-8").replace("1,bird1,triathlete,yes", "1,bird1,triathlete,no")
    (squad.folder / "roster.csv").write_text(text, "utf-8")
    later = type(squad).open(squad.folder)
    assert earlier_cuts(later) == (1,) and "Number 1 lies in this folder" in day.check(later)
    forget(later, 1)
    assert not squad.entry(1).exists() and squad.entry(2).is_dir() and earlier_cuts(later) == ()
