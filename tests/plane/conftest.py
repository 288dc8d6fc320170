"""Property tests judge results, not how busy the machine was."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("steady", deadline=None)
settings.load_profile("steady")
