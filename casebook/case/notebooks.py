"""A swimmer's notebooks: laid out from the templates, renewed, executed. The coach's words are never lost."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Lock
from typing import Any

from casebook.errors import CaseError
from casebook.files import write_atomic
from casebook.resources import templates

COACH = "coach"
PARAMETERS = "parameters"
#: What reading a file as a notebook can end with, whatever somebody put into it, beside what nbformat itself says.
UNSOUND = (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError)
#: Kernels run side by side, one a processor: threads of their own inside the linear algebra would wait for each other.
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
#: Longest a cell may take before it is stopped. [s]
CELL_TIMEOUT_S = 600
#: What the templates' parameters, set for the demo, become in a case of its own.
OWN_CASE: dict[str, object] = {"CASE": "..", "SHOT": "", "BESIDE": "", "SAME": (0, 0)}


def lay_out(
    folder: Path, values: dict[str, object], within: str = "notebooks", which: Sequence[Path] | None = None
) -> list[Path]:
    """Copy every template that the case lacks, its parameters set, its outputs empty. Returns what was written.

    ``within`` names the folder inside the case, ``which`` the templates if not all.
    """
    written = []
    for template in templates() if which is None else which:
        target = folder / within / template.name
        if not target.exists():
            target.parent.mkdir(exist_ok=True)
            write_notebook(target, filled(read_notebook(template), values))
            written.append(target)
    return written


def filled(notebook: Any, values: dict[str, object]) -> Any:
    """The notebook with plain values set in its parameters cell and every output cleared."""
    cell = _parameters(notebook)
    for name, value in values.items():
        cell.source = _set(cell.source, name, value)
    for each in notebook.cells:
        if each.cell_type == "code":
            each.outputs, each.execution_count = [], None
    return notebook


def merged_with(new: Any, old: Any) -> Any:
    """``new`` with the parameter values and coach cells of ``old``; a coach cell without a place is put at the end."""
    new = filled(new, _values(_parameters(old).source))
    words = [c for c in old.cells if COACH in _tags(c)]
    for cell in new.cells:
        if COACH in _tags(cell):
            match = next((w for w in words if _slot(w) and _slot(w) == _slot(cell)), None)
            if match is not None:
                cell.source = match.source
                words.remove(match)
    new.cells.extend(words)
    return new


def execute(path: Path, on_cell: Callable[[int, int], None] | None = None) -> None:
    """Run a notebook from top to bottom and save it with its results.

    ``on_cell(done, total)`` is called after each code cell. A cell that fails stops the run with a CaseError that names
    the notebook and the sentence of the failure; what ran until then is saved.
    """
    from nbclient import NotebookClient
    from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError

    notebook = read_notebook(path)
    code = [i for i, c in enumerate(notebook.cells) if c.cell_type == "code"]
    done = 0

    def after(cell: Any, cell_index: int, **_: object) -> None:
        nonlocal done
        if cell_index in code:
            done += 1
            if on_cell:
                on_cell(done, len(code))

    client = NotebookClient(
        notebook,
        timeout=CELL_TIMEOUT_S,
        kernel_name="python3",
        resources={"metadata": {"path": str(path.parent)}},
        on_cell_executed=after,
        extra_arguments=["--log-level=ERROR"],  # a kernel's warnings are no news to a coach
        store_widget_state=False,  # it holds random ids, and the picture stands in for the widget
    )
    try:
        client.execute(env=os.environ | ONE_THREAD)
    except CellExecutionError as error:
        raise CaseError(
            f'The notebook "{path.name}" stopped: {error.evalue or error.ename}',
            "Mend that and run it again.",
            path=path,
        ) from None
    except (CellTimeoutError, DeadKernelError, RuntimeError) as error:  # the last where it does not start
        raise CaseError(
            f'The notebook "{path.name}" did not finish: {error}', "Try a shorter shot.", path=path
        ) from None
    finally:
        for cell in notebook.cells:
            cell.metadata.pop("execution", None)  # clock times: a second run must give the same file
        write_notebook(path, notebook)


def execute_all(paths: Sequence[Path], on_cell: Callable[[int, int], None] | None = None) -> None:
    """Run notebooks side by side, as many as there are processors, each in a kernel of its own.

    ``on_cell(done, total)`` counts the code cells of all of them. All are run; then the first that stopped, in their
    order, raises its CaseError.
    """
    totals = [sum(c.cell_type == "code" for c in read_notebook(path).cells) for path in paths]
    done, lock = [0] * len(paths), Lock()

    def run(k: int) -> CaseError | None:
        def counted(so_far: int, _total: int) -> None:
            with lock:
                done[k] = so_far
                if on_cell:
                    on_cell(sum(done), sum(totals))

        try:
            execute(paths[k], counted)
        except CaseError as error:
            return error
        return None

    with ThreadPoolExecutor(max(1, min(len(paths), os.cpu_count() or 1))) as pool:
        failed = [error for error in pool.map(run, range(len(paths))) if error is not None]
    if failed:
        raise failed[0]


def read_notebook(path: Path) -> Any:
    """A notebook; a file that is none, or not a sound one, is named in a CaseError. Nothing in it is run."""
    import nbformat  # Slow to load, and no notebook needs it to run.

    try:
        notebook = nbformat.convert(nbformat.reader.reads(path.read_text("utf-8")), 4)
        nbformat.validate(notebook)
        own = [part.metadata.get("casebook", {}) for part in (notebook, *notebook.cells)]
        if not all(isinstance(each, Mapping) for each in own):
            raise ValueError("what it says of its place in the case is no table")
    except (*UNSOUND, nbformat.ValidationError) as error:
        words = (str(error).splitlines() or [type(error).__name__])[0][:200]
        raise CaseError(
            f'"{path.name}" cannot be read as a notebook: {words}.', "Restore it from a copy.", path=path
        ) from None
    return notebook


def write_notebook(path: Path, notebook: Any) -> None:
    """Write a notebook in one step."""
    import nbformat

    write_atomic(path, nbformat.writes(notebook) + "\n")


def _tags(cell: Any) -> list[str]:
    return list(cell.metadata.get("tags", []))


def _slot(cell: Any) -> str:
    return str(cell.metadata.get("casebook", {}).get("slot", ""))


def _parameters(notebook: Any) -> Any:
    cell = next((c for c in notebook.cells if PARAMETERS in _tags(c)), None)
    if cell is None:
        raise CaseError("A notebook has no cell tagged parameters.", "Copy it afresh from the templates.")
    return cell


def _set(source: str, name: str, value: object) -> str:
    """Replace ``NAME = ...`` and keep the remark behind it."""
    pattern = re.compile(rf"^{re.escape(name)} = .*?(\s+#.*)?$", re.M)
    literal = json.dumps(value, ensure_ascii=False) if isinstance(value, str) else repr(value)
    return pattern.sub(lambda m: f"{name} = {literal}{m.group(1) or ''}", source)


def _values(source: str) -> dict[str, object]:
    import ast

    out: dict[str, object] = {}
    try:
        body = ast.parse(source).body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return out
    for node in body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            try:
                out[node.targets[0].id] = ast.literal_eval(node.value)
            except (ValueError, TypeError, RecursionError, MemoryError):
                continue
    return out
