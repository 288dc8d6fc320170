"""The planar arm with its closed form is shared with the tests of strokes."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "stroke"))
