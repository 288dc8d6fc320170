"""Where a case keeps its notebooks: their names, the folded one, and those left out."""

from __future__ import annotations

from pathlib import Path

#: All questions of a swimmer in one notebook.
FOLDED = "analysis.ipynb"
#: Beside it, the notebooks that are not in it.
LEFT_OUT = "left_out"


def name_of(notebook: Path) -> str:
    """Its name without the number that it has in teaching order.

    >>> name_of(Path("04_catch.ipynb"))
    'catch'
    """
    return notebook.stem.partition("_")[2]
