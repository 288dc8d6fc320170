"""Data flows one way: no floor imports one above it."""

from __future__ import annotations

import ast
from pathlib import Path

import casebook

FLOORS = (
    ("words", "errors", "files", "resources"),
    ("clip",), ("marks",), ("plane",), ("stroke",), ("checkpoints",),
    ("case",), ("pages",), ("widgets",), ("squad",), ("demo",), ("cli",),
)  # fmt: skip
HEIGHT = {name: level for level, names in enumerate(FLOORS) for name in names}
PACKAGE = Path(casebook.__file__).parent


def imported(tree: ast.AST, package: str) -> set[str]:
    """First-level casebook names that a module imports, inside functions too."""
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{package}: relative imports hide the floor they come from"
            module = node.module or ""
            names |= {f"{module}.{a.name}" for a in node.names} if module == "casebook" else {module}
    return {n.split(".")[1] for n in names if n.startswith("casebook.")}


def floor(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def test_every_module_stands_on_a_known_floor():
    floors = {floor(p) for p in PACKAGE.rglob("*.py")} - {"__init__", "__main__"}
    assert floors <= set(HEIGHT), f"no floor for {floors - set(HEIGHT)}"


def test_no_module_imports_a_floor_above_its_own():
    climbs = []
    for path in PACKAGE.rglob("*.py"):
        if path.parent == PACKAGE and path.name in ("__init__.py", "__main__.py"):
            continue
        for name in imported(ast.parse(path.read_text("utf-8")), str(path)):
            if name in HEIGHT and HEIGHT[name] > HEIGHT[floor(path)]:
                climbs.append(f"{path.relative_to(PACKAGE)} imports {name}")
    assert not climbs, climbs


def test_modules_of_one_floor_import_each_other_without_a_circle():
    graph = {}
    for path in PACKAGE.rglob("*.py"):
        module = ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts).removesuffix(".__init__")
        tree = ast.parse(path.read_text("utf-8"))
        top = [n for n in tree.body if isinstance(n, (ast.Import, ast.ImportFrom))]
        graph[module] = {n.module for n in top if isinstance(n, ast.ImportFrom) and n.module} | {
            a.name for n in top if isinstance(n, ast.Import) for a in n.names
        }
    done: set[str] = set()

    def visit(module: str, trail: tuple[str, ...]) -> None:
        assert module not in trail, " -> ".join((*trail[trail.index(module) :], module))
        if module in done or module not in graph:
            return
        for other in graph[module]:
            visit(other, (*trail, module))
        done.add(module)

    for module in graph:
        visit(module, ())
