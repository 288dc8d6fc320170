"""From notebooks to one file: nothing is run or fetched, the coach's words survive, hostile files are refused."""

from __future__ import annotations

import base64
import json
import re
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace

import pytest
from invented_catch import InventedCatch, invented_desk
from page_maker import block_cell, catch_cells, catch_page, output_cell, text_cell, write_notebook

from casebook.errors import PageError
from casebook.pages import show
from casebook.pages.block import MIME, Block, media_name
from casebook.pages.charts import MEAN_FROM
from casebook.pages.layout import LAYOUTS, Place
from casebook.pages.markdown import markdown, plain_title
from casebook.pages.media import Media
from casebook.pages.page import render_case, render_page
from casebook.words import VERDICTS

PIXEL = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)


class Outline(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.starts: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.starts.append((tag, dict(attrs)))

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [a for t, a in self.starts if t == tag]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    return catch_page(tmp_path_factory.mktemp("case")).read_text("utf-8")


def page_of(folder: Path, *cells: object, media: Path | None = None) -> str:
    notebook = write_notebook(folder / "n.ipynb", list(cells))
    target = render_page([notebook], media or folder / "media", folder / "p.html", title="Rowan")
    return target.read_text("utf-8")


def test_the_policy_comes_first_and_allows_only_this_style_and_this_script(page: str) -> None:
    assert page.startswith('<!doctype html>\n<html lang="en"><head><meta http-equiv="Content-Security-Policy"')
    policy = Outline(page).named("meta")[0]["content"] or ""
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == rules["base-uri"] == rules["form-action"] == "'none'"
    assert re.fullmatch(r"'sha256-[A-Za-z0-9+/]{43}='", rules["script-src"])
    assert re.fullmatch(r"'sha256-[A-Za-z0-9+/]{43}='", rules["style-src"])
    assert rules["img-src"] == rules["media-src"] == "data: blob:" and rules["font-src"] == "data:"


def test_the_page_names_nothing_outside_itself_and_has_no_inline_handlers_or_styles(page: str) -> None:
    outline = Outline(page)
    for _, attributes in outline.starts:
        assert not [k for k in attributes if k.startswith("on") or k in ("style", "srcset")]
        for key in ("src", "href", "poster", "action", "data"):
            value = attributes.get(key) or "#"
            assert value.startswith(("data:image/", "data:video/mp4;", "#")), value[:60]
    assert not {"iframe", "object", "embed", "link", "base", "form"} & {t for t, _ in outline.starts}
    assert len(outline.named("script")) == len(outline.named("style")) == 1
    css = page[page.index("<style>") : page.index("</style>")]
    assert "url(" not in css and "@import" not in css


def test_headings_come_in_order_and_landmarks_are_there(page: str) -> None:
    tags = [t for t, _ in Outline(page).starts]
    levels = [int(t[1]) for t in tags if re.fullmatch(r"h[1-6]", t)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    assert {"header", "main", "footer", "section"} <= set(tags)


def test_every_picture_has_words_in_its_place(page: str) -> None:
    outline = Outline(page)
    assert len(outline.named("img")) >= 6
    assert all((a.get("alt") or "").strip() for a in outline.named("img"))
    assert all(a.get("aria-label") or a.get("aria-hidden") for a in outline.named("svg"))
    assert all(a.get("aria-label") for a in outline.named("video"))


def test_the_invented_swimmer_is_called_invented_at_the_top_and_at_the_end(page: str) -> None:
    assert "an invented swimmer" in page[: page.index("<h1")]
    assert "every number on this page are invented" in page[page.index("<footer") :]


def test_the_coachs_cell_is_there_word_for_word_under_its_heading(page: str) -> None:
    note = page[page.index("In the coach&#x27;s words") :]
    assert "Leave the arm shape alone." in note and "<em>tip, hold, press</em>" in note


def test_code_hidden_cells_and_printed_lines_are_not_shown(tmp_path: Path) -> None:
    words = Block("prose", "secret", {"title": "", "paragraphs": ["secret"], "items": []})
    html = page_of(
        tmp_path,
        text_cell("# Catch"),
        text_cell("secret", "hide"),
        block_cell(words, ("hide",), "secret_call()"),
        block_cell(
            Block("prose", "shown", {"title": "", "paragraphs": ["shown"], "items": []}), source="secret_call()"
        ),
    )
    assert "secret" not in html and "shown" in html


def test_text_and_html_name_the_same_findings(tmp_path: Path) -> None:
    desk, catch = invented_desk(tmp_path), InventedCatch()
    block = show.measures(desk, catch)
    html = LAYOUTS["measures"](block.data, Place(2, Media(tmp_path)))
    bare = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))
    for row in block.data["measures"]:
        for words in (row["title"], row["who"], row["value_text"], VERDICTS[row["verdict"]]):
            assert words in block.words and words in bare
        for piece in row["give_text"].split(", "):
            assert piece in block.words and piece in bare
    assert html.count('class="find"') == len(block.data["measures"]) == block.words.count(";")
    for gap in block.data["missing"]:
        assert gap in block.words and gap in bare


def test_the_headline_is_the_same_in_text_and_html(tmp_path: Path) -> None:
    block = show.headline(invented_desk(tmp_path), InventedCatch())
    html = LAYOUTS["headline"](block.data, Place(2, Media(tmp_path)))
    for words in (block.data["title"], *block.data["lead"], *block.data["meta"]):
        assert words in block.words and words in html


def test_few_strokes_have_rings_and_no_bar_on_the_page(page: str) -> None:
    row = page[page.index("Bend of the elbow, hand under the shoulder") :]
    row = row[: row.index('class="missing"')]
    assert "seen twice" in row and row.count("<circle") == 2 < MEAN_FROM
    assert 'class="these"' not in row and 'class="mean"' not in row and 'class="habit"' not in row


def test_a_block_is_the_same_twice_and_holds_only_plain_small_data(tmp_path: Path) -> None:
    for name in ("headline", "whole", "stills", "measures", "curve", "meaning", "sources", "provenance"):
        one, two = (
            getattr(show, name)(invented_desk(tmp_path / part), InventedCatch())._repr_mimebundle_() for part in "ab"
        )
        assert one == two
        data = json.dumps(one[MIME])
        assert len(data) < 60_000 and str(tmp_path) not in data + one["text/plain"]
        assert json.loads(data) == one[MIME] and one[MIME]["schema"] == 1


def test_the_page_is_the_same_byte_for_byte_when_rendered_again(tmp_path: Path) -> None:
    assert catch_page(tmp_path / "a").read_bytes() == catch_page(tmp_path / "b").read_bytes()


def test_several_notebooks_are_sections_with_contents_and_one_h1(tmp_path: Path) -> None:
    desk, catch = invented_desk(tmp_path), InventedCatch()
    first = write_notebook(tmp_path / "n" / "04_catch.ipynb", catch_cells(desk, catch, loop=False))
    second = write_notebook(tmp_path / "n" / "05_pull.ipynb", [text_cell("# The pull\n\nNot looked at yet.")])
    html = render_page([first, second], desk.out / "media", tmp_path / "p.html", title="Rowan").read_text("utf-8")
    outline = Outline(html)
    assert len(outline.named("h1")) == 1
    bar = Outline(html[html.index("<nav") : html.index("</nav>")])
    assert [a["href"] for a in bar.named("a")] == ["#04-catch", "#05-pull", "#top"]
    assert {"top", "04-catch", "05-pull"} <= {a.get("id") for _, a in outline.starts}
    assert {a["id"] for a in outline.named("section")} == {"04-catch", "05-pull"}
    levels = [int(t[1]) for t, _ in outline.starts if re.fullmatch(r"h[1-6]", t)]
    assert all(b <= a + 1 for a, b in pairwise(levels))


def test_links_are_only_to_the_web_mail_and_the_page_itself() -> None:
    html = markdown(
        "[a](https://a.org) [b](mailto:b@c.org) [c](#x) [d](javascript:alert(1)) [e](file:///etc) [f](data:x)", 2
    )
    assert [a.get("href") for a in Outline(html).named("a")] == ["https://a.org", "mailto:b@c.org", "#x"]


def test_pictures_in_markdown_become_their_words() -> None:
    html = markdown("![the swimmer](https://elsewhere.org/x.png)", 2)
    assert "<img" not in html and "the swimmer" in html and "elsewhere" not in html


def test_markdown_headings_start_at_the_level_asked_for_and_skip_none() -> None:
    html = markdown("## A\n\n#### B\n\n## C", 3)
    assert re.findall(r"<(h\d)>", html) == ["h3", "h4", "h3"]
    assert plain_title("x\n\n# The `catch`") == "The catch"


def test_media_is_found_by_bare_name_only(tmp_path: Path) -> None:
    folder = tmp_path / "media"
    folder.mkdir()
    (folder / "a.png").write_bytes(PIXEL)
    (tmp_path / "b.png").write_bytes(PIXEL)
    (folder / "fake.png").write_text("<script>")
    (folder / "away.png").symlink_to(tmp_path / "b.png")
    media = Media(folder)
    assert media.read("a.png") == PIXEL
    for name in (
        "../b.png", "..\\b.png", str(tmp_path / "b.png"), "away.png", "fake.png", "none.png", "a.svg", "", ".", "..",
        "a.png\x00", "a.png\n", "C:a.png", "media/a.png", None, 3, ["a.png"], "%2e%2e/b.png", "a" * 400 + ".png",
    ):  # fmt: skip
        with pytest.raises(PageError):
            media.read(name)


def test_a_missing_picture_is_an_error_that_names_it_and_says_what_to_do(tmp_path: Path) -> None:
    picture = {"file": "rowan-whole-2.jpg", "size": [4, 3], "alt": "x", "title": "y", "drawing": {}}
    with pytest.raises(PageError, match=r"rowan-whole-2\.jpg.*Run the notebooks again"):
        page_of(tmp_path, block_cell(Block("whole", "x", {"picture": picture})))


def test_a_newer_block_is_refused_with_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(PageError, match="newer casebook"):
        page_of(tmp_path, output_cell({MIME: {"schema": 2, "kind": "prose"}, "text/plain": "x"}))


def test_a_file_that_is_no_notebook_is_named(tmp_path: Path) -> None:
    (tmp_path / "x.ipynb").write_text("{")
    with pytest.raises(PageError, match=r"x\.ipynb"):
        render_page([tmp_path / "x.ipynb"], tmp_path, tmp_path / "p.html", title="t")
    assert not (tmp_path / "p.html").exists()


@pytest.mark.parametrize("kind", sorted(LAYOUTS))
@pytest.mark.parametrize(
    "junk", [None, 1, "x", [], [None], [{}], {}, [[1, 2]], {"size": [1, 2]}, float("nan"), -1, True]
)
def test_a_block_of_nonsense_never_breaks_the_page(tmp_path: Path, kind: str, junk: object) -> None:
    keys = (
        "title",
        "meta",
        "lead",
        "measures",
        "picture",
        "pictures",
        "you",
        "lines",
        "times",
        "stills",
        "items",
        "size",
    )
    cell = output_cell({MIME: {"schema": 1, "kind": kind} | dict.fromkeys(keys, junk), "text/plain": "as text"})
    try:
        assert "<main" in page_of(tmp_path, cell)
    except PageError as error:
        assert "plain name" in str(error)


def test_outputs_that_are_no_blocks_are_text_pictures_or_nothing(tmp_path: Path) -> None:
    html = page_of(
        tmp_path,
        output_cell({"text/html": "<b id=evil>", "text/plain": "a < b"}),
        output_cell({"image/png": PIXEL, "text/plain": "a picture"}),
        output_cell({"image/png": b"<svg onload=alert(1)>", "text/plain": "no picture"}),
        output_cell({"application/vnd.jupyter.widget-view+json": {"model_id": "x"}, "text/plain": "FrameMarker(...)"}),
    )
    assert "evil" not in html and "a &lt; b" in html and "FrameMarker" not in html
    assert [a["alt"] for a in Outline(html).named("img")] == ["a picture"]


def test_media_names_are_harmless_and_stable() -> None:
    assert media_name("rowan_side", "straight_down", 3, ending="jpg") == "rowan_side-straight_down-3.jpg"
    assert media_name("../../etc", '"><svg', "", ending="png") == "etc-svg-x.png"


def test_a_blocks_own_title_gives_way_to_the_notebooks_heading(tmp_path: Path) -> None:
    block = Block("prose", "x", {"title": "Its own title", "paragraphs": ["said"], "items": []})
    assert "Its own title" in page_of(tmp_path, text_cell("# Catch"), block_cell(block))
    html = page_of(tmp_path, text_cell("# Catch"), text_cell("## The title above\n\nProse."), block_cell(block))
    assert "Its own title" not in html and "The title above" in html


def test_small_print_comes_last_and_the_headline_first_wherever_they_stand(tmp_path: Path) -> None:
    desk, catch = invented_desk(tmp_path), InventedCatch()
    cells = [show.sources(desk, catch), show.facts(desk), show.meaning(desk, catch), show.headline(desk, catch)]
    html = page_of(tmp_path, text_cell("# Catch"), *map(block_cell, cells))
    order = [html.index(f'class="{c}') for c in ("headline", "prose", "facts", "sources")]
    assert order == sorted(order)


def test_what_stays_at_the_desk_and_unwritten_coach_cells_are_not_shown(tmp_path: Path) -> None:
    html = page_of(
        tmp_path,
        text_cell("# Catch"),
        text_cell("for the desk", "desk"),
        text_cell("*Write here what you saw before measuring. Delete this line.*", "coach"),
        text_cell("mine, for myself", "coach", "desk"),
        text_cell("  \n", "coach"),
        text_cell("*Write here* is what I wrote.", "coach"),
    )
    assert "for the desk" not in html and "Delete this line" not in html and "for myself" not in html
    assert html.count("<aside") == 1 and "is what I wrote" in html


def test_a_case_whose_notebooks_have_not_run_is_told_to_run_them(tmp_path: Path) -> None:
    notebook = write_notebook(tmp_path / "rowan" / "notebooks" / "04.ipynb", [text_cell("# Catch")])
    case = SimpleNamespace(
        notebooks=[notebook], out=tmp_path / "rowan" / "out", folder=tmp_path / "rowan", alias="Rowan", invented=True
    )
    with pytest.raises(PageError, match="casebook run rowan"):
        render_case(case)
    write_notebook(notebook, [text_cell("# Catch"), output_cell({"text/plain": "9 cm"})])
    target = render_case(case)
    assert target == tmp_path / "rowan" / "out" / "rowan.html" and "9 cm" in target.read_text("utf-8")


def test_a_notebook_that_runs_shows_blocks_as_text_picture_and_data(tmp_path: Path) -> None:
    from nbclient import NotebookClient
    from nbformat.v4 import new_code_cell, new_notebook

    source = (
        "from casebook.pages.block import Block\n"
        "from casebook.pages.figure import to_png\n"
        "Block('prose', 'words', {'title': 'T', 'paragraphs': ['said'], 'items': []}, to_png([], (40, 20)))"
    )
    notebook = new_notebook(cells=[new_code_cell(source)])
    NotebookClient(notebook, timeout=120, kernel_name="python3").execute()
    (output,) = notebook.cells[0].outputs
    assert output["data"]["text/plain"] == "words"
    assert output["data"][MIME] == {"schema": 1, "kind": "prose", "title": "T", "paragraphs": ["said"], "items": []}
    assert base64.b64decode(output["data"]["image/png"]).startswith(b"\x89PNG")
    path = write_notebook(tmp_path / "n.ipynb", notebook.cells)
    html = render_page([path], tmp_path, tmp_path / "p.html", title="t").read_text("utf-8")
    assert "<p>said</p>" in html and "<img" not in html


def test_what_was_seen_before_measuring_is_called_so(tmp_path: Path) -> None:
    first, last = text_cell("Long and calm.", "coach"), text_cell("Tip, hold, press.", "coach")
    first.metadata["casebook"] = {"slot": "catch-first-impression"}
    last.metadata["casebook"] = {"slot": "catch-to-do"}
    html = page_of(tmp_path, text_cell("# Catch"), first, last)
    assert html.count("In the coach&#x27;s words: before measuring</h2>") == 1
    assert html.count("In the coach&#x27;s words</h2>") == 1


def test_a_voice_note_stands_under_its_headline_and_one_without_written_words_is_told_of(tmp_path: Path) -> None:
    from casebook.pages.media import Media
    from casebook.pages.page import Document, page_html, sections_of, unwritten_notes

    head = {"schema": 1, "kind": "headline", "title": "Tip sooner", "meta": [], "lead": ["x"], "checkpoint": "catch"}
    cells = [text_cell("# The catch"), output_cell({MIME: head, "text/plain": "x"})]
    notebook = write_notebook(tmp_path / "n" / "04.ipynb", cells)
    html = page_html(sections_of([notebook]), Media(tmp_path), Document("t", notes={"catch": b"abc", "kick": b"abc"}))
    assert html.count("<audio") == 1 and html.index("Tip sooner") < html.index("<audio")
    assert 'src="data:audio/mp4;base64,YWJj"' in html and "own voice</figcaption>" in html
    (tmp_path / "voice").mkdir()
    (tmp_path / "voice" / "catch.wav").write_bytes(b"")
    case = SimpleNamespace(notebooks=[notebook], folder=tmp_path)
    assert unwritten_notes(case) == ["catch"]
    write_notebook(notebook, [*cells, text_cell("Tip, hold, press.", "coach")])
    assert unwritten_notes(case) == []
