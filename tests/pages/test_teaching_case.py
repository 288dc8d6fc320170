"""A case told for teaching: pictures and words from results alone, and nothing that its coach wrote."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tomlkit
from PIL import Image
from workshop_maker import made_case

from casebook.case.case import Case
from casebook.case.desk import Desk
from casebook.checkpoints.choices import NOTHING
from casebook.clip.clip import Clip
from casebook.demo.case import build_demo_case
from casebook.demo.workshop import ANSWERS, SHOWS, demo_choices
from casebook.errors import PageError
from casebook.pages import teaching_pictures
from casebook.pages.media import Media
from casebook.pages.teaching_case import TeachingCase, load_teaching_case, tell_case
from casebook.pages.workshop import answer_of, workshop_choices

SECRETS = ("Zephyrine", "Quagmire", "Ottoline", "1999-07-31", "Krakatau")


class Black:
    """A clip whose every picture is black, as a cover that hides all would leave it."""

    def __init__(self, clip: Any) -> None:
        self._clip = clip

    def __getattr__(self, name: str) -> Any:
        return getattr(self._clip, name)

    def frame(self, i: int) -> np.ndarray:
        return np.zeros((*self._clip.size[::-1], 3), np.uint8)


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, tuple[TeachingCase, Path]]]:
    """Heron, whose coach wrote names everywhere, and Wren, whose pictures another desk gives. Loops are kept short."""
    out = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(teaching_pictures, "LONGEST_S", 1.2)
        for alias in ("heron", "wren"):
            folder = build_demo_case(tmp_path_factory.mktemp("case") / alias, alias)
            settings = tomlkit.parse((folder / "case.toml").read_text("utf-8"))
            settings["aims"], settings["about"] = f"to beat {SECRETS[0]}", f"son of {SECRETS[1]}"
            settings["events"] = ["750 m open water", f"the {SECRETS[2]} relay"]
            settings["swim"][0]["note"] = SECRETS[4]  # type: ignore[index]
            settings["intake"] = {"treated_by": SECRETS[2], "date": SECRETS[3]}
            (folder / "case.toml").write_text(tomlkit.dumps(settings), "utf-8")
            case = Case.open(folder)
            if alias == "heron":
                case = case.decide("catch", "later", f"as {SECRETS[0]} said")
            media = tmp_path_factory.mktemp("told") / alias
            desk_of = black(case) if alias == "wren" else None
            out[alias] = tell_case(case, media, desk_of=desk_of, audience="coaches in one room"), media
        yield out


def black(case: Case) -> Callable[[str], Desk]:
    def desk_of(name: str) -> Desk:
        desk = case.desk(name)
        desk.shot = replace(desk.shot, clip=Black(desk.shot.clip))
        return desk

    return desk_of


def test_what_was_planted_comes_first_and_its_chain_runs_from_cause_to_effect(told):
    heron = told["heron"][0]
    assert answer_of(heron) == ANSWERS["heron"] == "crosses_at_entry"
    assert [link.role for link in heron.chain][:2] == ["first", "follows"]
    assert "dropped_elbow" in [link.fault for link in heron.chain]
    assert heron.drill is not None and heron.drill.cue and heron.cautions


def test_the_clean_swimmer_has_nothing_first_and_pictures_all_the_same(told):
    wren = told["wren"][0]
    assert wren.first is None and not wren.chain and wren.drill is None
    assert answer_of(wren) == ANSWERS["wren"] == NOTHING
    assert wren.fine and wren.stills and wren.loops and wren.harmless


def test_the_demo_s_list_holds_what_its_cases_need(told):
    keys = {c.key for c in demo_choices()}
    assert {c.key for c in workshop_choices([case for case, _ in told.values()])} & {*SHOWS, *ANSWERS.values()} <= keys
    assert set(ANSWERS.values()) <= keys


def test_nothing_that_a_person_wrote_is_told(told):
    for case, _ in told.values():
        text = case.to_json()
        assert not [s for s in SECRETS if s.casefold() in text.casefold()]
        assert not re.search(r"\d{4}-\d\d-\d\d|/tmp|\\\\", text)
    assert told["heron"][0].event == "750 m open water"


def test_captions_and_words_hold_no_number(told):
    for case, _ in told.values():
        said = [s.caption + s.title for s in case.stills] + [x.caption for x in case.loops]
        said += [f.words for f in case.findings] + [link.seen for link in case.chain]
        assert not [s for s in said if re.search(r"\d", s)]
        assert any(re.search(r"\d", n.text) for s in case.stills for n in s.numbers)
        assert all("give or take" in f.number for f in case.findings if f.number)


def test_every_picture_lies_in_the_folder_under_a_name_that_says_nothing(told):
    for case, media in told.values():
        for name in case.files:
            assert Media(media).read(name)
            assert re.fullmatch(r"(full|look)-\d(-lines)?\.(jpg|mp4)", name)


def test_a_full_speed_loop_takes_as_long_as_the_swim(told):
    for case, _ in told.values():
        for loop in case.loops:
            assert loop.at_full_speed and len(loop.times) == len(loop.lines or loop.times)
            assert np.diff(loop.times).max() < 0.04 and 0.8 < loop.times[-1] < 1.25
            assert 0 <= loop.part[0] < loop.part[1] <= len(loop.times)


def test_it_reads_back_as_the_same_case(told):
    for case, _ in told.values():
        assert TeachingCase.from_json(case.to_json()) == case


def test_pictures_come_from_the_desk_that_is_handed_over(told):
    """Where faces are covered, another desk gives the pictures, all of them."""
    for alias, is_black in (("wren", True), ("heron", False)):
        case, media = told[alias]
        names = [s.plain for s in case.stills] + [loop.poster for loop in case.loops]
        brightest = [np.asarray(Image.open(media / name)).max() for name in names]
        assert all((b < 8) == is_black for b in brightest)
        with Clip(media / case.loops[0].file) as clip:
            assert (clip.frame(3).max() < 24) == is_black


@pytest.mark.parametrize(
    ("damage", "word"),
    [
        (lambda d: d.update(schema=99), "schema 99"),
        (lambda d: d.update(alias=7), "alias"),
        (lambda d: d.update(loops={"a": 1}), "loops"),
        (lambda d: d["stills"][0].update(size=[320]), "size"),
        (lambda d: d["stills"][0].update(size=[1e99, 2]), "size"),
        (lambda d: d.pop("first"), "first"),
        (lambda d: d.update(extra="x"), "extra"),
        (lambda d: d["findings"][0].update(value="many"), "value"),
        (lambda d: d.update(fine=["x" * 5000]), "fine"),
    ],
)
def test_a_case_that_was_tampered_with_is_refused_by_the_field(tmp_path, damage, word):
    made_case(tmp_path / "a")
    data = json.loads((tmp_path / "a" / "case.json").read_text("utf-8"))
    damage(data)
    (tmp_path / "a" / "case.json").write_text(json.dumps(data), "utf-8")
    with pytest.raises(PageError, match=word):
        load_teaching_case(tmp_path / "a")


@pytest.mark.parametrize("words", ["", "[]", "nonsense", "[" * 100_000, '{"schema": 1}'])
def test_what_is_no_case_is_refused(words):
    with pytest.raises(PageError):
        TeachingCase.from_json(words)


def test_a_picture_outside_the_folder_is_refused(tmp_path):
    made_case(tmp_path / "a")
    case = load_teaching_case(tmp_path / "a")
    (tmp_path / "secret.jpg").write_bytes(b"\xff\xd8\xff")
    for name in ("../secret.jpg", "/etc/passwd", "case.json"):
        with pytest.raises(PageError):
            Media(tmp_path / "a").read(replace(case.stills[0], plain=name).plain)
