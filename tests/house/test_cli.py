"""The command line as a coach meets it: plain sentences, no tracebacks."""

from __future__ import annotations

import subprocess
import sys

import pytest

from casebook.cli import main


def casebook(*words: object, cwd: object = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "casebook.cli", *map(str, words)],
        capture_output=True, text=True, stdin=subprocess.DEVNULL, cwd=cwd, check=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("run", "nowhere"), "is not a case"),
        (("render", "nowhere"), "is not a case"),
        (("open", "nowhere"), "is not a case"),
        (("new", "heron", "missing.mp4"), "missing.mp4"),
        (("add", "nowhere", "missing.mp4"), "is not a case"),
        (("demo", "somewhere", "--who", "nobody"), "heron"),
    ],
)
def test_mistakes_are_told_in_one_line_without_a_traceback(tmp_path, words, told):
    done = casebook(*words, cwd=tmp_path)
    assert done.returncode == 2
    assert told in done.stderr and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == [], "a mistake leaves nothing behind"


def test_a_wrong_option_names_the_right_ones(capsys):
    with pytest.raises(SystemExit):
        main(["new", "x", "y.mp4", "--view", "sideways"])
    assert "side_under" in capsys.readouterr().err
