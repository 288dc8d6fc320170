"""The lane plan: each swimmer once, no lane over its size, those with one thing to do together where there is room."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from squad_maker import member

from casebook.checkpoints.advice import all_faults
from casebook.errors import SquadError
from casebook.squad.first import Looked
from casebook.squad.lanes import plan_lanes, read_lanes, write_lanes
from casebook.words import LEVELS

FAULTS = all_faults()


def row(number, fault="", level="triathlete"):
    first = FAULTS[fault] if fault else None
    return Looked(member(number, level=level), first, (first,) if first else (), () if first else ("catch",))


@st.composite
def squads(draw):
    keys = st.sampled_from(["", *FAULTS])
    drawn = draw(st.lists(st.tuples(keys, st.sampled_from(list(LEVELS))), min_size=1, max_size=30))
    rows = [row(n, key, level) for n, (key, level) in enumerate(drawn, 1)]
    size = draw(st.integers(1, 9))
    fewest = -(-len(rows) // size)
    return rows, draw(st.integers(fewest, fewest + 5)), size


@given(squads())
def test_everyone_swims_once_and_no_lane_is_over_its_size(drawn):
    rows, lanes, size = drawn
    plan = plan_lanes(rows, lanes, size)
    assert sorted(r.member.number for lane in plan for r in lane.rows) == [r.member.number for r in rows]
    assert len(plan) <= lanes and all(1 <= len(lane.rows) <= size for lane in plan)
    assert [lane.number for lane in plan] == list(range(1, len(plan) + 1))


@given(squads())
def test_with_lanes_enough_nobody_shares_one_with_another_thing_to_do(drawn):
    rows, _, size = drawn
    keys = [r.first.key if r.first else "" for r in rows]
    lanes = sum(-(-keys.count(k) // size) for k in set(keys))
    assert all(len({r.first.key if r.first else "" for r in lane.rows}) == 1 for lane in plan_lanes(rows, lanes, size))


def test_a_full_group_is_parted_by_level():
    rows = [row(n, "head_up", "learner" if n % 2 else "sprint") for n in range(1, 9)]
    assert [{r.member.level for r in lane.rows} for lane in plan_lanes(rows, 2, 4)] == [{"learner"}, {"sprint"}]


def test_faults_of_one_checkpoint_are_put_together_before_others():
    rows = [row(1, "dropped_elbow"), row(2, "straight_arm"), row(3, "hooked_feet"), row(4, "hooked_feet")]
    assert {frozenset(r.member.number for r in lane.rows) for lane in plan_lanes(rows, 2, 4)} == {
        frozenset({1, 2}), frozenset({3, 4})
    }  # fmt: skip


def test_lanes_go_from_balance_to_the_fine_things_and_the_free_come_last():
    rows = [row(1), row(2, "rate_high"), row(3, "dropped_elbow"), row(4, "head_up"), row(5, "thumb_first")]
    assert [lane.rows[0].member.number for lane in plan_lanes(rows, 5, 2)] == [5, 4, 3, 2, 1]


def test_too_many_swimmers_are_told():
    with pytest.raises(SquadError, match="9 swimmers do not fit into 2 lanes of 4"):
        plan_lanes([row(n) for n in range(1, 10)], 2, 4)


@given(squads())
def test_a_plan_that_is_kept_reads_back_as_it_was(drawn):
    import tempfile
    from pathlib import Path

    rows, lanes, size = drawn
    plan = plan_lanes(rows, lanes, size)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lanes.csv"
        write_lanes(path, plan)
        assert read_lanes(path, rows, lanes, size) == plan


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1,1\n", "no lane for 2, 3"), ("1,1\n1,2\n1,3\n", "more than 2"), ("1,1\n1,1\n2,2\n2,3\n", "twice"),
        ("1,1\n2,2\n2,9\n", "not among"), ("9,1\n1,2\n2,3\n", "no lane 9"), ("a,1\n", "not a whole number"),
    ],
)  # fmt: skip
def test_a_plan_edited_into_disorder_is_told(tmp_path, text, told):
    (tmp_path / "lanes.csv").write_text(f"lane,number\n{text}", "utf-8")
    with pytest.raises(SquadError, match=told):
        read_lanes(tmp_path / "lanes.csv", [row(1), row(2), row(3)], 3, 2)
