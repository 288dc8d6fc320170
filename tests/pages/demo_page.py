"""The demo case with its notebooks' blocks made in this process, without a kernel: the real page in seconds."""

from __future__ import annotations

import ast
import io
import math
import struct
import wave
from collections.abc import Iterator
from contextlib import redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nbformat.v4 import new_output
from page_maker import block_cell, output_cell, text_cell
from playwright.sync_api import Browser, Page

from casebook.case.case import Case
from casebook.case.notebooks import read_notebook, write_notebook
from casebook.demo.case import build_demo_case
from casebook.pages.block import Block
from casebook.pages.page import render_case

#: Notebooks that show nothing on a page.
FOR_THE_COACH = ("00", "14", "15", "16", "17")
TABLE = "| length | strokes | seconds |\n|---|---|---|\n| first | 19 | 18.2 |\n| last | 21 | 18.9 |"


@dataclass(frozen=True)
class DemoPage:
    """A case, its page and its light page."""

    case: Case
    full: Path
    light: Path


def make_demo_page(place: Path) -> DemoPage:
    """Rowan's case with a voice note, every block made, both pages rendered."""
    folder = build_demo_case(place / "rowan")
    (folder / "voice").mkdir()
    (folder / "voice" / "catch.wav").write_bytes(hum())
    case = Case.open(folder)
    for path in case.notebooks:
        if path.stem[:2] not in FOR_THE_COACH:
            notebook = read_notebook(path)
            run_here(notebook, folder)
            if path.stem[:2] == "12":
                notebook.cells += everything_else()
            write_notebook(path, notebook)
    return DemoPage(case, render_case(case), render_case(case, light=True))


def run_here(notebook: Any, folder: Path) -> None:
    """Execute the code cells whose blocks a page shows, and keep the blocks as their outputs."""
    space: dict[str, Any] = {}
    for cell in notebook.cells:
        tags = set(cell.metadata.get("tags", []))
        if cell.cell_type != "code" or (tags & {"desk", "hide"} and "import" not in cell.source):
            continue
        tree = ast.parse(cell.source)
        last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
        with redirect_stdout(io.StringIO()):
            exec(compile(tree, "cell", "exec"), space)
            if "parameters" in tags:
                space["CASE"] = str(folder)
            is_marker = last is not None and ast.unparse(last).startswith("marker(")
            value = eval(compile(ast.Expression(last.value), "cell", "eval"), space) if last and not is_marker else None
        cell.outputs = block_cell(value).outputs if isinstance(value, Block) else []


def everything_else() -> list[Any]:
    """What may stand on a page and does not on the demo's: a counted table, a coach's Markdown, an output that is none
    of ours, a cell that failed."""
    row = {
        "title": "Seconds for a length, s",
        "values": ["18.2 ± 0.3", "16.9 ± 0.3"],
        "difference": "−1.3 (−1.9 to −0.7)",
    }
    efforts = {
        "title": "Easy and fast, side by side", "names": ["easy", "race pace"], "rows": [row],
        "notes": ["Clean swimming."], "caption": "Give or take: what a watch in the hand can err by.",
    }  # fmt: skip
    failed = output_cell({"text/plain": "x"})
    failed.outputs = [new_output("error", ename="ValueError", evalue="x", traceback=[])]
    words = f"Two things I like.\n\n### Numbers\n\n{TABLE}\n\n> Tip, hold, press.\n\n`25 m` and [more](https://example.org)."
    return [
        block_cell(Block("efforts", "x", efforts)),
        output_cell({"text/plain": "counted: 19, 21"}),
        failed,
        text_cell(words, "coach"),
    ]


def hum(seconds: float = 1.0, rate: int = 16_000) -> bytes:
    """A sound recording: a soft tone as WAV."""
    out = io.BytesIO()
    with wave.open(out, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(rate)
        n = int(seconds * rate)
        sound.writeframes(b"".join(struct.pack("<h", int(6000 * math.sin(k * 0.08))) for k in range(n)))
    return out.getvalue()


def opened(browser: Browser, path: Path, width: int = 1280, height: int = 800, **options: Any) -> Iterator[Page]:
    """A visit of a page; its context is closed afterwards."""
    context = browser.new_context(viewport={"width": width, "height": height}, **options)
    page = context.new_page()
    page.goto(path.as_uri())
    yield page
    context.close()
