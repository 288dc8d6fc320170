"""All questions of a swimmer in one notebook, and apart again: every cell goes both ways word for word.

A folded case has ``notebooks/analysis.ipynb``. Each of its cells says in its metadata which single notebook it belongs
to (``part``); a cell that the coach adds belongs to the part above it. Notebooks that he left out wait in
``notebooks/left_out`` as they are.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from casebook.case.case import Case
from casebook.case.notebooks import OWN_CASE, lay_out, merged_with, read_notebook, write_notebook
from casebook.case.places import FOLDED, LEFT_OUT, name_of
from casebook.errors import CaseError
from casebook.resources import templates
from casebook.words import CHECKPOINTS

#: These frame the others: what is to be marked comes before, what comes first is decided after.
ALWAYS = ("clip_and_marks", "priorities")


def fold(folder: Path, names: Sequence[str] = ()) -> Path:
    """Put a case's notebooks into one; returns it.

    Parameters
    ----------
    folder : Path
        Of the case. One that is folded already is folded anew.
    names : sequence of str
        Checkpoints, or other notebooks by their name without the number, in the order wanted; the first notebook and
        the last are always there. All of the case, in its order, if none is named.

    Raises
    ------
    CaseError
        There is no notebook of that name.
    """
    if is_folded(folder):
        unfold(folder)
    chosen = _chosen(Case.open(folder).notebooks, names)
    target = folder / "notebooks" / FOLDED
    write_notebook(target, folded({path.stem: read_notebook(path) for path in chosen}))
    # Only now, with every cell in its new place on disk, may the single ones go.
    for path in chosen:
        path.unlink()
    away = folder / "notebooks" / LEFT_OUT
    for path in sorted((folder / "notebooks").glob("[!.]*.ipynb")):
        if path != target:
            away.mkdir(exist_ok=True)
            path.replace(away / path.name)
    return target


def unfold(folder: Path) -> list[Path]:
    """Take a folded case apart again, those left out with it; returns the notebooks."""
    home = folder / "notebooks"
    if not is_folded(folder):
        raise CaseError(f"The notebooks of {folder.name} are not folded.", "Fold them with: casebook fold FOLDER")
    for stem, notebook in parts_of(read_notebook(home / FOLDED)).items():
        write_notebook(home / f"{stem}.ipynb", notebook)
    away = home / LEFT_OUT
    for path in sorted(away.glob("*.ipynb")):
        if not (home / path.name).exists():
            path.replace(home / path.name)
    (home / FOLDED).unlink()
    if away.is_dir() and not any(away.iterdir()):
        away.rmdir()
    return Case.open(folder).notebooks


def is_folded(folder: Path) -> bool:
    """Whether all questions of this case stand in one notebook."""
    return (folder / "notebooks" / FOLDED).is_file()


def folded(parts: Mapping[str, Any]) -> Any:
    """One notebook of several, named by their stems, in this order; their outputs stay."""
    from nbformat.v4 import new_notebook

    cells: list[Any] = []
    taken: set[str] = set()
    for stem, notebook in parts.items():
        for old in notebook.cells:
            cell = copy.deepcopy(old)
            cell.metadata["casebook"] = {**cell.metadata.get("casebook", {}), "part": stem}
            cell["id"] = _free(str(cell.get("id", "cell")), stem, taken)
            taken.add(cell["id"])
            cells.append(cell)
    own = {stem: copy.deepcopy(dict(notebook.metadata)) for stem, notebook in parts.items()}
    common = {k: v for k, v in next(iter(own.values())).items() if k != "casebook"}
    return new_notebook(cells=cells, metadata={**common, "casebook": {"parts": own}})


def parts_of(notebook: Any) -> dict[str, Any]:
    """The notebooks folded into one, by their stems, in the order in which they stand; nothing if it is single."""
    from nbformat.v4 import new_notebook

    own = notebook.metadata.get("casebook", {}).get("parts")
    if not own:
        return {}
    cells: dict[str, list[Any]] = {}
    stem = next((_part(c) for c in notebook.cells if _part(c) in own), next(iter(own)))
    for old in notebook.cells:
        stem = _part(old) if _part(old) in own else stem
        cell = copy.deepcopy(old)
        about = {k: v for k, v in cell.metadata.pop("casebook", {}).items() if k != "part"}
        if about:
            cell.metadata["casebook"] = about
        cells.setdefault(stem, []).append(cell)
    return {stem: new_notebook(cells=c, metadata=copy.deepcopy(dict(own[stem]))) for stem, c in cells.items()}


def refresh(folder: Path) -> list[Path]:
    """Bring the notebooks to the current templates and add what is lacking; coach cells and values stay as they are.

    A folded case stays folded; what is new waits among those left out.
    """
    home = folder / "notebooks"
    if not is_folded(folder):
        return lay_out(folder, OWN_CASE) + _renewed(home)
    away = home / LEFT_OUT
    parts = parts_of(read_notebook(home / FOLDED))
    lacking = [t for t in templates() if t.stem not in parts and not (away / t.name).exists()]
    changed = lay_out(folder, OWN_CASE, f"notebooks/{LEFT_OUT}", lacking) + _renewed(away)
    new = {t.stem: merged_with(read_notebook(t), parts[t.stem]) for t in templates() if t.stem in parts}
    if any(_sources(new[stem]) != _sources(parts[stem]) for stem in new):
        write_notebook(home / FOLDED, folded({**parts, **new}))
        changed.append(home / FOLDED)
    return changed


def _renewed(home: Path) -> list[Path]:
    changed = []
    for template in templates():
        target = home / template.name
        if target.exists():
            old = read_notebook(target)
            merged = merged_with(read_notebook(template), old)
            if _sources(merged) != _sources(old):
                write_notebook(target, merged)
                changed.append(target)
    return changed


def _chosen(paths: Sequence[Path], names: Sequence[str]) -> list[Path]:
    if not names:
        return list(paths)
    known = {name_of(path): path for path in paths}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise CaseError(f'There is no notebook "{unknown[0]}" in this case.', f"Name some of: {', '.join(known)}.")
    first, last = ([known[n]] if (n := name) in known else [] for name in ALWAYS)
    middle = [known[name] for name in dict.fromkeys(names) if name not in ALWAYS]
    asked = [path for path in middle if name_of(path) in CHECKPOINTS]
    return [*first, *asked, *last, *(path for path in middle if path not in asked)]


def _part(cell: Any) -> str:
    return str(cell.metadata.get("casebook", {}).get("part", ""))


def _sources(notebook: Any) -> list[str]:
    return [cell.source for cell in notebook.cells]


def _free(name: str, stem: str, taken: set[str]) -> str:
    """An id that no other cell of the notebook has; a notebook allows 64 characters."""
    tries = [name, *(f"{stem[:40]}-{name[:16]}-{n}" for n in range(1, len(taken) + 2))]
    return next(t for t in tries if t not in taken)
