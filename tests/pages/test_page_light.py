"""The light copy: what is left out, in which order, and that nothing else changes."""

from __future__ import annotations

import io
from pathlib import Path

import av
import numpy as np
import pytest
from invented_catch import BITS, InventedCatch, invented_desk, pattern_number
from page_maker import catch_cells, output_cell, text_cell, write_notebook
from PIL import Image

from casebook.errors import PageError
from casebook.pages.block import MIME
from casebook.pages.light import WEIGHTS, LightMedia, Weight, full_html, light_html, lightened, loops_by_weight
from casebook.pages.media import Media
from casebook.pages.page import Document, page_html, sections_of
from casebook.pages.section import Section

SMALL = Weight(200, 50, 1, 160, 34)


def section(name: str, verdict: str = "", loop: str = "", leads: bool = False, names: str = "") -> Section:
    blocks = [{"schema": 1, "kind": "measures", "measures": [{"verdict": verdict}]}] if verdict else []
    blocks += [{"schema": 1, "kind": "loop", "name": loop}] if loop else []
    blocks += [{"schema": 1, "kind": "pair", "you": {"loop": names}}] if names else []
    return Section(name, name, tuple(output_cell({MIME: b, "text/plain": ""}) for b in blocks), leads)


def test_loops_matter_in_the_order_of_the_plan_then_of_the_verdicts_then_of_the_page() -> None:
    sections = [
        section("plan", leads=True, names="kick 1"),
        section("entry", "within", "entry 1"),
        section("catch", "outside", "catch 1"),
        section("pull", "undecided", "pull 1"),
        section("reach", "outside", "reach 1"),
        section("kick", "within", "kick 1"),
        section("roll", "", "roll 1"),
    ]
    assert loops_by_weight(sections) == ["kick-1", "catch-1", "reach-1", "pull-1", "entry-1", "roll-1"]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[Section], Path]:
    folder = tmp_path_factory.mktemp("case")
    desk = invented_desk(folder)
    book = write_notebook(folder / "04_catch.ipynb", catch_cells(desk, InventedCatch()))
    other = write_notebook(folder / "05_pull.ipynb", [text_cell("# The pull\n\nLater.")])
    return sections_of([book, other]), desk.out / "media"


def test_a_loop_is_smaller_and_shows_the_same_pictures_at_the_same_times(made: tuple[list[Section], Path]) -> None:
    _, folder = made
    (name,) = (p.name for p in folder.glob("*.mp4"))
    shown = []
    for media in (LightMedia(folder, Weight(200, 50, 1, 320, 30)), None):
        raw = media.read(name) if media else (folder / name).read_bytes()
        with av.open(io.BytesIO(raw)) as box:
            frames = list(box.decode(video=0))
        shown.append([(round(float(f.time), 4), pattern_number(f.to_ndarray(format="rgb24"))) for f in frames])
        size = frames[0].width
        assert size == (320 if media else 640)
    assert shown[0] == shown[1] and len(shown[0]) > 10
    assert max(n for _, n in shown[0]) < 2**BITS


def test_pictures_are_smaller_keep_their_proportions_and_a_figure_its_transparent_ground(made, tmp_path) -> None:
    _, folder = made
    for path in [*folder.glob("*.jpg"), *folder.glob("*.png")]:
        light = LightMedia(folder, SMALL).read(path.name)
        before, after = Image.open(path), Image.open(io.BytesIO(light))
        assert len(light) <= path.stat().st_size
        if len(light) < path.stat().st_size:
            assert after.width <= 200
            assert after.width / after.height == pytest.approx(before.width / before.height, rel=0.02)
        if path.suffix == ".png":
            assert np.asarray(after.convert("RGBA"))[1, 1, 3] == 0
    with pytest.raises(PageError):
        LightMedia(folder, SMALL).read("../case.toml")


def test_what_is_already_small_is_not_made_larger(tmp_path: Path) -> None:
    Image.new("L", (4, 4)).save(tmp_path / "a.jpg", quality=1)
    raw = (tmp_path / "a.jpg").read_bytes()
    assert len(LightMedia(tmp_path, WEIGHTS[0]).read("a.jpg")) <= len(raw)


def test_the_first_weight_that_fits_is_taken_and_the_barest_where_none_does(made: tuple[list[Section], Path]) -> None:
    sections, media = made
    document = Document("Rowan", notes={"catch": bytes(40_000)})
    fullest = light_html(sections, media, document)
    assert "1 of 1 loops" in fullest and "data:audio/mp4" in fullest
    tight = light_html(sections, media, document, limit=len(fullest) - 1)
    assert "data:audio/mp4" not in tight and len(tight) < len(fullest)
    barest = light_html(sections, media, document, limit=1)
    assert "0 of 1 loops" in barest and "<video" not in barest and "data:video" not in barest
    assert len(barest) < len(tight)


def test_a_full_page_is_touched_only_where_it_is_too_large_and_keeps_every_loop(
    made: tuple[list[Section], Path],
) -> None:
    sections, media = made
    document = Document("Rowan")
    whole = page_html(sections, Media(media), document)
    assert full_html(sections, media, document) == whole
    smaller = full_html(sections, media, document, limit=len(whole) - 1)
    assert len(smaller) < len(whole) and smaller.count("<video") == whole.count("<video") == 1
    assert smaller.count("<img") == whole.count("<img") and "A light copy" not in smaller


def test_a_page_without_a_loop_says_so(tmp_path: Path) -> None:
    book = write_notebook(tmp_path / "a.ipynb", [text_cell("# Plan\n\nSwim easily.")])
    assert "and no loop." in light_html(sections_of([book]), tmp_path, Document("Rowan"))


def test_leaving_out_a_loop_leaves_every_other_word(made: tuple[list[Section], Path]) -> None:
    sections, media = made
    with_it = page_html(sections, Media(media), Document("Rowan"))
    without = page_html([lightened(s, frozenset()) for s in sections], Media(media), Document("Rowan"))
    for words in ("tip, hold, press", "give or take", "worth working on", "Definitions and sources"):
        assert with_it.count(words) == without.count(words) > 0
    assert sections[0].cells == tuple(sections[0].cells) and any(b["kind"] == "loop" for b in sections[0].blocks())
