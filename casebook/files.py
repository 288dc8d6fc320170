"""Writing so that nothing is ever half written."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def write_atomic(path: Path | str, data: bytes | str) -> None:
    """Replace the file at ``path`` in one step; a reader sees the old file or the new, never a part.

    Text is written as UTF-8 with ``\\n`` line ends on every system.
    """
    path = Path(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    raw = data.encode("utf-8") if isinstance(data, str) else data
    # Opened plainly and not as a private temporary file, so that whoever may read the folder may read the result.
    temporary = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        with temporary.open("xb") as out:
            out.write(raw)
            out.flush()
            os.fsync(out.fileno())
        temporary.replace(path)
        sync_folder(path.parent)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise


def sync_folder(folder: Path) -> None:
    """See a new, renamed or removed name on disk, where the system can do so (Windows does it by itself)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)
