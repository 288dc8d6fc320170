"""Taking turns at the files of one shot: a lock for writing, and a cheap way to see that someone else wrote."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import FileLock, Timeout

from casebook.errors import MarksError

#: How long a write waits for another program to finish its own. [s]
LOCK_TIMEOUT_S = 10.0


class CannotWrite(MarksError):
    """The folder is read-only; reading still works."""


class WriteLock:
    """``<shot>.lock`` beside ``<shot>.csv``, held for the moment of a write."""

    def __init__(self, path_csv: Path) -> None:
        self.path = path_csv
        self._lock = FileLock(path_csv.with_suffix(".lock"))

    @contextmanager
    def held(self) -> Iterator[None]:
        """Hold the lock; what goes wrong with the files meanwhile is told as MarksError.

        Raises
        ------
        CannotWrite
            The folder does not allow writing.
        MarksError
            Another program holds the lock for too long, or a file could not be written.
        """
        self._take()
        try:
            yield
        except OSError as error:
            raise MarksError(
                f'The change to "{self.path.name}" could not be saved ({error.strerror or error}).',
                "Free some space or check the folder, then make the change again.",
                path=self.path,
            ) from error
        finally:
            self._lock.release()

    def _take(self) -> None:
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._lock.acquire(timeout=LOCK_TIMEOUT_S)
        except Timeout:
            raise MarksError(
                f'Another program has been writing "{self.path.name}" for {LOCK_TIMEOUT_S:g} s.',
                "Close it, then try again.",
                path=self.path,
            ) from None
        except (OSError, NotImplementedError) as error:
            raise CannotWrite(
                f'Marks cannot be saved beside "{self.path.name}" ({error}).',
                "Move the case to a folder that you may write to.",
                path=self.path,
            ) from None


def signature_of(path: Path) -> tuple[int, ...] | None:
    """What tells one state of a file from another without reading it; None if there is none."""
    try:
        facts = path.stat()
    except FileNotFoundError:
        return None
    return (facts.st_mtime_ns, facts.st_size, facts.st_ino)
