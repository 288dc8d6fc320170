"""A real JupyterLab on this machine, one for all tests here."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import nbformat
import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

START_S = 60


@dataclass(frozen=True, slots=True)
class Lab:
    """A running JupyterLab: its address and the folder that it serves."""

    url: str
    folder: Path

    def notebook(self, name: str, cells: Sequence[str]) -> str:
        """Write a notebook of code cells; returns its name."""
        book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(text) for text in cells])
        book.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3", "language": "python"}
        nbformat.write(book, self.folder / f"{name}.ipynb")
        return f"{name}.ipynb"

    def run_all(self, page: Page, notebook: str, wait_for: str) -> None:
        """Open a notebook, run all its cells and wait until ``wait_for`` (a selector) is there."""
        page.goto(f"{self.url}/lab/tree/{notebook}?reset")
        # Before the kernel is ready a wish to run all is lost without a word.
        page.get_by_text("| Idle").wait_for(timeout=START_S * 1000)
        page.get_by_role("menuitem", name="Run", exact=True).click()
        page.get_by_text("Run All Cells", exact=True).click()
        error = "[data-mime-type='application/vnd.jupyter.error']"
        page.wait_for_selector(f"{wait_for}, {error}", timeout=START_S * 1000)
        if page.locator(error).count():
            pytest.fail(f"{notebook} stopped:\n{page.locator(error).first.inner_text()}")


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    """JupyterLab on 127.0.0.1 with settings, data and runtime folders of its own."""
    home = tmp_path_factory.mktemp("lab")
    folder = home / "work"
    folder.mkdir()
    page_config = home / "config" / "labconfig" / "page_config.json"
    page_config.parent.mkdir(parents=True)
    # The news toast asks the network.
    quiet = {"disabledExtensions": {"@jupyterlab/apputils-extension:announcements": True}}
    page_config.write_text(json.dumps(quiet), encoding="utf-8")
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    own = {f"JUPYTER_{name.upper()}_DIR": str(home / name) for name in ("config", "data", "runtime")}
    settings = {
        "ServerApp.ip": "127.0.0.1",
        "ServerApp.port": port,
        "ServerApp.port_retries": 0,
        "ServerApp.root_dir": folder,
        "ServerApp.allow_root": True,
        "ServerApp.open_browser": False,
        "IdentityProvider.token": "",
    }
    with (home / "log.txt").open("wb") as log:
        server = subprocess.Popen(
            [sys.executable, "-m", "jupyterlab", *(f"--{key}={value}" for key, value in settings.items())],
            env={**os.environ, **own, "IPYTHONDIR": str(home / "ipython")},
            cwd=folder,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
        try:
            url = f"http://127.0.0.1:{port}"
            _wait_until_up(url, server, home / "log.txt")
            yield Lab(url, folder)
        finally:
            server.terminate()
            try:
                server.wait(15)
            except subprocess.TimeoutExpired:
                server.kill()


@pytest.fixture(scope="session")
def new_page(browser: Browser) -> Iterator[Any]:
    """A function that opens a page of a given size; ``page.requested`` lists every address it asked for."""
    contexts = []

    def opened(width: int = 1366, height: int = 768, **more: Any) -> Page:
        context = browser.new_context(viewport={"width": width, "height": height}, **more)
        contexts.append(context)
        page = context.new_page()
        page.requested = []
        context.on("request", lambda request: page.requested.append(request.url))
        return page

    yield opened
    for context in contexts:
        context.close()


def _wait_until_up(url: str, server: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end and server.poll() is None:
        try:
            with urllib.request.urlopen(f"{url}/api", timeout=2):
                return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"JupyterLab did not start:\n{log.read_text(encoding='utf-8', errors='replace')[-3000:]}")
