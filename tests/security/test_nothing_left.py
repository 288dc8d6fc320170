"""After work and deletion, nothing of a case lies anywhere on the coach's computer but the receipt."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import casebook

ALIAS = "quetzal"
#: A case is made, run, rendered, worked on in a kernel as JupyterLab starts it for ``casebook open``, and deleted.
WORK = f"""
import sys
from pathlib import Path
import nbformat
from nbformat.v4 import new_code_cell, new_notebook
from casebook.cli import main

folder = Path("cases/{ALIAS}")
assert main(["new", str(folder), sys.argv[1]]) == 0
for path in (folder / "notebooks").iterdir():
    path.unlink()
code = "from casebook.case.case import Case\\ndesk = Case.open('..').desk()\\nprint(desk, desk.shot.clip.size)"
nbformat.write(new_notebook(cells=[new_code_cell(code)]), folder / "notebooks" / "00_a.ipynb")
assert main(["run", str(folder)]) == 0 and main(["render", str(folder)]) == 0
assert "{ALIAS}" in nbformat.read(folder / "notebooks" / "00_a.ipynb", 4).cells[0].outputs[0].text

from jupyter_client.manager import start_new_kernel
manager, client = start_new_kernel(kernel_name="python3")
for words in ("why = 'the shoulder of {ALIAS}'", "get_ipython().history_manager.writeout_cache()"):
    client.execute_interactive(words, timeout=60, store_history=True)
client.stop_channels()
manager.shutdown_kernel()
assert main(["delete", str(folder), "--yes"]) == 0
"""
#: Where programs keep what is theirs.
PLACES = (
    "XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "IPYTHONDIR", "JUPYTER_DATA_DIR", "JUPYTER_CONFIG_DIR",
    "JUPYTER_RUNTIME_DIR", "MPLCONFIGDIR", "TMPDIR",
)  # fmt: skip


def test_no_file_outside_the_case_holds_a_word_of_it(tmp_path, short_clip):
    home = tmp_path / "home"
    env = {k: v for k, v in os.environ.items() if not k.startswith("CASEBOOK_")}
    env |= {"HOME": str(home), "USERPROFILE": str(home)} | {name: str(home / name.lower()) for name in PLACES}
    env |= {"JUPYTER_PATH": str(Path(casebook.__file__).parent / "case" / "jupyter")}
    (home / "tmpdir").mkdir(parents=True)
    done = subprocess.run(
        [sys.executable, "-c", WORK, str(short_clip)],
        capture_output=True, text=True, env=env, cwd=home, stdin=subprocess.DEVNULL, check=False, timeout=240,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert (home / "ipythondir").is_dir(), "the kernels did keep their things here"
    left = [p for p in home.rglob("*") if ALIAS in p.name.lower() or (p.is_file() and ALIAS.encode() in p.read_bytes())]
    assert left == []
    (receipt,) = (home / "cases").iterdir()
    assert receipt.name.startswith("deletion_receipt_")
