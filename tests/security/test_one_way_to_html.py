"""Markup is made in one place, which escapes; so what no test tried is escaped too."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from hostile import EVERYWHERE
from safe_page import COUNTED, faults

import casebook
from casebook.pages.markup import el
from casebook.squad.sheet import sheet_html

PACKAGE = Path(casebook.__file__).parent
#: Where markup is made: the builder, the Markdown writer, and one sheet that escapes by itself.
MAKERS = {"pages/markup.py", "pages/markdown.py", "pages/contact_sheet.py"}
#: What may be put into a page as it is: its own style and script.
OWN = {"style", "script"}
_TAG = re.compile(r"</?[a-zA-Z][a-zA-Z0-9]*(\s[^>]*)?/?>|<[a-z]+ [a-z-]+=")
#: How a script turns words into markup or code.
_RISKY = re.compile(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|srcdoc|javascript:")


def made_by_hand(node: ast.AST) -> bool:
    """True for what declares any words but a page's own style and script to be markup, or puts a value between tags."""
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("Html", "HTML"):
        return not (len(node.args) == 1 and isinstance(node.args[0], ast.Name) and node.args[0].id in OWN)
    if isinstance(node, ast.JoinedStr):
        return bool(_TAG.search("".join(p.value if isinstance(p, ast.Constant) else "x" for p in node.values)))
    return False


@pytest.mark.parametrize(
    ("code", "wrong"),
    [('Html(words)', True), ('Html("<b>" + x)', True), ('f"<b>{x}</b>"', True), ('f"<img alt={x}>"', True),
     ("Html(style)", False), ('el("b", x)', False), ('f"{x} < {y}"', False), ('f"<{x}"', False)],
)  # fmt: skip
def test_markup_made_by_hand_is_noticed(code, wrong):
    assert any(map(made_by_hand, ast.walk(ast.parse(code)))) is wrong


def test_no_other_module_makes_markup_by_hand():
    paths = {p.relative_to(PACKAGE).as_posix(): p for p in PACKAGE.rglob("*.py")}
    found = [
        f"{name} line {node.lineno}: {ast.unparse(node)[:80]}"
        for name, path in paths.items()
        if name not in MAKERS
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if made_by_hand(node)
    ]
    assert not found, found


def test_no_script_turns_words_into_markup_or_code():
    scripts = list(PACKAGE.rglob("*.js"))
    assert len(scripts) > 5
    risky = [f"{p.relative_to(PACKAGE)}: {m[0]}" for p in scripts for m in _RISKY.finditer(p.read_text("utf-8"))]
    assert not risky, risky


@pytest.mark.parametrize("words", EVERYWHERE.values(), ids=EVERYWHERE.keys())
def test_sheets_to_print_hold_words_as_words(words):
    page = sheet_html(words, el("p", words, title=words), words, kind=words)
    assert not [fault for fault in faults(page) if "<script>" not in fault]
    assert page.count("<script") == 0 and page.count("<meta") == COUNTED["meta"]
