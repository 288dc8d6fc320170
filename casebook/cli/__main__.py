"""``python -m casebook.cli``."""

from __future__ import annotations

import sys

from casebook.cli import main

if __name__ == "__main__":
    sys.exit(main())
