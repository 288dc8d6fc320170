"""A file is replaced whole or not at all."""

from __future__ import annotations

import os

import pytest

from casebook.files import write_atomic


def test_text_is_utf8_with_plain_line_ends_and_nothing_is_left_beside_it(tmp_path):
    path = tmp_path / "new" / "a.csv"
    write_atomic(path, "ö\nb\n")
    write_atomic(path, "ö\nc\n")
    assert path.read_bytes() == "ö\nc\n".encode()
    assert [p.name for p in path.parent.iterdir()] == ["a.csv"]


def test_a_write_that_fails_leaves_the_old_file_and_no_part(tmp_path, monkeypatch):
    path = tmp_path / "a.csv"
    write_atomic(path, "old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_atomic(path, "new")
    assert path.read_text() == "old" and len(list(tmp_path.iterdir())) == 1


@pytest.mark.skipif(os.name == "nt", reason="Windows keeps rights elsewhere")
def test_a_file_may_be_read_by_whoever_the_system_lets_read_new_files(tmp_path):
    (tmp_path / "plain").write_text("")
    write_atomic(tmp_path / "a.html", "page")
    assert (tmp_path / "a.html").stat().st_mode == (tmp_path / "plain").stat().st_mode
