"""The browser's own conversions between screen and picture, run where browsers' language runs without a browser."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

SCRIPTS = sorted(Path(__file__).parent.glob("*.test.mjs"))


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name.removesuffix(".test.mjs"))
def test_browser_side_geometry(script: Path) -> None:
    node = shutil.which("node")
    if node is None:
        pytest.skip("Node is not installed (package nodejs), and it runs these checks.")
    done = subprocess.run([node, "--test", str(script)], capture_output=True, text=True, encoding="utf-8", timeout=60)
    assert done.returncode == 0, done.stdout + done.stderr
    assert re.search(r"pass [1-9]", done.stdout), done.stdout
