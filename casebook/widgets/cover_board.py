"""Covering by hand: the frames as others would see them, and a box drawn over what must not be seen.

Python keeps the covers and makes the pictures, the browser shows them and sends wishes; keys are in ``cover_board.js``.
"""

from __future__ import annotations

from base64 import b64encode
from pathlib import Path
from typing import TYPE_CHECKING, Any

import anywidget
import traitlets

from casebook.case.covering import withheld
from casebook.clip.cover import KINDS
from casebook.clip.covered import CoveredClip
from casebook.errors import CasebookError, ClipError
from casebook.widgets.state import own_id

if TYPE_CHECKING:
    from collections.abc import Mapping

    from casebook.case.desk import Desk
    from casebook.clip.clip import Clip

_HERE = Path(__file__).parent
#: Width of the picture that is sent. [px]
_WIDTH = 960


def cover_board(desk: Desk) -> CoverBoard:
    """The board on which the coach covers by hand what a shot shows."""
    return CoverBoard(desk)


class CoverBoard(anywidget.AnyWidget):
    """Look at covered frames, and draw a box over what is still to be seen.

    Attributes
    ----------
    frame, start, stop : int
        The frame shown, the first, and the one after the last.
    size : (width, height) [px]
    picture : bytes
        The covered frame as JPEG. Frames of which others see nothing are shown with what is covered so far, for the
        coach to draw on; ``withheld`` says so.
    covers : list of dict
        ``name``, ``kind``, ``frames`` (its key frames, at most six), ``start``, ``stop``.
    trouble : str
        Why the last wish was not met; empty if it was.
    """

    _esm = _HERE / "cover_board.js"
    _css = _HERE / "cover_board.css"

    frame = traitlets.Int(0).tag(sync=True)
    start = traitlets.Int(0).tag(sync=True)
    stop = traitlets.Int(1).tag(sync=True)
    size = traitlets.List(traitlets.Int()).tag(sync=True)
    picture = traitlets.Bytes(b"").tag(sync=True)
    withheld = traitlets.Bool(False).tag(sync=True)
    kinds = traitlets.Dict().tag(sync=True)
    covers: Any = traitlets.List().tag(sync=True)
    trouble = traitlets.Unicode("").tag(sync=True)

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._clip: Clip = desk.shot.clip
        self._nothing: frozenset[int] = frozenset()
        shot = desk.shot
        super().__init__(
            frame=shot.start,
            start=shot.start,
            stop=shot.stop,
            size=[int(v) for v in shot.clip.size],
            kinds={kind: words for kind, words in KINDS.items() if kind != "image"},
            model_id=own_id("covers", shot.id, shot.start, shot.stop),
        )
        self._renew()
        self.observe(self._show, "frame")
        self.on_msg(self._heard)

    def __repr__(self) -> str:
        return f"CoverBoard({self._desk.shot.id}: {len(self.covers)} covers)"

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        bundle = super()._repr_mimebundle_(**kwargs)
        if bundle is None:
            return None
        data, metadata = bundle
        return {**data, "image/jpeg": b64encode(self.picture).decode("ascii")}, metadata

    def _heard(self, _: Any, wish: Mapping[str, Any], __: Any) -> None:
        try:
            if wish.get("do") == "cover":
                box = [float(v) for v in wish["box"]]
                self._desk = self._desk.cover(str(wish["kind"]), self.frame, box, str(wish.get("name", "")))
            elif wish.get("do") == "uncover":
                self._desk = self._desk.uncover(str(wish["name"]))
            self.trouble = ""
        except (CasebookError, KeyError, TypeError, ValueError) as error:
            self.trouble = str(error)
            return
        self._renew()

    def _renew(self) -> None:
        """Covers as they now are, and the picture with them."""
        shot = self._desk.shot
        self._clip.close()
        self._clip = CoveredClip(shot.clip.path, self._desk.covers)
        self._nothing = frozenset(withheld(self._desk.case.folder, shot))
        self.covers = [
            {
                "name": c.name,
                "kind": KINDS[c.kind],
                "frames": [key.frame for key in c.keys][:6],
                "more": len(c.keys) > 6,
                "start": c.start,
                "stop": c.stop,
            }
            for c in self._desk.covers
        ]
        self._show()

    def _show(self, *_: Any) -> None:
        frame = min(max(self.frame, self.start), self.stop - 1)
        try:
            self.picture, self.withheld = self._clip.jpeg(frame, _WIDTH), frame in self._nothing
        except ClipError as error:
            self.picture, self.trouble = b"", str(error)
