"""The card says what the plan says, fits its sheet, and carries nothing that the swimmer cannot see."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from parcel_cases import DemoParcel
from PIL import Image

from casebook.case.overview import Overview
from casebook.checkpoints.advice import all_faults, load_advice
from casebook.checkpoints.finding import Finding, Observed
from casebook.checkpoints.priority import Plan
from casebook.checkpoints.seen import SeenFault
from casebook.pages import card as cards
from casebook.pages import show
from casebook.pages.card import Card, card_of
from casebook.pages.card_drawing import _width, card_pdf, card_png
from casebook.pages.card_picture import card_still, change_still, good_stills
from casebook.pages.card_sheet import PAPER, PHONE, balanced, broken, set_card
from casebook.pages.telling import title_of
from casebook.words import CHECKPOINTS

LONGEST_GOODS = tuple(
    sorted((g.words for name in CHECKPOINTS for g in load_advice(name).goods), key=len, reverse=True)[:2]
)


@pytest.fixture(scope="module")
def heron(tmp_path_factory):
    return DemoParcel(tmp_path_factory.mktemp("cases"), "heron")


@pytest.fixture(scope="module")
def wren(tmp_path_factory):
    return DemoParcel(tmp_path_factory.mktemp("cases"), "wren")


def lines_of(card: Card, sheet=PHONE, with_picture: bool = True) -> list[str]:
    return [line.words for line in set_card(card, sheet, _width, with_picture=with_picture).lines]


def told(card: Card, sheet=PHONE) -> str:
    return " ".join(lines_of(card, sheet))


def _span(finding: Finding) -> tuple[int, int]:
    """Frames that a finding was read from, and a stroke's share of them on either side."""
    return min(finding.frames) - 10, max(finding.frames) + 10


def seen_by_eye(key: str) -> Overview:
    """An overview whose one fault was seen by eye."""
    fault = all_faults()[key]
    one = SeenFault(fault, observed=(Observed(fault.checkpoint, "KB", 3, fault.by_eye[0] if fault.by_eye else ""),))
    return Overview((), (one,), (), Plan(one, None, (), (), ()))


def test_the_card_says_what_the_first_page_says(heron):
    card, first = card_of(heron.case, heron.found), show.first(heron.case, heron.found).data
    practice = " ".join(show.practice(heron.case, heron.found).data["items"])
    assert card.title == first["title"] and card.why in first["lead"][-1]
    assert all(good in first["lead"][0] for good in card.goods) and len(card.goods) == 2
    assert card.drill in practice and card.dose in practice and card.cue in practice
    assert card.check[1:] in practice


@pytest.mark.parametrize("sheet", [PHONE, PAPER], ids=["phone", "paper"])
def test_every_word_of_the_card_is_set(heron, sheet):
    card = card_of(heron.case, heron.found)
    words = told(card, sheet)
    for part in (card.name, card.title, card.why, card.seen, card.drill, card.dose, card.cue, card.check, *card.goods):
        assert part and part in words, part


def test_the_number_on_the_card_has_its_give_or_take(heron):
    card = card_of(heron.case, heron.found)
    finding = heron.found.plan.first.findings[0]
    assert "give or take" in card.seen
    assert all(f"{abs(s.value):.0f}" in card.seen for s in finding.strokes)


def test_the_picture_is_of_the_side_and_stroke_that_the_number_is_of(heron):
    finding, still = heron.found.plan.first.findings[0], change_still(heron.found)
    # What is of both hands, such as how far apart they go in, is shown by one of them.
    assert still is not None and still.still.side in ((finding.side, "") if finding.side else ("l", "r", ""))
    assert still.still.frame in range(*_span(finding)) and still.still.drawing.measure


def test_who_has_nothing_to_change_is_told_so_kindly(wren):
    card = card_of(wren.case, wren.found)
    assert "keep swimming like this" in card.title and card.why == cards.ALL_WELL and card.check == cards.AGAIN
    assert not card.drill and not card.cue and len(card.goods) == 2
    words = told(card)
    assert "Practise this" not in words and "Think of this" not in words and "What is good" in words


def test_the_picture_of_a_card_without_a_change_shows_the_good_thing_it_tells(wren):
    first, still = good_stills(wren.found)[0], card_still(wren.found)
    assert still == first.still and still.still.frame in range(*_span(first.finding))
    seen = card_of(wren.case, wren.found).seen
    assert seen.startswith(title_of(first.finding.quantity)) and "give or take" in seen


def test_what_was_seen_by_eye_is_not_given_a_number(heron):
    found = seen_by_eye("breath_held")
    card = card_of(heron.case, found)
    assert card.seen == cards.BY_EYE and card_still(found) is None
    assert card_png(card, None)[:4] == b"\x89PNG" and card_pdf(card, None)[:5] == b"%PDF-"


@pytest.mark.parametrize(("key", "word"), [("late_catch", "physiotherapist"), ("breath_held", "without warning")])
def test_where_a_body_can_be_hurt_the_caution_is_on_the_card(heron, key, word):
    assert word in told(card_of(heron.case, seen_by_eye(key)))


def test_pain_brings_its_own_caution_and_a_minor_the_word_on_pictures(heron):
    case = replace(heron.case, pain_now="left shoulder", minor=True)
    card = card_of(case, seen_by_eye("late_catch"))
    assert card.why.startswith("First of all: left shoulder.") and "treats it decides" in card.why
    assert cards.PRIVATE in card.care


def test_the_dose_is_not_more_often_than_the_swimmer_swims(heron):
    case = replace(heron.case, intake=replace(heron.case.intake, sessions_a_week=1.0))
    assert card_of(case, heron.found).dose.startswith("Each time you swim")


@pytest.mark.parametrize("key", sorted(all_faults()))
@pytest.mark.parametrize("sheet", [PHONE, PAPER], ids=["phone", "paper"])
def test_the_card_of_every_fault_fits_and_stays_readable(heron, key, sheet):
    case = replace(heron.case, minor=True, pain_now="left shoulder")
    card = replace(card_of(case, seen_by_eye(key)), goods=LONGEST_GOODS, seen="x" * 30 + " " + "long words " * 9)
    setting = set_card(card, sheet, _width)
    bottom = max(line.y for line in setting.lines)
    right = max(line.x + _width(line.words, line.kind, line.size) for line in setting.lines)
    assert bottom <= sheet.height - sheet.margin and right <= sheet.width - sheet.margin + 0.5
    assert min(line.size for line in setting.lines if line.kind == "text") >= sheet.smallest * 0.97
    assert setting.picture is not None and setting.picture[3] >= 0.3 * sheet.width


@given(st.text(st.characters(blacklist_categories=("Cs",)), max_size=400), st.floats(3.0, 40.0))
def test_broken_lines_hold_every_letter_and_none_is_too_wide(words, wide):
    lines = broken(words, wide, len)
    assert "".join(lines).replace(" ", "") == "".join(words.split())
    assert all(len(line) <= max(1, wide) for line in lines)


@given(st.text("abcde ", min_size=1, max_size=120), st.floats(6.0, 40.0))
def test_a_balanced_title_has_no_more_lines_and_keeps_its_words(words, wide):
    lines = balanced(words, wide, len)
    assert len(lines) == len(broken(words, wide, len)) and all(len(line) <= wide for line in lines)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")


def test_endless_words_still_fit():
    endless = Card("Heron", "word " * 200, "why " * 200, ("good " * 100,), "do " * 400, "often", "think", "see " * 100)
    for sheet in (PHONE, PAPER):
        setting = set_card(endless, sheet, _width)
        assert max(line.y for line in setting.lines) <= sheet.height - sheet.margin


def test_the_picture_is_of_a_phone_and_has_no_metadata(heron):
    raw = card_png(card_of(heron.case, heron.found), card_still(heron.found))
    with Image.open(io.BytesIO(raw)) as image:
        assert image.size == (1080, 1920) and not image.info and image.mode == "RGB"
    chunks = re.findall(rb"(IHDR|PLTE|IDAT|IEND|tEXt|iTXt|zTXt|tIME|eXIf|pHYs)", raw)
    assert set(chunks) <= {b"IHDR", b"IDAT", b"IEND"} and len(raw) < 2_000_000


def test_the_paper_is_one_page_of_a5_without_author_program_or_date(heron):
    raw = card_pdf(card_of(heron.case, heron.found), card_still(heron.found))
    assert raw.count(b"/Type /Page\n") == 1 or len(re.findall(rb"/Type /Page[^s]", raw)) == 1
    box = [float(v) for v in re.search(rb"/MediaBox \[([^\]]+)\]", raw)[1].split()]
    assert box[2:] == pytest.approx([419.5, 595.3], abs=0.1)
    for word in (b"/CreationDate", b"/Producer", b"/Creator", b"/Author", b"matplotlib", b"/Metadata"):
        assert word not in raw
    assert b"/ToUnicode" in raw or b"/Identity-H" in raw


def test_the_words_on_paper_are_text(heron, tmp_path):
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext (poppler-utils) is not installed.")
    card = card_of(heron.case, heron.found)
    (tmp_path / "card.pdf").write_bytes(card_pdf(card, card_still(heron.found)))
    out = subprocess.run(["pdftotext", str(tmp_path / "card.pdf"), "-"], capture_output=True, check=True, text=True)
    words = " ".join(out.stdout.split())
    for part in (card.title, card.why, card.drill, card.dose, card.cue, card.check):
        assert part in words


def test_the_same_case_makes_the_same_card(heron):
    card, still = card_of(heron.case, heron.found), card_still(heron.found)
    assert card_pdf(card, still) == card_pdf(card, still) and card_png(card, still) == card_png(card, still)
