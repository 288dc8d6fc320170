"""The examples in docstrings are true."""

from __future__ import annotations

import doctest
import importlib
import pkgutil

import casebook


def test_every_example_in_a_docstring_gives_what_it_says():
    tried = 0
    for module in pkgutil.walk_packages(casebook.__path__, "casebook."):
        result = doctest.testmod(importlib.import_module(module.name))
        assert not result.failed, module.name
        tried += result.attempted
    assert tried > 10
