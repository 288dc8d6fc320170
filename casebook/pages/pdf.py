"""The page on paper: printed to PDF by a browser that is on this computer already, without a window or the network."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from casebook.errors import PageError
from casebook.files import write_atomic

#: Commands under which browsers that can print without a window are found, and where they lie without one.
COMMANDS = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge",
    "microsoft-edge-stable", "msedge", "brave-browser",
)  # fmt: skip
PLACES = {
    "darwin": (
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
        "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
    ),
    "win32": (
        r"{ProgramFiles}\Google\Chrome\Application\chrome.exe",
        r"{ProgramFiles(x86)}\Google\Chrome\Application\chrome.exe",
        r"{LOCALAPPDATA}\Google\Chrome\Application\chrome.exe",
        r"{ProgramFiles(x86)}\Microsoft\Edge\Application\msedge.exe",
    ),
}
BY_HAND = "Open the page in any browser, print it (Ctrl+P, on a Mac Cmd+P) and choose: save as PDF."
LONGEST_S = 120
_FLAGS = (
    "--headless", "--disable-gpu", "--no-first-run", "--disable-extensions", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--disable-default-apps", "--no-pdf-header-footer",
    # No name is ever looked up: the page asks for nothing, and the browser shall not either.
    "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip
#: What a browser writes into a PDF about itself and the computer, and when; read as text up to the closing bracket.
_ABOUT = re.compile(rb"/(Creator|Producer|CreationDate|ModDate)\s*\(((?:\\.|[^\\()])*)\)")


def find_browser() -> str | None:
    """A browser on this computer that can print without a window; None if there is none."""
    found = next(filter(None, map(shutil.which, COMMANDS)), None)
    known = (_filled(place) for place in PLACES.get(sys.platform, ()))
    return found or next((place for place in known if place and Path(place).is_file()), None)


def print_page(page: Path, target: Path) -> Path:
    """Print a page to PDF; the file says nothing of the browser, the computer or the hour.

    Raises
    ------
    PageError
        There is no browser for it, or it did not print.
    """
    browser = find_browser()
    if browser is None:
        raise PageError("No browser was found that prints by itself.", BY_HAND)
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        made = Path(folder) / "page.pdf"
        command = [browser, *_FLAGS, f"--user-data-dir={folder}/profile", f"--print-to-pdf={made}"]
        if getattr(os, "geteuid", lambda: 1)() == 0:
            command.append("--no-sandbox")  # a browser refuses to start for the system's own user otherwise
        try:
            subprocess.run([*command, page.resolve().as_uri()], capture_output=True, timeout=LONGEST_S, check=False)
            raw = made.read_bytes()
        except (OSError, subprocess.TimeoutExpired):
            raise PageError(f'"{Path(browser).name}" did not print the page.', BY_HAND, path=page) from None
    if not raw.startswith(b"%PDF"):
        raise PageError(f'"{Path(browser).name}" did not print the page.', BY_HAND, path=page)
    write_atomic(target, without_origin(raw))
    return target


def without_origin(pdf: bytes) -> bytes:
    """A PDF without the words about the program, computer and hour that made it; every other byte stays in its place.

    >>> without_origin(b"<</Creator (Some\\\\) program) /Title (A)>>")
    b'<</Creator (              ) /Title (A)>>'
    """
    return _ABOUT.sub(lambda m: m[0].replace(b"(" + m[2] + b")", b"(" + b" " * len(m[2]) + b")"), pdf)


def _filled(place: str) -> str:
    """A place with the names of folders that this system keeps; empty where it knows one of them not."""
    try:
        return place.format_map(os.environ)
    except KeyError:
        return ""
