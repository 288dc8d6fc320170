"""Hostile words on a page: they are words there, in every block, cell, title and output."""

from __future__ import annotations

import html as entities
import re

import pytest
from hostile import EVERYWHERE, MARKDOWN, OUTPUTS, PAGE, RUN
from hostile_blocks import FILES, hostile_blocks, lay_media, seen, words_in
from nbformat.v4 import new_code_cell, new_markdown_cell, new_output
from safe_page import faults
from stranger_page import page_of

from casebook.errors import PageError
from casebook.pages.layout import LAYOUTS, Place
from casebook.pages.markdown import markdown, plain_title
from casebook.pages.media import Media


@pytest.fixture(scope="module")
def media(tmp_path_factory):
    return Media(lay_media(tmp_path_factory.mktemp("media")))


def test_the_reader_of_pages_sees_what_runs():
    """Pasted as they are, all but the mildest of the payloads are noticed; so a clean page means something."""
    marked = {name: words for name, words in PAGE.items() if "<" in words}
    unseen = {name for name, words in marked.items() if not faults(f"<p title='{words}'>{words}</p>", whole=False)}
    assert unseen <= {"templates", "script inside script", "image in many sizes"}, unseen
    assert len(marked) > 60


def test_the_notebooks_show_nearly_every_kind_of_block():
    missing = [kind for kind, blocks in seen().items() if not blocks]
    assert len(missing) < len(LAYOUTS) / 2, missing


@pytest.mark.parametrize("words", EVERYWHERE.values(), ids=EVERYWHERE.keys())
def test_no_block_lets_words_become_markup(media, words):
    for block in hostile_blocks(words):
        assert not faults(LAYOUTS[block["kind"]](block, Place(3, media)), whole=False), block["kind"]


@pytest.mark.parametrize("words", EVERYWHERE.values(), ids=EVERYWHERE.keys())
def test_no_cell_or_title_lets_words_become_markup(tmp_path, words):
    cells = (
        new_markdown_cell(words),
        new_markdown_cell(words, metadata={"tags": ["coach"], "casebook": {"slot": words}}),
        new_code_cell(words, outputs=[new_output("display_data", data={"text/plain": words})]),
        new_code_cell("x", outputs=[new_output("stream", text=words), new_output("error", ename=words, evalue=words)]),
    )
    assert not faults(page_of(tmp_path, cells, cells, title=words, alias=words))


@pytest.mark.parametrize("words", MARKDOWN.values(), ids=MARKDOWN.keys())
def test_markdown_makes_only_links_that_a_reader_can_trust(words):
    made = markdown(words, 3)
    assert not faults(made, whole=False)
    assert not re.search(r"<(img|script|svg|iframe)", made)
    plain_title(words)


@pytest.mark.parametrize("data", OUTPUTS.values(), ids=OUTPUTS.keys())
def test_no_output_brings_its_own_markup(tmp_path, data):
    cell = new_code_cell("x", outputs=[new_output("display_data", data=data)])
    page = page_of(tmp_path, [cell])
    assert not faults(page)
    assert RUN not in entities.unescape(page) or RUN in data.get("text/plain", "")


def test_words_are_shown_as_they_were_written(tmp_path):
    """Escaping neither eats nor doubles: a reader sees the very signs."""
    words = "5 < 6 & \"so\" 'on' &lt;b&gt; <b>"
    cell = new_code_cell("x", outputs=[new_output("display_data", data={"text/plain": words})])
    page = page_of(tmp_path, [cell], title=words)
    assert entities.unescape(re.search("<pre>(.*?)</pre>", page)[1]) == words
    assert entities.unescape(re.search("<title>(.*?)</title>", page)[1]) == words


@pytest.mark.parametrize(
    "name", ["../x.jpg", "/etc/passwd", "x.svg", "http://elsewhere.invalid/x.jpg", "a\x00.jpg", "CON"]
)
def test_no_block_can_name_a_file_elsewhere(tmp_path, name):
    (tmp_path / "x.jpg").write_bytes(b"\xff\xd8\xff secret")
    media = Media(lay_media(tmp_path / "media"))
    tried = 0
    for kind, blocks in seen().items():
        for block in blocks:
            if any(place[-1] in FILES for place, _ in words_in(block)):
                tried += 1
                try:
                    made = LAYOUTS[kind](_named(block, name), Place(3, media))
                except PageError as error:
                    assert "plain name" in str(error) or "not in the media folder" in str(error)
                else:
                    assert "secret" not in made and not faults(made, whole=False)
    assert tried > 3


def test_code_of_a_notebook_is_read_and_never_run(tmp_path):
    marker = tmp_path / "ran"
    cell = new_code_cell(
        f"open({str(marker)!r}, 'w')", outputs=[new_output("display_data", data={"text/plain": "saved words"})]
    )
    assert "saved words" in page_of(tmp_path, [cell]) and not marker.exists()


def _named(value, name, key=""):
    if isinstance(value, str):
        return name if key in FILES else value
    if isinstance(value, dict):
        return {k: _named(each, name, k) for k, each in value.items()}
    return [_named(each, name, key) for each in value] if isinstance(value, list) else value
