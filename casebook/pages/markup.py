"""Building HTML so that nothing a person typed can ever become markup."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape

# Control characters have no place in HTML; directional overrides could turn the words of a page around.
_UNWANTED = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff\u202a-\u202e\u2066-\u2069]")
_VOID = frozenset({"img", "input", "meta", "br", "hr", "rect", "line", "circle", "path", "polyline"})


class Html(str):
    """Markup that is already safe. Whatever is not of this type is escaped on its way into an element."""

    __slots__ = ()


def clean(value: object) -> str:
    """Text without control characters and directional overrides."""
    return _UNWANTED.sub("", str(value))


def text(value: object) -> Html:
    """Safe markup for any value.

    >>> text("<b>")
    '&lt;b&gt;'
    """
    return value if isinstance(value, Html) else Html(escape(clean(value), quote=True))


def join(parts: Iterable[object], between: str = "") -> Html:
    """Several values one after the other, each escaped if it needs to be."""
    return Html(str(text(between)).join(text(p) for p in parts))


def el(name: str, /, *children: object, **attributes: object) -> Html:
    """One element. ``cls`` is the class; other underscores become hyphens; None and False leave an attribute out.

    >>> el("p", "a < b", cls="lead", data_n=3)
    '<p class="lead" data-n="3">a &lt; b</p>'
    """
    inside = "".join(
        f" {_attribute(key)}" if value is True else f' {_attribute(key)}="{text(value)}"'
        for key, value in attributes.items()
        if value is not None and value is not False
    )
    if name in _VOID:
        return Html(f"<{name}{inside}>" if name in ("img", "input", "meta", "br", "hr") else f"<{name}{inside}/>")
    return Html(f"<{name}{inside}>{join(children)}</{name}>")


def _attribute(key: str) -> str:
    return {"cls": "class", "viewbox": "viewBox"}.get(key, key.rstrip("_").replace("_", "-"))
