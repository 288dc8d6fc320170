"""Clips from above and under water on one clock, by events that both show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from filmed_swimmer import CAST, EVERYTHING, SEEN, Film
from made_strokes import moment, train

from casebook.errors import CasebookError
from casebook.stroke.moment import Moment
from casebook.stroke.sync import in_time_of, joined, offset, pair_by_time


def test_one_shared_event_gives_the_offset_and_both_errors():
    got = offset([(moment("entry", "r", 5.0, 0.003), moment("entry", "r", 2.0, 0.004))])
    assert (got.seconds, got.sigma_s, got.n, got.agree) == (3.0, pytest.approx(0.005), 1, True)
    assert "one shared event" in got.text()


def test_several_events_weigh_by_their_errors():
    pairs = [
        (moment("entry", "r", 5.00 + d, s), moment("entry", "r", 2.0, 1e-6)) for d, s in ((0.0, 0.01), (0.03, 0.02))
    ]
    got = offset(pairs)
    assert got.seconds == pytest.approx(3 + 0.03 * 0.01**2 / (0.01**2 + 0.02**2))
    assert got.agree


def test_events_that_disagree_are_named_and_their_spread_counts():
    pairs = [(moment("entry", "r", 5 + d, 0.005), moment("entry", "r", 2.0, 0.005)) for d in (0.0, 0.002, 0.4)]
    got = offset(pairs)
    assert not got.agree
    assert got.sigma_s > 0.1
    assert "disagree" in got.text()


def test_two_different_events_or_none_are_refused():
    with pytest.raises(CasebookError, match="two events"):
        offset([(moment("entry", "r", 1.0), moment("exit", "r", 2.0))])
    with pytest.raises(CasebookError, match="share no event"):
        offset([])


def test_moments_pair_by_time_around_what_the_coach_says():
    first = [m.moment("entry") for m in train("r", 4, 1.2, (0.3, 0.6, 0.8))]
    second = [m.later(-7.0) for m in first]
    assert len(pair_by_time(first, second, 7.0)) == 4
    # A whole cycle off pairs as well, one fewer: only the coach can tell.
    assert len(pair_by_time(first, second, 7.0 + 1.2)) == 3


def test_entries_over_water_and_catches_under_water_come_into_one_stroke():
    """The clip over water (entries, exits) was started 2.4 s before the one under water."""
    under = Film(CAST[0], view="side_under", marked=SEEN, seconds=6.0)
    above = Film(CAST[0], view="side_above", marked=EVERYTHING, seconds=6.0, sigma_px=1.0)
    low = under.strokes()
    high = tuple(
        replace(
            s,
            moments=tuple(m.later(-2.4) if isinstance(m, Moment) else m for m in s.moments),
            next_entry=s.next_entry.later(-2.4) if s.next_entry else s.next_entry,
        )
        for s in above.strokes()
    )
    pairs = pair_by_time([m for s in low for m in s.found], [m for s in high for m in s.found], 2.4)
    by = offset(pairs)
    # A camera over water sees a hand beside its plane too high: exits late and entries early by the same.
    assert by.seconds == pytest.approx(2.4, abs=0.03)
    bare = tuple(replace(s, moments=(s.moments[1], *s.moments[1:])) for s in low)
    both = joined(bare, in_time_of(high, by))
    assert len(both) == len(low)
    assert all(
        np.isfinite(s.time_s("exit")) for s in both if np.isfinite(s.time_s("shoulder")) and s.number < len(both)
    )
