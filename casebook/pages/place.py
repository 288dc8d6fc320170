"""Where a block stands on a page: its section, the level of its headings, and what the page holds besides it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from casebook.pages import plain
from casebook.pages.markup import Html, el, text
from casebook.pages.media import Media
from casebook.pages.where import Where, picture_id

Data = Mapping[str, Any]
NOWHERE = Where()


@dataclass(frozen=True, slots=True)
class Place:
    """What a layout may know beyond its block.

    Attributes
    ----------
    level : int
        Of its headings.
    media : Media
        The pictures and loops that it may use.
    headed : bool
        A heading stands over it already.
    section, topic : str
        Id of its section, and what that is about; the topic is empty on a page of one section.
    where : Where
        Frames that the page shows, to link to.
    said : frozenset of str
        Facts of the swimmer that stand at the top of the page and need not be said again.
    explains : bool
        The figures are explained here; further down a link leads back to it.
    """

    level: int
    media: Media
    headed: bool = False
    section: str = ""
    topic: str = ""
    where: Where = NOWHERE
    said: frozenset[str] = frozenset()
    explains: bool = True

    def heading(self, data: Data) -> Html:
        """The block's own title, unless the notebook has just given one."""
        title = plain.words(data, "title")
        return text("") if self.headed or not title else el(f"h{self.level}", title)

    def label(self, title: str) -> str:
        """A title that is told from those of other sections."""
        return f"{title}: {self.topic}" if self.topic else title

    def picture_id(self, picture: Data) -> str | None:
        """The id of a picture that can be linked to."""
        return picture_id(self.section, picture) or None
