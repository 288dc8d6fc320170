"""Whether somebody works in a case at this moment: a notebook server, or a program that writes its marks."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote
from urllib.request import ProxyHandler, Request, build_opener

from filelock import FileLock, Timeout

from casebook.case.links import is_link
from casebook.errors import CaseError

#: Longest to wait for a server on this computer. [s]
PATIENCE_S = 3.0


def refuse_while_open(home: Path) -> None:
    """Raise CaseError if a notebook server is open on a case, has one of its notebooks open, or marks are written."""
    for server in _servers():
        root = Path(server.get("root_dir") or server.get("notebook_dir") or "/").resolve()
        if root.is_relative_to(home):
            raise CaseError(
                f'JupyterLab is open on "{home.name}".', "Close it (File, Shut Down), then try again.", path=home
            )
        if home.is_relative_to(root) and (names := _open_in(server, root, home)):
            raise CaseError(
                f'JupyterLab has "{names[0]}" open.', "Shut that notebook's kernel down, then try again.", path=home
            )
    for path in sorted((home / "marks").glob("*.lock")):
        if not is_link(path) and _is_held(path):
            raise CaseError(f'Another program is writing "{path.stem}.csv".', "Close it, then try again.", path=path)


def _servers() -> Iterator[dict[str, Any]]:
    from jupyter_server.serverapp import list_running_servers

    yield from list_running_servers()


def _open_in(server: dict[str, Any], root: Path, home: Path) -> list[str]:
    """Names of the case's notebooks that a server on a larger folder has open; none if it does not answer."""
    address = f"{server['url']}api/sessions"
    asked = Request(address, headers={"Authorization": f"token {quote(server.get('token', ''))}"})
    try:
        with build_opener(ProxyHandler({})).open(asked, timeout=PATIENCE_S) as answer:
            sessions = json.load(answer)
        paths = [(root / row["path"]).resolve() for row in sessions]
    except (OSError, ValueError, TypeError, KeyError):
        return []
    return [path.name for path in paths if path.is_relative_to(home)]


def _is_held(path: Path) -> bool:
    lock = FileLock(path)
    try:
        lock.acquire(timeout=0)
    except Timeout:
        return True
    except OSError:
        return False
    lock.release()
    return False
