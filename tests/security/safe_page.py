"""Reading a page as a browser would and naming everything in it that should not be there."""

from __future__ import annotations

import re
from html.parser import HTMLParser

#: Elements that could run, fetch, cover or lead away; a page of casebook holds none of them but what is counted below.
FOREIGN = frozenset(
    (
        "iframe", "frame", "frameset", "object", "embed", "applet", "base", "form", "link", "foreignobject", "animate",
        "animatetransform", "animatemotion", "set", "image", "feimage", "use", "math", "template", "marquee",
        "noframes", "portal", "dialog", "textarea",
    )
)  # fmt: skip
NEVER = ("style", "srcdoc", "srcset", "formaction", "action", "background")
#: And of these exactly so many.
COUNTED = {"script": 1, "style": 1, "title": 1, "body": 1, "html": 1, "head": 1, "meta": 5}
_LINK = re.compile(r"#|https?://|mailto:", re.I)
_SOURCE = re.compile(r"data:(image/(png|jpeg|webp)|video/mp4|audio/[\w.+-]+);base64,[A-Za-z0-9+/=]*$|#")


def _is_foul(name: str, words: str) -> bool:
    """True for an attribute that runs, and for one that leads where a page may not lead."""
    if name.startswith("on") or name in NEVER:
        return True
    if name.endswith("href"):
        return not _LINK.match(words)
    return name in ("src", "poster", "data") and bool(words) and not _SOURCE.match(words)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self.count: dict[str, int] = {}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.count[tag] = self.count.get(tag, 0) + 1
        if tag in FOREIGN:
            self.faults.append(f"<{tag}>")
        for name, value in attrs:
            words = (value or "").strip()
            if _is_foul(name, words):
                self.faults.append(f"<{tag} {name}={words[:40]!r}>")

    handle_startendtag = handle_starttag

    def handle_comment(self, data: str) -> None:
        self.faults.append(f"a comment {data[:40]!r}")

    def handle_pi(self, data: str) -> None:
        self.faults.append(f"an instruction {data[:40]!r}")

    def unknown_decl(self, data: str) -> None:
        self.faults.append(f"a declaration {data[:40]!r}")


def faults(html: str, whole: bool = True) -> list[str]:
    """Everything foreign in a page, or in a part of one (``whole`` false); empty if it is clean."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    if re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]", html):
        reader.faults.append("a sign that is no text")
    counted = COUNTED if whole else dict.fromkeys(COUNTED, 0)
    wrong = {tag: reader.count.get(tag, 0) for tag, n in counted.items() if reader.count.get(tag, 0) > n}
    return reader.faults + [f"{n} times <{tag}>" for tag, n in wrong.items()]
