"""Blocks about a workshop: what the room put first, and how far it agreed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from casebook.pages.block import Block, rounded
from casebook.pages.figure import to_png
from casebook.pages.workshop_chart import shares_shapes, votes_shapes

if TYPE_CHECKING:
    from casebook.checkpoints.first_agreement import CaseAgreement, FirstAgreement
    from casebook.marks.reliability import Estimate

NO_VOTES = "Nobody has voted yet: put the files that were handed in into the folder votes."


def votes(found: FirstAgreement) -> Block:
    """What each coach put first: a ring a coach, the most chosen first, the reference named."""
    cases = [_rows(case, found) for case in found.cases if case.votes.n]
    if not cases:
        return Block("votes", NO_VOTES, {"title": "", "cases": []})
    lines = []
    for case in cases:
        lines.append(case["case"])
        lines += [
            f"  {row['hands']} of {case['n']}: {row['title']}{' (reference)' if row['is_reference'] else ''}"
            for row in case["rows"]
        ]
    data = {"title": "What the room put first", "cases": cases}
    return Block("votes", "\n".join(lines), data, to_png(*votes_shapes(data)))


def agreement(found: FirstAgreement) -> Block:
    """How many chose what the reference says, and how often two coaches agree, case by case."""
    cases = [case for case in found.cases if case.votes.n]
    rows = _shares("Chose what the reference says", [(c.votes.case, c.with_reference) for c in cases])
    rows += _shares("Two coaches taken at random agree", [(c.votes.case, c.pairs) for c in cases])
    if not rows:
        return Block("votes", NO_VOTES, {"title": "", "rows": []})
    data = {"title": "How far the room agreed", "rows": rows}
    return Block("agreement", found.text(), data, to_png(*shares_shapes(data)))


def _rows(case: CaseAgreement, found: FirstAgreement) -> dict[str, Any]:
    chosen: list[dict[str, Any]] = [
        {"title": c.title, "hands": n, "is_reference": c.key == case.votes.reference}
        for c, n in zip(found.choices, case.votes.counts, strict=True)
        if n or c.key == case.votes.reference
    ]
    chosen.sort(key=lambda row: -row["hands"])
    return {"case": case.votes.case, "n": case.votes.n, "rows": chosen}


def _shares(title: str, shares: list[tuple[str, Estimate]]) -> list[dict[str, Any]]:
    known = [(name, e) for name, e in shares if math.isfinite(e.value)]
    return [
        {
            "title": title if k == 0 else "",
            "name": name,
            "value": rounded(100 * e.value, 1),
            "low": rounded(100 * e.low, 1) if math.isfinite(e.low) else None,
            "high": rounded(100 * e.high, 1) if math.isfinite(e.high) else None,
        }
        for k, (name, e) in enumerate(known)
    ]
