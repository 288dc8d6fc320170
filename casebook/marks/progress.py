"""How far long work is: a bar in the notebook, or whoever wants to be told instead."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

Tell = Callable[[int, int], None]


@contextmanager
def counted(total: int, what: str, tell: Tell | None = None) -> Iterator[Callable[[], None]]:
    """A function to call after each of ``total`` frames; ``tell(n, total)`` takes the place of the bar if given."""
    if tell is None:
        from tqdm import tqdm

        with tqdm(total=total, desc=what, unit=" frames") as bar:
            yield lambda: bar.update(1)
        return
    done = 0

    def one_more() -> None:
        nonlocal done
        done += 1
        tell(done, total)

    yield one_more
