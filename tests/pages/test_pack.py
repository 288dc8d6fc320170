"""The workshop pack: refused without consent and the coach's eye, and never with anything in it that leads back."""

from __future__ import annotations

import getpass
import hashlib
import io
import json
import shutil
import socket
import tomllib
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from casebook.case.case import Case
from casebook.case.covering import cover_heads, covers_of, keep_check
from casebook.case.settings import add_row, keep_table
from casebook.clip.clip import Clip
from casebook.clip.cover import FILL
from casebook.clip.covered import CoveredClip
from casebook.demo.case import build_demo_case
from casebook.errors import CaseError, ConsentError, PageError
from casebook.pages import pack as packing
from casebook.pages.pack import make_pack
from casebook.pages.pack_check import look_through
from casebook.pages.pack_secrets import secrets_of
from casebook.pages.picture import jpeg
from casebook.pages.teaching_case import load_teaching_case

AUDIENCE = "coaches of the county course"
SHOT = "alder_side_under"
GIVEN_BY = "Zuzanna"
FILM = "birthday_at_the_lido"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A case as if of a real swimmer, with all that must never go out."""
    folder = build_demo_case(tmp_path_factory.mktemp("cases") / "lane_four_thursday", "alder")
    path = folder / "case.toml"
    words = path.read_text("utf-8").replace("invented = true", "invented = false")
    words = words.replace('coach = "demo"', 'coach = "QX"').replace(f'clip = "{SHOT}.mp4"', f'clip = "{FILM}.mp4"')
    path.write_text(words, "utf-8")
    (folder / "clips" / f"{SHOT}.mp4").rename(folder / "clips" / f"{FILM}.mp4")
    keep_table(
        folder, "intake", {"earlier_advice": "Her sister Wilhelmina told her to kick less", "pool": "Slomo Baths"}
    )
    add_row(
        folder,
        "consent",
        {"purpose": "teaching", "given_by": GIVEN_BY, "date": "2026-03-04", "audience": AUDIENCE.upper()},
    )
    desk = Case.open(folder).desk(SHOT)
    cover_heads(desk, use_model=False)
    keep_check(folder, desk.shot, "KV", 120)
    return folder


@pytest.fixture(scope="module")
def made(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("packs") / "course"
    pack = make_pack([Case.open(folder)], out, AUDIENCE, {"alder": "birch"}, [SHOT])
    assert pack.folder == out and pack.aliases == ("birch",)
    return out


@pytest.fixture
def case(folder: Path, tmp_path: Path) -> Case:
    """The same case in a folder of its own."""
    return Case.open(Path(shutil.copytree(folder, tmp_path / folder.name)))


def test_a_pack_lists_its_files_and_every_one_of_them_is_as_listed(made):
    told = tomllib.loads((made / "pack.toml").read_text("utf-8"))
    assert told["schema"] == 1 and told["audience"] == AUDIENCE and told["aliases"] == ["birch"]
    there = {p.relative_to(made).as_posix() for p in made.rglob("*") if p.is_file()}
    assert there == {"pack.toml", *(row["name"] for row in told["file"])}
    for row in told["file"]:
        assert hashlib.sha256((made / row["name"]).read_bytes()).hexdigest() == row["sha256"]


def test_a_pack_holds_a_case_that_reads_with_its_films_and_stills(made):
    case = load_teaching_case(made / "cases" / "birch")
    assert case.alias == "Birch" and case.audience == AUDIENCE and case.loops and case.stills
    assert {p.name for p in (made / "cases" / "birch").iterdir()} == {"case.json", *case.files}


def test_the_head_is_covered_in_every_picture_of_a_packs_film_and_the_arm_is_not(made, folder):

    (loop,) = load_teaching_case(made / "cases" / "birch").loops
    covers = [c for c in covers_of(folder, SHOT) if c.kind == "head"]
    with Clip(made / "cases" / "birch" / loop.file) as clip, Clip(folder / "clips" / f"{FILM}.mp4") as bare:
        assert clip.n_frames == len(loop.times)
        for i in range(0, clip.n_frames, 7):
            picture = clip.frame(i).astype(int)
            middle = next((c.at(i).mean(0).round().astype(int) for c in covers if c.at(i) is not None), None)
            if middle is None:
                assert np.abs(picture - FILL).max() < 16, "nothing is known of the head: nothing is shown"
                continue
            x, y = middle
            # As far as the true head goes from there, and a little further.
            assert np.abs(picture[y - 30 : y + 30, x - 30 : x + 30] - FILL).max() < 40
            assert np.abs(picture[300:, :300] - bare.frame(i)[300:, :300].astype(int)).mean() < 6


def test_every_still_and_poster_is_covered(made):
    case = load_teaching_case(made / "cases" / "birch")
    for name in (*(still.plain for still in case.stills if still.is_whole), *(loop.poster for loop in case.loops)):
        picture = np.asarray(Image.open(made / "cases" / "birch" / name), int)
        flat = (np.abs(picture - FILL).max(-1) < 10).mean()
        assert 0.008 < flat < 0.08, name


def test_no_picture_can_be_had_of_a_case_on_its_way_into_a_pack_but_a_covered_one(case):
    """Whatever the making of a case asks for: also the desk that its numbers come from."""
    named = {"alias": "birch"} | {f.name: getattr(case, f.name) for f in fields(case) if f.name != "alias"}
    clip = packing._CoveredCase(**named).desk(SHOT).shot.clip
    assert isinstance(clip, CoveredClip) and clip.name == "film 1"
    assert len(clip.covers) == len(covers_of(case.folder, SHOT))


def test_nothing_of_swimmer_coach_computer_or_film_stands_in_any_byte_of_a_pack(made, folder):
    """Looked for here by other means than the pack's own check."""
    original = (folder / "clips" / f"{FILM}.mp4").read_bytes()
    words = ["alder", "lane_four", "birthday", "lido", GIVEN_BY, "Wilhelmina", "Slomo", "2026-", str(folder)]
    words += [hashlib.sha256(original).hexdigest()[:12], "Lavf", "x264", "Exif", "ffmpeg"]
    for path in made.rglob("*"):
        if path.is_file():
            raw = path.read_bytes().lower()
            assert not [w for w in words if w.lower().encode() in raw], path.name


# ---- refused before anything is made --------------------------------------------------------------------------------


def test_a_case_without_consent_for_teaching_is_refused(case, tmp_path):
    with pytest.raises(ConsentError, match="teaching"):
        make_pack([replace(case, consents=())], tmp_path / "out", AUDIENCE)
    assert not (tmp_path / "out").exists()


def test_a_consent_for_another_audience_is_refused(case, tmp_path):
    with pytest.raises(ConsentError, match="another audience"):
        make_pack([case], tmp_path / "out", "everybody on the internet")
    with pytest.raises(ConsentError, match="who will see it"):
        make_pack([case], tmp_path / "out", "  ")


def test_covered_pictures_that_nobody_looked_at_are_refused(case, tmp_path):
    (case.folder / "marks" / f"{SHOT}.checked.toml").unlink()
    with pytest.raises(CaseError, match="not been looked at"):
        make_pack([case], tmp_path / "out", AUDIENCE, {"alder": "birch"}, [SHOT])
    assert not list(tmp_path.glob("*out*"))


def test_covers_changed_since_they_were_looked_at_are_refused(case, tmp_path):
    case.desk(SHOT).cover("tattoo", 3, (200, 60, 220, 80))
    with pytest.raises(CaseError, match="have changed"):
        make_pack([case], tmp_path / "out", AUDIENCE, {"alder": "birch"}, [SHOT])


@pytest.mark.parametrize("aliases", [{"alder": "../up"}, {"alder": ""}, {"alder": "a b"}, {"rowan": "birch"}])
def test_an_alias_that_is_no_plain_word_is_refused(case, tmp_path, aliases):
    with pytest.raises(PageError):
        make_pack([case], tmp_path / "out", AUDIENCE, aliases)


def test_two_cases_of_one_alias_and_a_folder_that_is_there_are_refused(case, tmp_path):
    with pytest.raises(PageError, match="alias of its own"):
        make_pack([case, case], tmp_path / "out", AUDIENCE)
    (tmp_path / "out").mkdir()
    with pytest.raises(PageError, match="there already"):
        make_pack([case], tmp_path / "out", AUDIENCE)


def test_what_went_out_is_noted_in_the_case(folder, made):
    (row,) = tomllib.loads((folder / "case.toml").read_text("utf-8"))["released"]
    assert row["kind"] == "pack" and row["where"] == made.name


# ---- planted, and found ---------------------------------------------------------------------------------------------


def planted(monkeypatch, made: Path, plant) -> None:
    """Let the making of the next pack's case end in the finished one with something planted in it."""

    def told(case, media, **_):
        shutil.copytree(made / "cases" / "birch", media, dirs_exist_ok=True)
        found = load_teaching_case(media)
        return plant(found, media) or found

    monkeypatch.setattr(packing, "tell_case", told)


WORDS = {
    "alias": ("Like Alder last year", "the swimmer's alias"),
    "folder": ("see lane_four_thursday", "the name of the case folder"),
    "coach": ("marked by QX", "the initials of the coach"),
    "checker": ("seen: KV", "the initials of the coach"),
    "user": ("~wilbur", "the name of the computer's user"),
    "computer": ("on zebedee-laptop", "the name of the computer"),
    "home": (str(Path.home() / "films"), "computer"),
    "film": ("birthday_at_the_lido.mp4", "the name of a shot or film"),
    "shot": ("alder side under", "the name of a shot or film"),
    "giver": ("zuzanna agreed", "who gave consent"),
    "told": ("Her sister Wilhelmina told her to kick less", "what the swimmer told"),
    "pool": ("at Slomo  Baths", "what the swimmer told"),
    "date": ("on 4 March 2026", "a date"),
    "any date": ("on 1999-12-31", "a date"),
    "entity": ("&#65;lder", "the swimmer's alias"),
    "wide letters": ("\uff21\uff4c\uff44\uff45\uff52", "the swimmer's alias"),
}


@pytest.mark.parametrize("key", WORDS)
def test_a_word_that_leads_back_is_found_and_no_pack_is_made(monkeypatch, made, case, tmp_path, key):
    words, kind = WORDS[key]
    monkeypatch.setattr(getpass, "getuser", lambda: "wilbur")
    monkeypatch.setattr(socket, "gethostname", lambda: "zebedee-laptop.home")
    planted(monkeypatch, made, lambda found, _: replace(found, fine=(*found.fine, words)))
    with pytest.raises(PageError, match="No pack was made") as refused:
        make_pack([case], tmp_path / "out", AUDIENCE, {"alder": "birch"}, [SHOT])
    assert "case.json" in str(refused.value) and kind in str(refused.value)
    assert words not in str(refused.value), "the message does not repeat the secret"
    assert {p.name for p in tmp_path.iterdir()} == {case.folder.name}, "nothing half-made is left"


def test_a_digest_of_the_original_and_the_coachs_own_words_are_found(monkeypatch, made, case, tmp_path):
    digest = hashlib.sha256((case.folder / "clips" / f"{FILM}.mp4").read_bytes()).hexdigest()
    notebook = next(n for n in case.notebooks if "coach" in n.read_text("utf-8"))
    told = json.loads(notebook.read_text("utf-8"))
    cell = next(c for c in told["cells"] if "coach" in c["metadata"].get("tags", ()))
    cell["source"] = "She hums *old songs* while she kicks. Fine."
    notebook.write_text(json.dumps(told), "utf-8")
    for words, kind in ((digest[:16], "digest"), ("hums old songs while she kicks", "own words")):
        whole = f"She {words}" if kind == "own words" else words
        planted(monkeypatch, made, lambda found, _, whole=whole: replace(found, fine=(whole,)))
        with pytest.raises(PageError, match=kind):
            make_pack([case], tmp_path / "out", AUDIENCE, {"alder": "birch"}, [SHOT])


def plant_exif(_, media: Path) -> None:
    tags = Image.Exif()
    tags[0x0110] = "camera"
    out = io.BytesIO()
    Image.open(media / "look-1.jpg").save(out, "JPEG", exif=tags)
    (media / "look-1.jpg").write_bytes(out.getvalue())


def plant_in_pixels(_, media: Path) -> None:
    path = media / "look-1.jpg"
    raw = path.read_bytes()
    path.write_bytes(raw[:-300] + "alder_side_under".encode("utf-16-le") + raw[-300:])


def plant_link(_, media: Path) -> None:
    path = media / "look-1.jpg"
    raw = path.read_bytes()
    (media.parent.parent / "kept.jpg").write_bytes(raw)
    path.unlink()
    path.symlink_to(media.parent.parent / "kept.jpg")


@pytest.mark.parametrize(
    ("plant", "kind"), [(plant_exif, "EXIF"), (plant_in_pixels, "name of a shot or film"), (plant_link, "a link")]
)
def test_a_picture_with_something_beside_its_pixels_is_found(monkeypatch, made, case, tmp_path, plant, kind):
    planted(monkeypatch, made, plant)
    with pytest.raises(PageError, match=kind) as refused:
        make_pack([case], tmp_path / "out", AUDIENCE, {"alder": "birch"}, [SHOT])
    assert "look-1.jpg" in str(refused.value)


def test_an_original_film_is_found(monkeypatch, made, case, tmp_path):
    def plant(found, media: Path) -> None:
        shutil.copyfile(case.folder / "clips" / f"{FILM}.mp4", media / found.loops[0].file)

    planted(monkeypatch, made, plant)
    with pytest.raises(PageError, match=r"full-1\.mp4\" holds an original film"):
        make_pack([case], tmp_path / "out", AUDIENCE, {"alder": "birch"}, [SHOT])


def test_a_file_that_no_case_names_does_not_get_into_a_pack(monkeypatch, made, case, tmp_path):
    def plant(_, media: Path) -> None:
        (media / "notes.txt").write_text("hello", "utf-8")

    planted(monkeypatch, made, plant)
    pack = make_pack([case], tmp_path / "out", AUDIENCE, {"alder": "birch"}, [SHOT])
    assert not [name for name in pack.files if "notes" in name]


@pytest.mark.parametrize("name", ["notes.txt", "page.html", ".hidden.jpg", "Alder.jpg", "alder-1.jpg"])
def test_a_file_that_is_no_part_of_a_pack_is_found(made, case, tmp_path, name):
    pack = Path(shutil.copytree(made, tmp_path / "pack"))
    (pack / "cases" / "birch" / name).write_bytes(jpeg(Image.new("RGB", (8, 8))))
    hits = look_through(pack, secrets_of(case, ["birch"]))
    assert [h for h in hits if name in h.file]


def test_a_finished_pack_is_clean_by_its_own_check_and_keeps_its_alias(made, case):
    assert look_through(made, secrets_of(case, ["birch"], ["KV"])) == []
    assert "alder" in {s.words for s in secrets_of(case, ["birch"])}
    assert "alder" not in {s.words for s in secrets_of(case, ["alder"])}


def test_ordinary_words_lead_nowhere(case):
    """A coach called Hand or a user called swimmer does not stop every pack."""
    plain = replace(case, intake=replace(case.intake, kit_owned="fins", breathing_side="right", earlier_advice="kick"))
    words = {s.words for s in secrets_of(plain, ["birch"])}
    assert not words & {"fins", "right", "kick"}
