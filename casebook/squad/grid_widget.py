"""The squad grid on the coach's bench: one key a cell, the swimmer's loop beside the row, every key saved at once.

Python holds the grid and decides; the browser draws it and sends wishes. See ``grid.js`` for keys.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import numpy as np
import traitlets

from casebook.clip.clip import Clip
from casebook.errors import CasebookError
from casebook.pages.markup import el, join
from casebook.squad.asking import ANSWERS, fault_letters, fault_words, short_title
from casebook.squad.cutting import LOOP_FILE, loop_step
from casebook.squad.entry import choose_still, pass_file, read_entry
from casebook.squad.grid import Cell, Grid
from casebook.widgets.state import own_id

if TYPE_CHECKING:
    from collections.abc import Mapping

    from casebook.squad.grid import Place
    from casebook.squad.squad import Squad

_HERE = Path(__file__).parent


def squad_grid(squad: Squad) -> SquadGrid:
    """The grid of a squad, to be filled by eye; who may not be filmed has no row."""
    return SquadGrid(squad)


class SquadGrid(anywidget.AnyWidget):
    """Swimmers by checkpoints, filled with one key each.

    Attributes
    ----------
    members : list of dict
        Number and alias of each row, and whether there is a loop.
    columns : list of dict
        Of each checkpoint its key, its short title, and its faults: letter, key, words.
    cells : dict
        ``"<number> <checkpoint>"`` to answer and fault.
    trouble : str
        Why the last change was not saved; empty if it was.
    """

    _esm = _HERE / "grid.js"
    _css = _HERE / "grid.css"

    members: Any = traitlets.List().tag(sync=True)
    columns: Any = traitlets.List().tag(sync=True)
    cells = traitlets.Dict().tag(sync=True)
    answers = traitlets.Dict().tag(sync=True)
    trouble = traitlets.Unicode("").tag(sync=True)

    def __init__(self, squad: Squad) -> None:
        self._squad, self._grid = squad, Grid(squad.grid_file, squad.coach)
        self._numbers = {m.number for m in squad.filmable}
        super().__init__(
            members=[
                {"number": m.number, "alias": m.alias, "loop": (squad.entry(m.number) / LOOP_FILE).is_file()}
                for m in squad.filmable
            ],
            columns=[_column(c) for c in squad.checkpoints],
            cells=_told(self._grid.cells),
            answers=dict(ANSWERS),
            model_id=own_id("squad grid", *squad.checkpoints, *sorted(self._numbers)),
        )
        self.on_msg(self._heard)

    def __repr__(self) -> str:
        n, of = len(self._own(self._grid.cells)), len(self._numbers) * len(self._squad.checkpoints)
        return f"SquadGrid({len(self._numbers)} swimmers, {n} of {of} cells seen)"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        data, metadata = bundle
        return {**data, "text/html": self.table()}, metadata

    def table(self) -> str:
        """The grid as a plain HTML table, for where no widget is shown."""
        cells = self._grid.cells
        head = join(el("th", c["title"]) for c in self.columns)
        rows = []
        for member in self._squad.filmable:
            own = [cells.get((member.number, c)) for c in self._squad.checkpoints]
            seen = join(el("td", _said(c, cell)) for c, cell in zip(self._squad.checkpoints, own, strict=True))
            rows.append(el("tr", el("th", member.called), seen))
        return str(el("table", el("thead", el("tr", el("th", "Swimmer"), head)), el("tbody", join(rows))))

    # -- from the browser

    def _heard(self, _widget: object, wish: dict[str, Any], _buffers: object) -> None:
        kind = wish.get("do")
        try:
            if kind == "put":
                self._put(wish)
            elif kind in ("undo", "redo"):
                place = (self._grid.undo if kind == "undo" else self._grid.redo)()
                if place is not None:
                    self.send({"kind": "at", "number": place[0], "checkpoint": place[1]})
            elif kind == "loop":
                self._send_loop(int(wish["number"]))
                return
            elif kind == "still":
                self._take_still(int(wish["number"]), int(wish["picture"]))
            self.trouble = ""
        except CasebookError as error:
            self.trouble = str(error)
        self.cells = self._safe_cells()
        self.send({"kind": "done", "seq": wish.get("seq", 0)})

    def _put(self, wish: Mapping[str, Any]) -> None:
        number, checkpoint = int(wish["number"]), str(wish["checkpoint"])
        if number not in self._numbers or checkpoint not in self._squad.checkpoints:
            raise CasebookError(f"Number {number}, {checkpoint} is not in this grid.", "Run the cell again.")
        self._grid.put(number, checkpoint, str(wish["answer"]), str(wish.get("fault", "")))

    def _send_loop(self, number: int) -> None:
        """The small copy of a swimmer's first pass, and when each of its pictures begins [s]."""
        path = self._squad.entry(number) / LOOP_FILE
        if number not in self._numbers or not path.is_file():
            return
        with Clip(path) as loop:
            times = np.asarray(loop.times).round(4).tolist()
        self.send({"kind": "loop", "number": number, "times": times}, [path.read_bytes()])

    def _take_still(self, number: int, picture: int) -> None:
        """The loop's picture as a frame of the pass itself, for the card."""
        if number not in self._numbers:
            raise CasebookError(f"Number {number} is not in this grid.", "Run the cell again.")
        entry = read_entry(self._squad, number)
        if entry is None or not entry.passes:
            raise CasebookError(f"Nothing has been cut for number {number}.", "Cut the recording first.")
        with Clip(pass_file(self._squad, entry)) as own:
            choose_still(self._squad, number, min(picture * loop_step(own.times), own.n_frames - 1))
        self.send({"kind": "still", "number": number})

    def _own(self, cells: Mapping[Place, Cell]) -> dict[Place, Cell]:
        return {p: c for p, c in cells.items() if p[0] in self._numbers and p[1] in self._squad.checkpoints}

    def _safe_cells(self) -> dict[str, Any]:
        try:
            return _told(self._grid.cells)
        except CasebookError as error:
            self.trouble = str(error)
            return dict(self.cells)


def _column(checkpoint: str) -> dict[str, Any]:
    words = fault_words(checkpoint)
    faults = [{"letter": k, "key": key, "words": words[k]} for k, key in fault_letters(checkpoint).items()]
    return {"key": checkpoint, "title": short_title(checkpoint), "faults": faults}


def _told(cells: Mapping[Place, Cell]) -> dict[str, Any]:
    return {f"{number} {checkpoint}": [c.answer, c.fault] for (number, checkpoint), c in cells.items()}


def _said(checkpoint: str, cell: Cell | None) -> str:
    if cell is None:
        return "not seen"
    words = dict(zip(fault_letters(checkpoint).values(), fault_words(checkpoint).values(), strict=True))
    return f"{cell.answer}: {words[cell.fault]}" if cell.fault else cell.answer
