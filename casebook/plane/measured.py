"""A number with its standard deviation."""

from __future__ import annotations

import math
from dataclasses import dataclass

from casebook.errors import CasebookError


@dataclass(frozen=True, slots=True)
class Measured:
    """A value and the standard deviation of its error, both in the unit that the name beside it states.

    Raises
    ------
    CasebookError
        The value is not a number, or the standard deviation is negative or not a number.
    """

    value: float
    sigma: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.sigma)) or self.sigma < 0:
            raise CasebookError(
                f"A measured value of {self.value} with a standard deviation of {self.sigma} makes no sense.",
                "Give a number, and a standard deviation of zero or more.",
            )
