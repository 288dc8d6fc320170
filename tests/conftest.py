"""Settings and fixtures of every test."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# Property tests judge results, not how busy the machine was.
settings.register_profile("casebook", deadline=None, print_blob=True)
settings.load_profile("casebook")

#: No window, no sandbox (containers), and none of the browser's own calls to the outside.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's Chromium without a window. Missing, it is a failure where a browser is required, else a skip."""
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        say = pytest.fail if os.environ.get("CASEBOOK_REQUIRE_BROWSER") else pytest.skip
        say("No Chromium found: install the package chromium to run the browser tests.")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=found, args=list(FLAGS))
        yield running
        running.close()
