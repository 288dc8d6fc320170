"""Do coaches put the same thing first? Of one case, and of all cases of a workshop.

Of one case chance cannot be known from the votes themselves, so there kappa sets guessing among the list apart: it is
what it would be if all choices were as likely (Brennan & Prediger 1981, Educ Psychol Meas 41:687-699, from memory).
Over several cases it is Fleiss' kappa, whose chance follows from how often each choice was made.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from casebook.marks.group_kappa import group_kappa
from casebook.marks.kappa import Kappa, fleiss_kappa
from casebook.marks.reliability import Z95, Estimate, t95

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from casebook.checkpoints.choices import Choice

#: Fewer cases than this say little about the next one. own judgement, no source
FEW_CASES = 4


@dataclass(frozen=True, slots=True)
class CaseVotes:
    """How many coaches chose each line of the list in one case; ``reference`` is the key of the agreed answer."""

    case: str
    counts: tuple[int, ...]
    reference: str = ""

    @property
    def n(self) -> int:
        """Coaches who chose."""
        return sum(self.counts)


@dataclass(frozen=True, slots=True)
class CaseAgreement:
    """One case.

    Attributes
    ----------
    votes : CaseVotes
    leading : tuple of int
        Places on the list with the most votes; several where they tie, none without votes.
    pairs : Estimate
        Share of pairs of coaches with the same answer.
    beyond_guessing : Estimate
        The same as kappa, guessing among the list set apart.
    with_reference : Estimate
        Share of coaches who chose what the reference says; NaN without a reference.
    """

    votes: CaseVotes
    leading: tuple[int, ...]
    pairs: Estimate
    beyond_guessing: Estimate
    with_reference: Estimate


@dataclass(frozen=True, slots=True)
class FirstAgreement:
    """All cases of a workshop: each, and together among the coaches and with the reference.

    ``together.value`` carries the interval for other cases with these coaches, ``other_coaches`` that for other coaches
    with these cases; the latter is NaN where only hands were counted.
    """

    choices: tuple[Choice, ...]
    cases: tuple[CaseAgreement, ...]
    together: Kappa
    reference: Kappa
    other_coaches: Estimate

    def text(self) -> str:
        """A line a case and two for all of them."""
        lines = [_case_line(case, self.choices) for case in self.cases]
        judged = [c for c in self.cases if c.votes.n > 1]
        if len(judged) < 2:
            return "\n".join([*lines, "Kappa over the cases needs two cases with votes."])
        few = f" Only {len(judged)} cases: it says little about the next one." if len(judged) < FEW_CASES else ""
        kappa, other = self.together.value, self.other_coaches
        said = f"kappa {kappa.value:.2f} ({kappa.low:.2f} to {kappa.high:.2f} for other cases"
        said += f", {other.low:.2f} to {other.high:.2f} for other coaches)" if math.isfinite(other.low) else ")"
        lines.append(f"All cases, among the coaches: {said}.{few}")
        if self.reference.n > 1:
            lines.append(
                f"All cases, with the reference: kappa {self.reference.value.text(2)}; "
                f"{100 * self.reference.agreement:.0f} % chose what it says."
            )
        return "\n".join(lines)


def first_agreement(
    cases: Sequence[CaseVotes], choices: Sequence[Choice], ballots: Sequence[Sequence[int]] = ()
) -> FirstAgreement:
    """Agreement on the first thing to change, of each case and of all of them.

    Parameters
    ----------
    cases : sequence of CaseVotes
    choices : sequence of Choice
        The list, in the order of the counts.
    ballots : sequence of sequence of int
        A row a coach: the place on the list that he chose in each case, -1 for none. Empty where only hands are known.
    """
    keys = [c.key for c in choices]
    table = np.array([c.counts for c in cases], float).reshape(len(cases), len(keys))
    known = [i for i, c in enumerate(cases) if c.reference in keys]
    titles = [c.title for c in choices]
    with_reference = group_kappa(table[known], [keys.index(cases[i].reference) for i in known], titles)
    each = tuple(case_agreement(c, keys) for c in cases)
    together = fleiss_kappa(table, titles)
    return FirstAgreement(tuple(choices), each, together, with_reference, _other_coaches(table, ballots))


def _other_coaches(table: NDArray[np.float64], ballots: Sequence[Sequence[int]]) -> Estimate:
    """Fleiss' kappa with the jackknife's interval over the coaches (Student's t)."""
    value, m = fleiss_kappa(table).value.value, len(ballots)
    without = []
    for ballot in ballots:
        rest = table.copy()
        for case, place in enumerate(ballot):
            if place >= 0:
                rest[case, place] -= 1
        without.append(fleiss_kappa(rest).value.value)
    if m < 3 or not np.isfinite(without).all():
        return Estimate(value, math.nan, math.nan)
    se = math.sqrt((m - 1) / m * float(((np.array(without) - np.mean(without)) ** 2).sum()))
    half = t95(m - 1) * se
    return Estimate(value, max(value - half, -1.0), min(value + half, 1.0))


def case_agreement(votes: CaseVotes, keys: Sequence[str]) -> CaseAgreement:
    """Agreement in one case; ``keys`` are those of the list, in its order."""
    counts = np.array(votes.counts, float)
    most = int(counts.max()) if len(counts) else 0
    leading = tuple(int(i) for i in np.flatnonzero(counts == most)) if most else ()
    pairs = pair_share(counts)
    k = len(keys)
    guess = 1 / k if k else math.nan
    beyond = Estimate(*((v - guess) / (1 - guess) for v in (pairs.value, pairs.low, pairs.high)))
    share = Estimate(math.nan, math.nan, math.nan)
    if votes.reference in keys and votes.n:
        share = share_of(int(counts[keys.index(votes.reference)]), votes.n)
    return CaseAgreement(votes, leading, pairs, beyond, share)


def pair_share(counts: NDArray[np.float64]) -> Estimate:
    """Share of pairs of judges that agree, with the jackknife's interval over the judges (Student's t).

    NaN for fewer than two judges, and no interval for fewer than three.
    """
    m, nan = float(counts.sum()), math.nan
    if m < 2:
        return Estimate(nan, nan, nan)
    same = float((counts * (counts - 1)).sum())
    value = same / (m * (m - 1))
    if m < 3:
        return Estimate(value, nan, nan)
    if value > 1 - 1e-12:
        # All agree: the exact lower limit of the share of the one answer, squared for a pair.
        return Estimate(1.0, 0.025 ** (2 / m), 1.0)
    without = (same - 2 * (counts - 1)) / ((m - 1) * (m - 2))
    mean = float((counts * without).sum() / m)
    se = math.sqrt((m - 1) / m * float((counts * (without - mean) ** 2).sum()))
    half = t95(m - 1) * se
    return Estimate(value, max(value - half, 0.0), min(value + half, 1.0))


def share_of(k: int, n: int) -> Estimate:
    """A share with Wilson's interval (Wilson 1927, J Am Stat Assoc 22:209-212).

    >>> share_of(9, 15).text(2)
    '0.60 (0.36 to 0.80)'
    """
    p, z2 = k / n, Z95**2
    middle = (p + z2 / (2 * n)) / (1 + z2 / n)
    half = Z95 / (1 + z2 / n) * math.sqrt(p * (1 - p) / n + z2 / (4 * n**2))
    return Estimate(p, max(middle - half, 0.0), min(middle + half, 1.0))


def _case_line(case: CaseAgreement, choices: Sequence[Choice]) -> str:
    votes = case.votes
    if not votes.n:
        return f"{votes.case}: nobody has chosen."
    said = " and ".join(f'"{choices[i].title}"' for i in case.leading)
    line = f"{votes.case}: {max(votes.counts)} of {votes.n} chose {said}"
    if votes.n > 1:
        line += f"; two coaches agree in {_percent(case.pairs)}, kappa beyond guessing {case.beyond_guessing.text(2)}"
    if math.isfinite(case.with_reference.value):
        key = next(c for c in choices if c.key == votes.reference)
        line += f'; the reference, "{key.title}", has {_percent(case.with_reference)}'
    return f"{line}."


def _percent(share: Estimate) -> str:
    return share.times(100).text(0, "%")
