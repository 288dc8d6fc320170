"""Printing without a window: by a browser that is there, with a sentence where there is none, without a trace."""

from __future__ import annotations

import re
import stat
import sys
from pathlib import Path

import pytest

from casebook.errors import PageError
from casebook.pages import pdf
from casebook.pages.pdf import find_browser, print_page, without_origin

#: An information dictionary as section 14.3.3 of ISO 32000-1 lays it out, strings in brackets with escaped ones inside.
INFO = (
    b"1 0 obj\n<</Title (Rowan \\(invented\\))\n/Creator (Mozilla/5.0 \\(X11; Linux x86_64\\) Headless)\n"
    b"/Producer (Printer)\n/CreationDate (D:20260502101010+00'00')\n/ModDate (D:20260502101010+00'00')>>\nendobj\n"
)


def test_program_computer_and_hour_are_blanked_and_nothing_moves() -> None:
    clean = without_origin(INFO)
    assert len(clean) == len(INFO) and b"/Title (Rowan \\(invented\\))" in clean
    assert not re.search(rb"Mozilla|Linux|Printer|2026", clean)
    assert without_origin(clean) == clean


def test_without_a_browser_a_sentence_says_how_to_print(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    monkeypatch.setattr(pdf.sys, "platform", "linux")
    assert find_browser() is None
    with pytest.raises(PageError, match=r"print it .* save as PDF"):
        print_page(tmp_path / "p.html", tmp_path / "p.pdf")


def test_places_of_other_systems_are_looked_at_there(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    monkeypatch.setattr(pdf.sys, "platform", "win32")
    monkeypatch.setenv("ProgramFiles", str(tmp_path))
    monkeypatch.setattr(pdf, "PLACES", {"win32": ("{No such folder}/x.exe", "{ProgramFiles}/browser.exe")})
    assert find_browser() is None
    (tmp_path / "browser.exe").write_bytes(b"")
    assert find_browser() == f"{tmp_path}/browser.exe"


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in is a shell script")
@pytest.mark.parametrize("does", ["exit 3", 'for a; do case $a in --print-to-pdf=*) echo no > "${a#*=}";; esac; done'])
def test_a_browser_that_prints_nothing_is_told_of(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, does: str) -> None:
    browser = tmp_path / "browser"
    browser.write_text(f"#!/bin/sh\n{does}\n", "utf-8")
    browser.chmod(browser.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setattr(pdf, "find_browser", lambda: str(browser))
    with pytest.raises(PageError, match='"browser" did not print'):
        print_page(tmp_path / "p.html", tmp_path / "p.pdf")
    assert not (tmp_path / "p.pdf").exists()
