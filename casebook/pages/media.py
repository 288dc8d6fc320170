"""Pictures and loops of a page: found by bare name in one folder, checked for what they are, carried in the page."""

from __future__ import annotations

import base64
import re
from dataclasses import dataclass
from pathlib import Path

from casebook.errors import PageError

_NAME = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.\-]{0,120}")
_KINDS = {
    ".jpg": ("image/jpeg", lambda raw: raw[:3] == b"\xff\xd8\xff"),
    ".png": ("image/png", lambda raw: raw[:8] == b"\x89PNG\r\n\x1a\n"),
    ".mp4": ("video/mp4", lambda raw: raw[4:8] == b"ftyp"),
}


@dataclass(frozen=True, slots=True)
class Media:
    """The folder that a page may take pictures and loops from, and no other."""

    folder: Path

    def read(self, name: object) -> bytes:
        """The bytes of one file; raises PageError if the name is a path, leads out of the folder, or is not there."""
        if not isinstance(name, str) or not _NAME.fullmatch(name) or Path(name).suffix not in _KINDS:
            raise PageError(
                f"A block names the file {str(name)[:80]!r}, which is not a plain name of a picture or loop.",
                "Run the notebooks again; do not edit their outputs.",
            )
        root = self.folder.resolve()
        path = (root / name).resolve()
        if path.parent != root:
            raise PageError(f'The file "{name}" leads out of the case.', "Take it out of the media folder.", path=path)
        try:
            raw = path.read_bytes()
        except OSError:
            raise PageError(
                f'The page needs "{name}", which is not in the media folder.', "Run the notebooks again.", path=path
            ) from None
        if not _KINDS[path.suffix][1](raw):
            raise PageError(f'The file "{name}" is not what its name says.', "Run the notebooks again.", path=path)
        return raw

    def uri(self, name: object) -> str:
        """One file as a data URI."""
        raw = self.read(name)
        return data_uri(raw, _KINDS[Path(str(name)).suffix][0])


def data_uri(raw: bytes, mime: str) -> str:
    """Bytes as a data URI."""
    return f"data:{mime};base64,{base64.b64encode(raw).decode('ascii')}"


def is_picture(raw: bytes, mime: str) -> bool:
    """True if the bytes are the picture that their type claims."""
    return any(kind == mime and mime.startswith("image/") and test(raw) for kind, test in _KINDS.values())
