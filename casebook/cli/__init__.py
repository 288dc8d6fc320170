"""The command ``casebook``: make a case, open it, run its notebooks, render its page, and hand it over."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from casebook.cli.parser import parser
from casebook.errors import CasebookError


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code. Mistakes are told in a sentence, never with a traceback."""
    args = parser().parse_args(argv)
    try:
        args.run(args)
    except CasebookError as error:
        print(f"casebook: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("casebook: stopped; everything saved so far is on disk.", file=sys.stderr)
        return 130
    except (OSError, EOFError) as error:
        print(f"casebook: {error}", file=sys.stderr)
        return 2
    return 0
