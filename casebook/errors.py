"""The few errors a coach can meet; each says what is wrong, where, and what to do next."""

from __future__ import annotations


def printable(words: str) -> str:
    """Words with every sign that a terminal would obey, or that turns the direction of writing, as its escape.

    >>> print(printable("a\\x1b[2Jb"))
    a\\x1b[2Jb
    """
    return "".join(c if c.isprintable() or c == "\n" else c.encode("unicode_escape").decode("ascii") for c in words)


class CasebookError(Exception):
    """Something the coach can act on: one clear sentence, then the next step.

    Parameters
    ----------
    problem : str
        What is wrong, naming the file, frame or setting.
    remedy : str, optional
        What to do next.
    **facts
        The facts behind the sentence (``path``, ``frame``, ``line`` ...), kept in ``facts``.
    """

    def __init__(self, problem: str, remedy: str = "", **facts: object) -> None:
        self.problem = problem
        self.remedy = remedy
        self.facts = facts
        super().__init__(printable(f"{problem} {remedy}".strip()))

    def _render_traceback_(self) -> list[str]:
        # IPython shows these lines in place of a traceback, which helps no coach.
        return [f"{type(self).__name__}: {self}"]


class ClipError(CasebookError):
    """A video file cannot be opened, or a frame of it cannot be had."""


class MarksError(CasebookError):
    """A marks, lines or events file is torn, edited into disorder, or disagrees with its clip."""


class CaseError(CasebookError):
    """A case folder or its settings are missing, unreadable or contradictory."""


class PageError(CasebookError):
    """A page cannot be made from what was handed over."""


class ConsentError(CaseError):
    """Nobody whose word counts has agreed to this use of a case, or no longer does."""


class SquadError(CasebookError):
    """A squad's folder, roster, cuts or grid are missing, unreadable or contradictory."""
