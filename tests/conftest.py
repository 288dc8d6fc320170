"""Settings for every test: property tests are not judged by the clock of a busy machine."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("casebook", deadline=None, print_blob=True)
settings.load_profile("casebook")
