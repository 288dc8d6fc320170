"""Links that lead out of a case, and files that are not what their names say."""

from __future__ import annotations

import os
import struct
import zlib

import pytest
from nbformat.v4 import new_code_cell, new_output
from stranger_page import page_of, write_cells

from casebook.case.case import Case
from casebook.case.create import ClipAnswers, add_clip, new_case
from casebook.case.settings import write_settings
from casebook.clip.clip import Clip
from casebook.errors import CasebookError, CaseError, ClipError, PageError
from casebook.pages.block import MIME
from casebook.pages.media import Media
from casebook.pages.page import render_case

links = pytest.mark.skipif(os.name == "nt", reason="making links needs a privilege on Windows")
GIF = b"GIF89a\x01\x00\x01\x00\x00\xff\x00,\x00\x00\x00\x00\x01\x00\x01\x00\x00\x02\x00;"
HTML = b"<!doctype html><script>window.ran=1</script>"
SVG = b"<svg xmlns='http://www.w3.org/2000/svg' onload='window.ran=1'/>"
#: Files whose names lie, by what they are.
LIES = {
    "a page as a picture": ("x.png", HTML),
    "a page as a photograph": ("x.jpg", HTML),
    "a drawing as a photograph": ("x.jpg", SVG),
    "a drawing as a picture": ("x.png", SVG),
    "another kind of picture": ("x.png", GIF),
    "a page as a loop": ("x.mp4", HTML),
    "a playlist as a loop": ("x.mp4", b"#EXTM3U\nhttps://elsewhere.invalid/x.ts\n"),
    "a program as a loop": ("x.mp4", b"MZ\x90\x00" + bytes(60)),
    "nothing": ("x.jpg", b""),
    "one byte": ("x.jpg", b"\xff"),
}


@pytest.fixture
def case(tmp_path):
    folder = tmp_path / "heron"
    for name in ("clips", "marks", "notebooks", "out/media", "voice"):
        (folder / name).mkdir(parents=True)
    write_settings(folder, {"schema": 1, "alias": "heron"})
    write_cells(
        folder / "notebooks" / "00_a.ipynb",
        [new_code_cell("x", outputs=[new_output("display_data", data={"text/plain": "words"})])],
    )
    (tmp_path / "private").mkdir()
    (tmp_path / "private" / "letter.txt").write_text("secret", "utf-8")
    return folder


@links
@pytest.mark.parametrize(
    "name",
    ["clips", "marks", "notebooks", "out", "out/media", "voice", "clips/s.mp4", "marks/s.csv", "notebooks/01_b.ipynb",
     "out/heron.html", "out/media/x.jpg", "voice/catch.mp4", "bands.toml", "a/deep/place"],
)  # fmt: skip
def test_a_case_with_a_link_that_leads_out_is_not_opened(case, tmp_path, name):
    link = case / name
    if link.is_dir():
        for inner in sorted(link.rglob("*"), reverse=True):
            inner.rmdir() if inner.is_dir() else inner.unlink()
        link.rmdir()
    link.parent.mkdir(parents=True, exist_ok=True)
    link.symlink_to(tmp_path / "private", target_is_directory=True)
    with pytest.raises(CaseError, match="leads out") as told:
        Case.open(case)
    assert name in str(told.value)
    assert [p.name for p in (tmp_path / "private").iterdir()] == ["letter.txt"]


@links
def test_settings_that_are_a_link_out_are_not_read(case, tmp_path):
    (case / "case.toml").rename(tmp_path / "private" / "case.toml")
    (case / "case.toml").symlink_to(tmp_path / "private" / "case.toml")
    with pytest.raises(CaseError, match="leads out"):
        Case.open(case)


@links
def test_a_link_that_stays_inside_and_a_case_behind_a_link_are_fine(case, tmp_path):
    (case / "clips" / "again.mp4").symlink_to(case / "clips" / "s.mp4")
    (tmp_path / "door").symlink_to(case, target_is_directory=True)
    assert Case.open(tmp_path / "door").alias == "heron"


@links
@pytest.mark.parametrize("target", ["there.mp4", "not_there.mp4"])
def test_a_new_clip_is_not_written_through_a_link(case, tmp_path, short_clip, target):
    (tmp_path / "private" / "there.mp4").write_bytes(b"secret")
    (case / "clips" / "heron_side_under.mp4").symlink_to(tmp_path / "private" / target)
    with pytest.raises(CaseError):
        add_clip(case, short_clip, ClipAnswers())
    assert (tmp_path / "private" / "there.mp4").read_bytes() == b"secret"
    assert not (tmp_path / "private" / "not_there.mp4").exists()


@links
def test_a_new_case_is_not_made_through_a_link(tmp_path, short_clip):
    (tmp_path / "private").mkdir()
    (tmp_path / "fresh").mkdir()
    (tmp_path / "fresh" / "clips").symlink_to(tmp_path / "private")
    with pytest.raises(CaseError, match="leads out"):
        new_case(tmp_path / "fresh", short_clip, ClipAnswers())
    assert list((tmp_path / "private").iterdir()) == []


@links
def test_the_page_replaces_a_link_and_not_what_it_points_to(case, tmp_path):
    target = tmp_path / "page.html"
    target.symlink_to(tmp_path / "private" / "letter.txt")
    render_case(Case.open(case), target)
    assert (tmp_path / "private" / "letter.txt").read_text("utf-8") == "secret"
    assert not target.is_symlink()


@links
def test_media_do_not_follow_a_link(case, tmp_path):
    (tmp_path / "private" / "x.jpg").write_bytes(b"\xff\xd8\xff secret")
    (case / "out" / "media" / "x.jpg").symlink_to(tmp_path / "private" / "x.jpg")
    with pytest.raises(PageError, match="leads out"):
        Media(case / "out" / "media").uri("x.jpg")


@pytest.mark.parametrize(("name", "raw"), LIES.values(), ids=LIES.keys())
def test_a_file_that_lies_about_its_kind_does_not_come_into_a_page(case, name, raw):
    (case / "out" / "media" / name).write_bytes(raw)
    with pytest.raises(PageError, match="not what its name says"):
        Media(case / "out" / "media").uri(name)


@pytest.mark.parametrize("kind", ["png", "jpg"])
def test_a_picture_with_a_page_behind_it_stays_a_picture(tmp_path, kind):
    """A file that is a picture and a page at once is carried as a picture, which no browser runs."""
    raw = {"png": b"\x89PNG\r\n\x1a\n", "jpg": b"\xff\xd8\xff\xe0"}[kind] + HTML
    (tmp_path / "media").mkdir()
    (tmp_path / "media" / f"x.{kind}").write_bytes(raw)
    block = {"schema": 1, "kind": "whole", "picture": {"file": f"x.{kind}", "size": [1, 1], "alt": "a", "title": "b"}}
    page = page_of(tmp_path, [new_code_cell("x", outputs=[new_output("display_data", data={MIME: block})])])
    assert "window.ran=1" not in page and ("data:image/png" in page) == (kind == "png")


@pytest.mark.parametrize(("name", "raw"), LIES.values(), ids=LIES.keys())
def test_a_file_that_lies_is_no_clip(tmp_path, name, raw):
    (tmp_path / name).write_bytes(raw)
    with pytest.raises(ClipError):
        Clip(tmp_path / name).frame(0)


@pytest.mark.parametrize(
    "raw",
    [b"#EXTM3U\n#EXTINF:1,\nfile:///etc/passwd\n", b"ffconcat version 1.0\nfile '/etc/passwd'\n",
     b"#EXTM3U\n#EXT-X-MEDIA-SEQUENCE:0\n#EXTINF:1.0,\nhttp://127.0.0.1:9/x\n#EXT-X-ENDLIST\n"],
    ids=["playlist of a file", "list of files", "playlist of an address"],
)  # fmt: skip
def test_a_clip_that_names_other_files_opens_none_of_them(tmp_path, short_clip, raw):
    (tmp_path / "list.mp4").write_bytes(raw.replace(b"/etc/passwd", bytes(short_clip)))
    with pytest.raises(ClipError):
        Clip(tmp_path / "list.mp4").frame(0)


def test_a_picture_that_would_unpack_to_gigabytes_is_not_unpacked(tmp_path):
    """A page carries the bytes as they are; unpacking them is left to the reader's browser, which has its limits."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    bomb = (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(10**7), 9))
        + chunk(b"IEND", b"")
    )
    (tmp_path / "media").mkdir()
    (tmp_path / "media" / "x.png").write_bytes(bomb)
    block = {"schema": 1, "kind": "whole", "picture": {"file": "x.png", "size": [1, 1], "alt": "a", "title": "b"}}
    try:
        page = page_of(tmp_path, [new_code_cell("x", outputs=[new_output("display_data", data={MIME: block})])])
    except CasebookError:
        return
    assert len(page) < 200_000


@pytest.mark.parametrize(
    "raw",
    [b"", b"{", b"[]", b"null", b'{"cells": 3}', b'{"cells": [], "metadata": {}, "nbformat": 99, "nbformat_minor": 0}',
     b'{"cells": [{"cell_type": "markdown", "source": {"a": 1}, "metadata": {}}], "metadata": {}, "nbformat": 4, '
     b'"nbformat_minor": 5}', b"[" * 5000 + b"]" * 5000, b"\xff\xfe\x00", b"\x89PNG\r\n\x1a\n",
     b'{"nbformat": 4, "nbformat_minor": 5, "metadata": {"casebook": 3}, "cells": []}',
     b'{"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": [{"id": "a", "cell_type": "code", "source": "x", '
     b'"metadata": {"tags": 3, "casebook": []}, "execution_count": null, "outputs": [{"output_type": "display_data", '
     b'"data": {"application/vnd.casebook.block+json": {"kind": 3}}, "metadata": {}}]}]}'],
    ids=["nothing", "torn", "a list", "null", "no cells", "of the future", "odd source", "deep", "no letters",
         "a picture", "odd metadata", "odd cell"],
)  # fmt: skip
def test_a_notebook_that_is_none_is_refused_with_a_sentence(case, raw):
    (case / "notebooks" / "01_odd.ipynb").write_bytes(raw)
    try:
        page = render_case(Case.open(case)).read_text("utf-8")
    except CasebookError as error:
        assert "Traceback" not in str(error)
    else:
        assert "words" in page
