"""The workshop's page and its paper as text: what stands where, what is folded, what a stranger's case cannot do."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from test_page_in_browser import HOSTILE
from workshop_maker import NUMBERS, made_case, made_cases

from casebook.case.create import ClipAnswers, new_case
from casebook.case.notebooks import read_notebook
from casebook.cli import main
from casebook.errors import PageError
from casebook.pages.workshop import KEYS, make_workshop
from casebook.pages.workshop_paper import CASE_MINUTES, ROOM, WORKSHOP_MINUTES, minutes_of
from casebook.resources import OF_A_GROUP, templates


class Reader(HTMLParser):
    """Tags in their order, the text outside of style and script, and whether each text lies in folds or in ``.num``."""

    VOID = ("meta", "img", "input", "br", "hr", "path", "line", "circle", "rect", "polyline")

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[tuple[str, str]] = []
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.texts: list[tuple[str, bool, bool]] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        facts = {k: v or "" for k, v in attrs}
        self.tags.append((tag, facts))
        if tag not in self.VOID:
            self.open.append((tag, facts.get("class", "")))

    def handle_endtag(self, tag):
        if tag not in self.VOID:
            assert self.open.pop()[0] == tag

    def handle_data(self, data):
        if data.strip() and not any(t in ("style", "script") for t, _ in self.open):
            folded = any(t == "details" for t, _ in self.open)
            numbers = any("num" in c.split() for _, c in self.open)
            self.texts.append((data, folded, numbers))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("workshop")
    make_workshop(made_cases(folder / "packs"), folder / "out" / "workshop.html")
    return folder / "out"


def page(made: Path, name: str = "workshop.html") -> Reader:
    return Reader((made / name).read_text("utf-8"))


def test_everything_for_the_day_lies_in_one_folder(made):
    names = {p.name for p in made.iterdir()}
    assert names == {
        "workshop.html", "handout.html", "handout_after.html", "tally_sheet.html", "guide.html", "choices.csv",
        "answers.csv", "votes", "16_workshop.ipynb",
    }  # fmt: skip


def test_every_page_is_one_file_that_asks_for_nothing(made):
    for path in made.glob("*.html"):
        tags = page(made, path.name).tags
        policy = next(f["content"] for t, f in tags if f.get("http-equiv") == "Content-Security-Policy")
        assert policy.startswith("default-src 'none'") and "unsafe" not in policy and "http" not in policy
        assert not [t for t, f in tags if t in ("link", "iframe", "object", "base", "form")]
        refers = [f[k] for _, f in tags for k in ("src", "href", "poster") if k in f]
        assert all(r.startswith(("data:", "#")) for r in refers)
        assert not [f for _, f in tags if any(k.startswith("on") or k == "style" for k in f)]


def test_a_case_goes_from_watching_to_the_drill_and_the_answer_is_folded(made):
    found = page(made)
    names = [f["data-name"] for _, f in found.tags if "data-name" in f]
    case = ["Watch", "Write", "Look", "Causes", "Reveal", "Drill"]
    assert names == ["Opening", *case * 3, "Together"]
    told = [
        (words, folded)
        for words, folded, _ in found.texts
        if "THE ANSWER" in words or "hands on rails" in words.lower()
    ]
    assert len(told) == 4 and all(folded for _, folded in told)


def test_a_number_stands_only_where_one_key_hides_it(made):
    found = page(made)
    for number in NUMBERS:
        told = [hidden for words, _, hidden in found.texts if number in words]
        assert told and all(told)
    alts = [f["alt"] for t, f in found.tags if t == "img"]
    assert alts and all(alt and not re.search(r"\d", alt) for alt in alts)


def test_the_handout_gives_nothing_away_and_the_second_one_all(made):
    before = (made / "handout.html").read_text("utf-8")
    assert "THE ANSWER" not in before and not any(n in before for n in NUMBERS) and "hands on rails" not in before
    assert before.count("The ONE thing I would change") == 3
    after = (made / "handout_after.html").read_text("utf-8")
    assert after.count("THE ANSWER") == 2 and after.count("Nothing: leave it as it is.") == 1
    assert "pinches or hurts" in after and after.count("hands on rails") == 2


def test_the_tally_sheet_has_a_row_for_each_coach_and_a_column_for_each_case(made):
    text = (made / "tally_sheet.html").read_text("utf-8")
    assert all(f"Coach {n}<" in text for n in range(1, ROOM + 1)) and ROOM >= 15
    row = text.split("Coach 15</th>")[1].split("</tr>")[0]
    assert row.count("<td></td>") == 3
    values = re.findall(r"<td>(\d+)</td>", text.split(">Value<")[1])
    assert [int(v) for v in values] == [n * (n - 1) for n in range(2, ROOM + 1)]


def test_the_guide_s_example_by_hand_is_right(made):
    """(72 + 12 + 2) / 210 for 9, 4 and 2 of 15 hands."""
    import numpy as np

    from casebook.checkpoints.first_agreement import pair_share

    assert pair_share(np.array([9.0, 4.0, 2.0])).value == pytest.approx((72 + 12 + 2) / 210)
    assert "= 41 %" in (made / "tally_sheet.html").read_text("utf-8")


@pytest.mark.parametrize("cases", [4, 5])
def test_four_or_five_cases_of_a_quarter_of_an_hour_fill_ninety_minutes(cases):
    plan = minutes_of(cases)
    assert sum(m for _, m in plan) == WORKSHOP_MINUTES and CASE_MINUTES == 15
    assert plan[-1][1] >= 10


def test_the_guide_says_what_to_do_and_what_to_take_care_of(made):
    text = (made / "guide.html").read_text("utf-8").lower()
    for words in ("when they disagree", "safeguarding", "shoulder", "breath", "consent", "one folder", "90 minutes"):
        assert words in text
    assert text.count("the answer") >= 2


def test_keys_are_told_once_each():
    keys = [key for key, _ in KEYS]
    assert len(set(keys)) == len(keys) >= 10


def test_whatever_a_stranger_s_case_says_stays_text(tmp_path, made):
    for n, words in enumerate(HOSTILE):
        said = {"event": words, "audience": words, "fine": (words,), "cautions": (words,)}
        made_case(tmp_path / str(n), f"{n} {words}"[:100], **said)
    make_workshop([tmp_path / str(n) for n in range(len(HOSTILE))], tmp_path / "out" / "workshop.html")
    usual = {t for path in made.glob("*.html") for t, _ in page(made, path.name).tags}
    for path in (tmp_path / "out").glob("*.html"):
        tags = Reader(path.read_text("utf-8")).tags
        assert {t for t, _ in tags} <= usual
        assert not [f for _, f in tags if any(k.startswith("on") or k in ("style", "srcdoc") for k in f)]


def test_no_case_and_two_of_one_name_are_refused(tmp_path):
    with pytest.raises(PageError, match="at least one"):
        make_workshop([], tmp_path / "w.html")
    made_case(tmp_path / "a")
    made_case(tmp_path / "b")
    with pytest.raises(PageError, match='"Heron"'):
        make_workshop([tmp_path / "a", tmp_path / "b"], tmp_path / "w.html")
    with pytest.raises(PageError, match="no teaching case"):
        make_workshop([tmp_path], tmp_path / "w.html")


def test_a_pack_stands_for_all_of_its_cases(tmp_path):
    for alias in ("Heron", "Alder", "Wren"):
        made_case(tmp_path / "pack" / "cases" / alias, alias)
    make_workshop([tmp_path / "pack"], tmp_path / "w.html")
    assert [line.split(",")[0] for line in (tmp_path / "answers.csv").read_text("utf-8").splitlines()[1:]] == [
        "Alder", "Heron", "Wren",
    ]  # fmt: skip


def test_a_link_is_no_case(tmp_path):
    made_case(tmp_path / "a")
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "case.json").symlink_to(tmp_path / "a" / "case.json")
    with pytest.raises(PageError, match="link"):
        make_workshop([tmp_path / "b"], tmp_path / "w.html")


def test_the_command_makes_it_and_tells_mistakes_in_a_sentence(tmp_path, capsys):
    made_case(tmp_path / "a")
    assert main(["workshop", str(tmp_path / "a"), "-o", str(tmp_path / "out" / "day.html")]) == 0
    assert (tmp_path / "out" / "day.html").is_file() and "guide holds the answers" in capsys.readouterr().out
    assert main(["workshop"]) == 2 and "--demo" in capsys.readouterr().err
    assert main(["workshop", str(tmp_path)]) == 2 and "no teaching case" in capsys.readouterr().err


def test_a_swimmer_s_case_gets_no_notebook_about_a_group(tmp_path):
    folder = new_case(tmp_path / "finch", None, ClipAnswers())
    names = {p.stem for p in (folder / "notebooks").glob("*.ipynb")}
    assert names and not names & set(OF_A_GROUP)
    assert not {p.stem for p in templates()} & set(OF_A_GROUP)


def test_the_notebook_beside_the_page_reads_the_votes_put_there(tmp_path, monkeypatch, capsys):
    make_workshop(made_cases(tmp_path / "packs"), tmp_path / "day" / "workshop.html")
    for n in range(20):
        (tmp_path / "day" / "votes" / f"coach {n}.csv").write_text(f"case,choice\nHeron,{1 + n % 2}\nWren,3\n", "utf-8")
    monkeypatch.chdir(tmp_path / "day")
    space: dict[str, object] = {}
    for cell in read_notebook(tmp_path / "day" / "16_workshop.ipynb").cells:
        if cell.cell_type == "code":
            exec(cell.source, space)
    said = capsys.readouterr().out
    assert "20 coaches, 40 votes on 3 cases." in said and "Nobody marked" in said
    found = space["found"]
    assert [c.votes.n for c in found.cases] == [20, 20, 0]
    assert "Wren: 20 of 20 chose" in found.text() and "Alder: nobody has chosen." in found.text()


def test_making_it_again_keeps_votes_and_notebook(tmp_path):
    folders, target = made_cases(tmp_path / "packs"), tmp_path / "day" / "workshop.html"
    make_workshop(folders, target)
    (tmp_path / "day" / "votes" / "a.csv").write_text("case,choice\nHeron,1\n", "utf-8")
    (tmp_path / "day" / "16_workshop.ipynb").write_text("mine", "utf-8")
    first = target.read_bytes()
    make_workshop(folders, target)
    assert target.read_bytes() == first
    assert (tmp_path / "day" / "votes" / "a.csv").exists()
    assert (tmp_path / "day" / "16_workshop.ipynb").read_text("utf-8") == "mine"
