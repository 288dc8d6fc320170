"""Long work beside the kernel's own thread, one piece at a time, so that the tool stays at the coach's hand."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from casebook.marks.progress import Tell

#: The coach is told this often at most. [s]
BEAT_S = 0.15


class Stopped(Exception):
    """The coach asked to stop."""


@dataclass(slots=True)
class Worker:
    """Runs a job in a thread and brings its answer back to the thread that asked.

    Where no event loop runs, as in a script, the job is done at once, in place.
    """

    _stop: threading.Event = field(default_factory=threading.Event)
    _busy: bool = False

    @property
    def busy(self) -> bool:
        """A job is under way."""
        return self._busy

    def start(
        self, job: Callable[[Tell], Any], told: Tell, done: Callable[[Any], None], failed: Callable[[Exception], None]
    ) -> None:
        """Begin a job: ``job(tell)`` runs beside; the other three are called in the thread that calls this.

        ``tell(n, of)`` says how far it is, and raises ``Stopped`` once the coach wishes to stop.
        """
        self._stop.clear()
        self._busy = True
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            self._run(job, told, done, failed, lambda act, *args: act(*args))
            return
        home = loop.call_soon_threadsafe
        threading.Thread(target=self._run, args=(job, told, done, failed, home), daemon=True).start()

    def stop(self) -> None:
        """Ask the job to stop at its next step."""
        self._stop.set()

    def _run(self, job: Callable[[Tell], Any], told: Tell, done: Any, failed: Any, home: Callable[..., Any]) -> None:
        last = -BEAT_S

        def tell(n: int, of: int) -> None:
            nonlocal last
            if self._stop.is_set():
                raise Stopped
            now = time.monotonic()
            if now - last >= BEAT_S:
                last = now
                home(told, n, of)

        try:
            answer = job(tell)
        except Exception as error:
            self._busy = False
            home(failed, error)
        else:
            self._busy = False
            home(done, answer)
