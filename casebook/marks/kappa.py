"""Agreement of words beyond chance: the kappa of Cohen, weighted or not, and that of Fleiss for many judges.

Kappa falls where one word is common, however well the judges agree. So each figure comes with the agreement itself and
with how often each word was said.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.errors import MarksError
from casebook.marks.reliability import Z95, Estimate, t95

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

WEIGHTS = ("none", "linear", "squared")


@dataclass(frozen=True, slots=True)
class Kappa:
    """Agreement beyond chance, with what it depends on.

    Attributes
    ----------
    value : Estimate
        Kappa and its 95 % interval; NaN where only one word was ever said.
    se, se_null : float
        Standard error, and that if there were only chance.
    agreement, chance : float
        Share of pairs that agree (weighted: the credit they get), and what chance would give.
    shares : tuple of float
        How often each category was said, over all judges (its prevalence).
    n, left_out : int
        Things judged, and those left out because a judgement is missing.
    """

    value: Estimate
    se: float
    se_null: float
    agreement: float
    chance: float
    categories: tuple[Hashable, ...]
    shares: tuple[float, ...]
    n: int
    left_out: int = 0

    @property
    def z(self) -> float:
        """Kappa over its standard error under chance."""
        return self.value.value / self.se_null if self.se_null > 0 else math.nan

    @property
    def evened(self) -> float:
        """What kappa would be at this agreement if all words were equally common (Byrt et al. 1993)."""
        k = len(self.categories)
        return (k * self.agreement - 1) / (k - 1) if k > 1 else math.nan

    def text(self) -> str:
        """Kappa, agreement and prevalence in one line."""
        said = ", ".join(
            f"{name} {100 * share:.0f} %" for name, share in zip(self.categories, self.shares, strict=True)
        )
        out = f"; {self.left_out} left out, a judgement is missing" if self.left_out else ""
        return (
            f"kappa {self.value.text(2)}; the same word in {100 * self.agreement:.0f} % of {self.n}, by chance "
            f"{100 * self.chance:.0f} %; said: {said}{out}"
        )


def table_of(
    first: Sequence[Hashable | None], second: Sequence[Hashable | None], categories: Sequence[Hashable] | None = None
) -> tuple[tuple[Hashable, ...], NDArray[np.float64], int]:
    """Two judges' words as a table: (categories, (k, k) counts, pairs left out for a missing word).

    A missing word is None or NaN. Categories are those given, in their order, or all words that occur, sorted.
    """
    if len(first) != len(second):
        raise MarksError(f"{len(first)} judgements cannot be paired with {len(second)}.")
    pairs = [(a, b) for a, b in zip(first, second, strict=True) if not (_missing(a) or _missing(b))]
    words = tuple(categories) if categories is not None else tuple(sorted({w for p in pairs for w in p}, key=str))
    place = {word: i for i, word in enumerate(words)}
    unknown = [w for p in pairs for w in p if w not in place]
    if unknown:
        raise MarksError(f'"{unknown[0]}" is not one of the categories.', f"They are: {', '.join(map(str, words))}.")
    table = np.zeros((len(words), len(words)))
    if pairs:
        np.add.at(table, tuple(np.array([(place[a], place[b]) for a, b in pairs]).T), 1)
    return words, table, len(first) - len(pairs)


def cohen_kappa(
    table: ArrayLike, weights: str = "none", categories: Sequence[Hashable] | None = None, left_out: int = 0
) -> Kappa:
    """Kappa of two judges from their table of counts.

    Parameters
    ----------
    table : (k, k) float array
        Rows: the first judge; columns: the second.
    weights : str
        ``none``: only the same category counts; ``linear`` and ``squared``: a step off gets part of the credit. Steps
        are counted in the order of the categories.

    Returns
    -------
    Kappa
        Standard errors of Fleiss, Cohen & Everitt 1969 (Psychol Bull 72:323-327), interval by the normal distribution,
        within -1 and 1.
        Where all agree its standard error is zero and no measure of doubt: the lower end is then what the exact
        binomial limit of the agreement leaves of kappa.
    """
    counts = np.asarray(table, float)
    k = len(counts)
    if counts.shape != (k, k) or (counts < 0).any():
        raise MarksError(f"A table of two judges has as many rows as columns; this one has the shape {counts.shape}.")
    if weights not in WEIGHTS:
        raise MarksError(f'"{weights}" is not a way to weigh.', f"Use one of: {', '.join(WEIGHTS)}.")
    names = tuple(categories) if categories is not None else tuple(range(k))
    n = float(counts.sum())
    if n == 0 or k == 0:
        nan = math.nan
        return Kappa(Estimate(nan, nan, nan), nan, nan, nan, nan, names, (nan,) * k, 0, left_out)
    p = counts / n
    rows, columns = p.sum(1), p.sum(0)
    credit = _credit(k, weights)
    agreement, chance = float((credit * p).sum()), float(rows @ credit @ columns)
    shares = tuple(((rows + columns) / 2).tolist())
    if 1 - chance < 1e-12:
        nan = math.nan
        return Kappa(Estimate(nan, nan, nan), nan, nan, agreement, chance, names, shares, round(n), left_out)
    value = (agreement - chance) / (1 - chance)
    means = (credit @ columns)[:, None] + (rows @ credit)[None, :]
    off = (p * (credit - means * (1 - value)) ** 2).sum() - (value - chance * (1 - value)) ** 2
    null = (np.outer(rows, columns) * (credit - means) ** 2).sum() - chance**2
    se, se_null = (math.sqrt(max(float(v), 0.0) / n) / (1 - chance) for v in (off, null))
    interval = _interval(value, Z95 * se, agreement, chance, n)
    return Kappa(interval, se, se_null, agreement, chance, names, shares, round(n), left_out)


def fleiss_kappa(counts: ArrayLike, categories: Sequence[Hashable] | None = None) -> Kappa:
    """Kappa of many judges from how many of them put each thing into each category.

    Parameters
    ----------
    counts : (n, k) float array
        A row a thing. Things judged fewer than twice are left out; the number of judges may differ between things.

    Returns
    -------
    Kappa
        ``se`` treats the things as a sample (Gwet 2008, Br J Math Stat Psychol 61:29-48, from memory) and the interval
        uses Student's t with n - 1 degrees of freedom; ``se_null`` is that of Fleiss, Nee & Landis 1979 (Psychol Bull
        86:974-977), NaN where the number of judges differs.
    """
    counts = np.asarray(counts, float)
    if counts.ndim != 2 or (counts < 0).any():
        raise MarksError(f"Counts of judgements have one row a thing; these have the shape {counts.shape}.")
    judges = counts.sum(1)
    use = judges >= 2
    r, m = counts[use], judges[use]
    n, k = r.shape
    names = tuple(categories) if categories is not None else tuple(range(k))
    left_out, nan = int((~use).sum()), math.nan
    if n == 0:
        return Kappa(Estimate(nan, nan, nan), nan, nan, nan, nan, names, (nan,) * k, 0, left_out)
    each = r / m[:, None]
    shares = each.mean(0)
    agrees = (r * (r - 1)).sum(1) / (m * (m - 1))
    agreement, chance = float(agrees.mean()), float((shares**2).sum())
    said = tuple(shares.tolist())
    if 1 - chance < 1e-12:
        return Kappa(Estimate(nan, nan, nan), nan, nan, agreement, chance, names, said, n, left_out)
    value = (agreement - chance) / (1 - chance)
    own = (agrees - chance - 2 * (1 - value) * (each @ shares - chance)) / (1 - chance)
    se = math.sqrt(float(((own - value) ** 2).sum()) / (n * (n - 1))) if n > 1 else nan
    half = t95(n - 1) * se if n > 1 else nan
    interval = _interval(value, half, agreement, chance, n)
    return Kappa(interval, se, _null_of_many(shares, m), agreement, chance, names, said, n, left_out)


def _null_of_many(shares: NDArray[np.float64], judges: NDArray[np.float64]) -> float:
    if np.ptp(judges) > 1e-9:
        return math.nan
    m, spread = float(judges[0]), float((shares * (1 - shares)).sum())
    rest = spread**2 - float((shares * (1 - shares) * (1 - 2 * shares)).sum())
    return math.sqrt(2 * rest / (len(judges) * m * (m - 1))) / spread


def _interval(value: float, half: float, agreement: float, chance: float, n: float) -> Estimate:
    if agreement < 1 - 1e-12:
        return Estimate(value, max(value - half, -1.0), min(value + half, 1.0))
    least = 0.025 ** (1 / n)
    return Estimate(value, (least - chance) / (1 - chance), value)


def _credit(k: int, weights: str) -> NDArray[np.float64]:
    if weights == "none" or k < 2:
        return np.eye(k)
    steps = np.abs(np.subtract.outer(np.arange(k), np.arange(k))) / (k - 1)
    return 1 - (steps if weights == "linear" else steps**2)


def _missing(word: object) -> bool:
    return word is None or (isinstance(word, float) and math.isnan(word))
