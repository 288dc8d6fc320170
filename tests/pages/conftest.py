"""The demo case's page, made once for all tests that need a real one."""

from __future__ import annotations

import pytest
from demo_page import DemoPage, make_demo_page


@pytest.fixture(scope="session")
def demo_page(tmp_path_factory: pytest.TempPathFactory) -> DemoPage:
    return make_demo_page(tmp_path_factory.mktemp("demo"))
