"""Writing so that nothing is ever half written."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_atomic(path: Path | str, data: bytes | str) -> None:
    """Replace the file at ``path`` in one step; a reader sees the old file or the new, never a part.

    Text is written as UTF-8 with ``\\n`` line ends on every system.
    """
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    raw = data.encode("utf-8") if isinstance(data, str) else data
    handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(raw)
            out.flush()
            os.fsync(out.fileno())
        os.replace(temporary, path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise
