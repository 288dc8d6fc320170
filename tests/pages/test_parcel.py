"""The parcel: what lies in the folder, what never does, and who is refused."""

from __future__ import annotations

import getpass
import io
import re
import socket
from pathlib import Path

import ezc3d
import pytest
from parcel_cases import DemoParcel, run_first_page
from test_parcel_voice import record

from casebook.case.case import Case
from casebook.case.consent import Consent, give, releases
from casebook.case.create import ClipAnswers, new_case
from casebook.case.settings import read_settings, write_settings
from casebook.cli import main
from casebook.clip.clip import Clip
from casebook.errors import CasebookError, ConsentError, PageError
from casebook.marks.c3d import c3d_bytes
from casebook.pages import parcel as parcels
from casebook.pages.parcel import make_parcel, size_words
from casebook.pages.parcel_tracks import tracks_csv, tracks_of
from casebook.resources import shipped

WHAT = (
    ".html", "_light.html", "_card.png", "_card.pdf", "_change.mp4", "_good.mp4", "_stroke.mp4", "_voice_entry.m4a",
    "_findings.csv", "_strokes.csv", "_tracks_1.csv", "_tracks_1.c3d", "_tracks_2.csv", "_tracks_2.c3d",
)  # fmt: skip


def heron_in(folder: Path, invented: bool = True) -> Case:
    demo = DemoParcel(folder, "heron")
    run_first_page(demo.case, demo.found)
    if not invented:
        settings = read_settings(demo.case.folder)
        write_settings(demo.case.folder, settings | {"invented": False})
    return Case.open(demo.case.folder)


@pytest.fixture(scope="module")
def sent(tmp_path_factory):
    """A parcel with a voice note, as the command makes it, and what the command says."""
    case = heron_in(tmp_path_factory.mktemp("cases"))
    record(case.folder / "voice" / "entry.wav", 1.0)
    record(case.folder / "voice" / "Karin.wav", 0.2)
    return case, make_parcel(case)


def test_it_holds_exactly_what_belongs_in_it(sent):
    case, parcel = sent
    assert {p.name for p in (case.out / "send").iterdir()} == {f"heron{end}" for end in WHAT}
    assert {p.name for p in parcel.pieces} == {f"heron{end}" for end in WHAT}
    assert not [p for p in case.out.iterdir() if p.name.startswith(".")]


def test_it_says_what_lies_where_with_its_size_and_how_it_is_sent(sent):
    _, parcel = sent
    words = parcel.text()
    for piece in parcel.pieces:
        size = (parcel.folder / piece.name).stat().st_size
        assert size == piece.size and re.search(rf"{re.escape(piece.name)} +{re.escape(size_words(size))} ", words)
    assert (
        words.index("By message") < words.index("heron_card.png") < words.index("By mail") < words.index("heron.html")
    )
    assert "Nothing has left this computer" in words


def test_a_voice_note_that_belongs_nowhere_is_spoken_of(sent):
    assert any("Karin.wav" in note for note in sent[1].notes)


def test_nothing_in_it_names_the_computer_or_the_clips_file(sent):
    """Letters of any kind before and after would be chance in packed bytes, so that whole names are searched."""
    case, parcel = sent
    never = [str(case.folder.resolve()), str(Path.home()), str(Path(__file__).parents[2]), "Karin", "ipykernel"]
    never += [name for name in (socket.gethostname(), getpass.getuser()) if len(name) > 5]
    for piece in parcel.pieces:
        raw = (parcel.folder / piece.name).read_bytes()
        for word in never:
            assert word.encode() not in raw, (piece.name, word)
        if not piece.name.endswith(".html"):  # the page says which clip it was made from
            assert b"heron_side" not in raw and b"heron_front" not in raw, piece.name


def test_the_tracks_of_the_table_and_of_c3d_are_the_same(sent):
    case, _ = sent
    desk = case.desk(case.shots[0])
    tracks, told = tracks_of(desk)
    c3d = ezc3d.c3d(str(case.out / "send" / "heron_tracks_1.c3d"))
    names = c3d["parameters"]["POINT"]["LABELS"]["value"]
    rows = [line.split(",") for line in tracks_csv(desk).splitlines()]
    at = {name: k for k, name in enumerate(rows[0])}
    assert told == "" and set(names) <= {r[at["point"]] for r in rows[1:]}
    for row in rows[1::97]:
        frame, point = int(row[at["frame"]]) - tracks.first_frame, names.index(row[at["point"]])
        place = [float(row[at[axis]]) for axis in ("x_swim", "y_left", "z_up")]
        assert c3d["data"]["points"][:3, point, frame] == pytest.approx(place, abs=2e-3)
    labels = set(c3d["parameters"]["EVENT"]["LABELS"]["value"])
    assert labels and labels <= {"entry", "end_of_extension", "past_body", "catch", "shoulder", "exit"}


def test_sent_again_it_is_the_same_and_old_pieces_are_gone(sent):
    case, parcel = sent
    before = {p.name: (parcel.folder / p.name).read_bytes() for p in parcel.pieces}
    (parcel.folder / "heron_good_2.mp4").write_bytes(b"of an earlier day")
    films = {p.name: Clip(parcel.folder / p.name).times.tolist() for p in parcel.pieces if p.name.endswith(".mp4")}
    again = make_parcel(case)
    after = {p.name: (again.folder / p.name).read_bytes() for p in again.pieces}
    # The encoder of films does not promise the same bytes twice; their pictures come at the same times.
    assert {n: Clip(again.folder / n).times.tolist() for n in after if n.endswith(".mp4")} == films
    assert {n: b for n, b in after.items() if n not in films} == {n: b for n, b in before.items() if n not in films}
    assert not (again.folder / "heron_good_2.mp4").exists()


def test_files_of_others_in_the_folder_are_not_swept_away(sent):
    case, parcel = sent
    other = parcel.folder / "my notes.txt"
    other.write_text("mine", "utf-8")
    try:
        with pytest.raises(PageError, match="my notes"):
            make_parcel(case)
        assert other.read_text("utf-8") == "mine"
    finally:
        other.unlink()


def test_a_folder_that_leads_out_of_the_case_is_refused(sent, tmp_path):
    case, parcel = sent
    kept = case.out / "kept"
    parcel.folder.rename(kept)
    parcel.folder.symlink_to(tmp_path, target_is_directory=True)
    try:
        with pytest.raises(CasebookError, match="leads out"):
            make_parcel(case)
        assert tmp_path.is_dir()
    finally:
        parcel.folder.unlink()
        kept.rename(parcel.folder)


def test_a_page_older_than_the_marks_is_not_sent(tmp_path):
    case = heron_in(tmp_path)
    fewer = case.folder / "marks" / "heron_front_under.csv"
    assert fewer.is_file()
    fewer.unlink()
    with pytest.raises(PageError, match="older than its marks") as refused:
        make_parcel(Case.open(case.folder))
    assert "casebook run" in refused.value.remedy and not (case.out / "send").exists()


def test_without_consent_to_sharing_nothing_is_made_and_with_it_the_case_remembers(tmp_path, monkeypatch):
    case = heron_in(tmp_path, invented=False)
    with pytest.raises(ConsentError, match="sharing"):
        make_parcel(case)
    give(case.folder, Consent("analysis", "swimmer", date="2026-05-02"), minor=False)
    with pytest.raises(ConsentError, match="sharing"):
        make_parcel(Case.open(case.folder))
    assert not (case.out / "send").exists()
    give(case.folder, Consent("sharing", "swimmer", date="2026-05-02"), minor=False)
    monkeypatch.setattr(parcels, "_made", lambda *_: iter(()))
    make_parcel(Case.open(case.folder))
    make_parcel(Case.open(case.folder))
    (row,) = releases(case.folder)
    assert (row["kind"], row["where"]) == ("parcel", "out/send")


def test_a_case_without_a_mark_has_nothing_to_send(tmp_path):
    seen = ClipAnswers(direction="left", camera="following")
    folder = new_case(tmp_path / "finch", shipped("demo_clips") / "heron_side.mp4", seen)
    give(folder, Consent("sharing", "swimmer", date="2026-05-02"), minor=False)
    with pytest.raises(PageError, match="Nothing of finch is measured yet"):
        make_parcel(Case.open(folder))


@pytest.mark.parametrize("spoil", ["no shot", "no clip", "no notebook run", "no case"])
def test_what_is_missing_is_told_in_a_sentence_by_the_command(tmp_path, capsys, spoil):
    folder = DemoParcel(tmp_path, "heron").case.folder
    if spoil == "no shot":
        write_settings(folder, {k: v for k, v in read_settings(folder).items() if k != "shot"})
    if spoil == "no clip":
        next((folder / "clips").iterdir()).unlink()
    if spoil == "no notebook run":
        # the templates travel executed; here every one is taken away
        for path in (folder / "notebooks").glob("*.ipynb"):
            path.unlink()
    if spoil == "no case":
        folder = tmp_path / "nobody"
    assert main(["send", str(folder)]) == 2
    said = capsys.readouterr()
    assert said.err.startswith("casebook: ") and "Traceback" not in said.err and "Ready" not in said.out


def test_c3d_is_left_out_where_the_slow_motion_is_not_known(tmp_path):
    case = heron_in(tmp_path)
    desk = case.desk(case.shots[0])
    desk.store.close()
    desk = desk.filmed(time_scale=0)
    with pytest.raises(CasebookError, match="slow motion"):
        tracks_of(desk)
    last = tracks_csv(desk).splitlines()[-1].split(",")
    assert last[2] == "" and last[4]  # a place, and no time is claimed


def test_uneven_times_are_read_at_one_rate_and_said(tmp_path):
    case = heron_in(tmp_path)
    stretched = case.desk(case.shots[0]).filmed(stretches=[[0, 20, 1], [20, 60, 4], [60, 500, 1]])
    tracks, told = tracks_of(stretched)
    assert "one rate" in told
    assert ezc3d.c3d(str(_saved(tmp_path, c3d_bytes(tracks))))["data"]["points"].shape[2] == len(tracks.xyz)


def _saved(folder: Path, raw: bytes) -> Path:
    (folder / "t.c3d").write_bytes(io.BytesIO(raw).getvalue())
    return folder / "t.c3d"
