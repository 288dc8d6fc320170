"""Many marks changed at once: one step to undo, and on disk whole or not at all."""

from __future__ import annotations

import shutil
import zlib
from dataclasses import replace

import numpy as np
import pytest

from casebook.errors import MarksError
from casebook.marks import journal as journal_module
from casebook.marks.marks import Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.store import MarkStore

TIMES = np.arange(50) / 25
ARM = ("shoulder_r", "elbow_r", "wrist_r")
BOTH = ("elbow_l", "elbow_r", "wrist_l", "wrist_r")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "side.csv"


@pytest.fixture
def store(path):
    """A hand mark at frame 10, one confirmed at 20, drafted shoulder and tracked elbow and wrist between."""
    with MarkStore(path, TIMES, by="AB") as made:
        made.put_marks(some(ARM, [10], Origin.hand), by="CD")
        made.put_marks(some(ARM, [20], Origin.confirmed), by="CD")
        made.put_marks(some(ARM[:1], range(11, 20), Origin.drafted), by="")
        made.put_marks(some(ARM[1:], range(11, 20), Origin.tracked), by="")
        yield made


def some(points, frames, origin, shift=0.0) -> Marks:
    frames = list(frames)
    xy = np.arange(len(frames) * len(points) * 2.0).reshape(len(frames), len(points), 2) + shift
    return Marks.from_arrays(points, frames, xy, 1.5, origin)


def content(store: MarkStore) -> dict:
    """Every mark by frame and point; hidden ones with zeros for NaN, so that they can be compared."""
    held = {(int(f), p): m for f in store.marks.frames for p, m in store.at(int(f)).items()}
    return {key: replace(m, x_px=0.0, y_px=0.0, sigma_px=0.0) if m.hidden else m for key, m in held.items()}


def lines(path) -> int:
    return path.with_suffix(".journal").read_bytes().count(b"\n")


def once(store, act) -> tuple:
    """Content before and after one change, with its result; undone once it is as before, redone as after."""
    before, length = content(store), lines(store.path)
    result = act()
    after = content(store)
    assert lines(store.path) == length + (before != after), "one line in the journal"
    assert content(MarkStore(store.path, TIMES)) == after, "on disk at once"
    store.refresh()
    assert store.undo() and content(store) == before
    assert store.redo() and content(store) == after
    return before, after, result


def test_confirming_keeps_place_and_error_and_signs(store):
    before, after, count = once(store, lambda: store.confirm(ARM, range(5, 30)))
    assert count == 27
    assert {m.origin for m in after.values()} == {Origin.hand, Origin.confirmed}
    for key, was in before.items():
        mark = after[key]
        assert (mark.x_px, mark.y_px, mark.sigma_px) == (was.x_px, was.y_px, was.sigma_px)
        assert mark.by == ("AB" if 10 < key[0] < 20 else "CD"), "who confirmed a mark before stays its owner"


def test_only_the_points_and_frames_asked_for_are_confirmed(store):
    assert store.confirm(["wrist_r"], [12, 14, 14, 30]) == 2
    assert [f for (f, p), m in content(store).items() if m.origin == Origin.confirmed and f != 20] == [12, 14]
    assert store.confirm(["wrist_r"], 12) == 0 and store.confirm(["crown"], range(50)) == 0
    assert store.confirm(["wrist_r"], np.int64(13)) == 1


def test_a_point_drafted_as_hidden_is_confirmed_hidden(store):
    store.hide(30, "wrist_r", Origin.drafted)
    assert store.confirm(["wrist_r"], [30]) == 1
    assert store.at(30)["wrist_r"].hidden and store.at(30)["wrist_r"].origin == Origin.confirmed


def test_dropping_takes_what_nobody_looked_at_and_leaves_the_rest(store):
    before, after, count = once(store, lambda: store.drop(ARM, range(5, 30)))
    assert count == 27
    assert after == {key: m for key, m in before.items() if key[0] in (10, 20)}


@pytest.mark.parametrize(("origins", "left"), [([Origin.tracked], 15), ([Origin.hand], 30), (list(Origin), 0)])
def test_dropping_by_origin(store, origins, left):
    once(store, lambda: store.drop(ARM, range(5, 30), origins))
    assert len(content(store)) == left


def test_swapping_a_stretch_is_the_same_as_swapping_its_frames_one_by_one(store, tmp_path):
    store.put_marks(some(("wrist_l",), [11, 12], Origin.tracked, shift=500.0))
    store.hide(12, "elbow_l")
    store.close()
    shutil.copy(store.path, tmp_path / "other.csv")
    with MarkStore(tmp_path / "other.csv", TIMES) as other, MarkStore(store.path, TIMES) as store:
        for each in (other, store):
            each.put(49, "crown", 1.0, 1.0)
        for frame in range(11, 15):
            assert other.swap_sides(frame, BOTH)
        before, after, count = once(store, lambda: store.swap_sides(range(11, 15), BOTH))
        assert count == 4 and after == content(other)
    assert after[11, "wrist_l"] == before[11, "wrist_r"] and after[12, "elbow_r"].hidden
    assert after[11, "shoulder_r"] == before[11, "shoulder_r"], "its other side was not named"


def test_swapping_twice_is_no_swap(store):
    before = content(store)
    assert store.swap_sides(range(50), BOTH) == 11 == store.swap_sides(range(50), BOTH)
    assert content(store) == before


def test_renewing_puts_the_new_and_takes_the_old_of_that_origin(store):
    new = some(ARM, range(11, 15), Origin.tracked, shift=100.0)
    before, after, count = once(store, lambda: store.renew(new, range(5, 30), [Origin.tracked]))
    assert count == 12
    assert {f for (f, p), m in after.items() if m.origin == Origin.tracked} == {11, 12, 13, 14}
    drafted = {f for (f, p), m in after.items() if m.origin == Origin.drafted}
    assert drafted == set(range(15, 20)), "another origin stays where nothing of higher rank came"
    assert all(after[key] == before[key] for key in before if key[0] in (10, 20))


def test_renewing_never_overwrites_the_coach_and_leaves_other_points_and_frames(store):
    new = some(("wrist_r",), [10, 11, 20], Origin.tracked, shift=100.0)
    before, after, count = once(store, lambda: store.renew(new, range(5, 15), [Origin.tracked]))
    assert count == 1 and after[11, "wrist_r"].x_px == 102.0
    gone = set(before) - set(after)
    assert gone == {(f, "wrist_r") for f in (12, 13, 14)}


def test_renewing_with_the_same_is_no_change(store):
    store.renew(new := some(ARM, [12], Origin.tracked), [12], [Origin.tracked])
    length = lines(store.path)
    assert store.renew(new, [12], [Origin.tracked]) == 3
    assert lines(store.path) == length


def test_what_makes_no_sense_is_refused_and_changes_nothing(store):
    before = content(store)
    for act in (
        lambda: store.confirm(["tail_l"], [11]),
        lambda: store.confirm(["wrist_r", "wrist_r"], [11]),
        lambda: store.drop(ARM, [11, 50]),
        lambda: store.swap_sides([-1], BOTH),
        lambda: store.swap_sides([11], ["fin_l"]),
        lambda: store.renew(some(ARM, [60], Origin.tracked), [11], [Origin.tracked]),
    ):
        with pytest.raises(MarksError):
            act()
    assert content(store) == before


def test_no_frames_or_no_points_is_no_change(store):
    length = lines(store.path)
    assert store.confirm(ARM, []) == store.drop([], range(50)) == store.swap_sides([], BOTH) == 0
    assert lines(store.path) == length


def test_what_another_program_set_meanwhile_is_confirmed_too_and_outlives_the_undo(store):
    other = MarkStore(store.path, TIMES, by="XY")
    other.put(13, "wrist_r", 7.0, 8.0)
    other.put(30, "wrist_r", 7.0, 8.0, origin=Origin.tracked)
    assert store.confirm(["wrist_r"], range(50)) == 9
    assert store.at(30)["wrist_r"].origin == Origin.confirmed and store.at(13)["wrist_r"].by == "XY"
    other.put(14, "wrist_r", 9.0, 9.0)
    store.undo()
    assert store.at(14)["wrist_r"].x_px == 9.0 and store.at(15)["wrist_r"].origin == Origin.tracked


def test_listeners_hear_the_frames_of_a_stretch_once(store):
    heard = []
    store.on_change = heard.append
    store.confirm(["wrist_r"], range(50))
    assert heard == [tuple(range(11, 20))]


# ---- on disk whole or not at all -------------------------------------------------------------------------------------


def test_a_change_of_many_lines_cut_at_any_byte_was_made_whole_or_not_at_all(path, monkeypatch):
    monkeypatch.setattr(journal_module, "LINE_CELLS", 4)
    store = MarkStore(path, TIMES)
    store.put_marks(some(("wrist_l",), [1, 2], Origin.hand))
    journal = path.with_suffix(".journal")
    start, before = len(journal.read_bytes()), content(store)
    store.put_marks(some(ARM, [1, 2, 3], Origin.tracked))
    whole, after = journal.read_bytes(), content(store)
    assert whole[start:].count(b"\n") == 3
    for cut in range(start, len(whole) + 1):
        journal.write_bytes(whole[:cut])
        path.unlink(missing_ok=True)
        assert content(MarkStore(path, TIMES)) == (after if cut == len(whole) else before), cut


def test_writing_on_after_an_unfinished_change_leaves_no_part_of_it(path, monkeypatch):
    monkeypatch.setattr(journal_module, "LINE_CELLS", 4)
    store = MarkStore(path, TIMES)
    store.put(1, "wrist_l", 1.0, 1.0)
    journal = path.with_suffix(".journal")
    start = journal.read_bytes()
    other = MarkStore(path.with_name("other.csv"), TIMES)
    other.put_marks(some(ARM, [1, 2, 3], Origin.tracked))
    begun = path.with_name("other.journal").read_bytes().splitlines(keepends=True)[1:3]
    path.with_suffix(".journal").write_bytes(start + b"".join(begun))
    store.put(2, "wrist_l", 2.0, 2.0)
    assert set(content(store)) == set(content(MarkStore(path, TIMES))) == {(1, "wrist_l"), (2, "wrist_l")}


# ---- journals of the first schema ------------------------------------------------------------------------------------


def older_journal(path) -> bytes:
    """A journal as schema 1 wrote it, whose large changes were lines without a sign that they belong together."""
    bodies = (
        b'{"schema":1,"token":"0123456789abcdef"}',
        b'[[1,"elbow_l",1.5,2.5,2.0,"hand","JS"],[1,"wrist_l",null,null,null,"hand","JS"]]',
        b'[[2,"elbow_l",3.0,4.0,1.0,"tracked",""]]',
        b'[[1,"wrist_l"]]',
    )
    whole = b"".join(b"%08x %s\n" % (zlib.crc32(body), body) for body in bodies)
    path.with_suffix(".journal").write_bytes(whole)
    return whole


def test_a_journal_of_the_first_schema_is_read_and_folded_in(path):
    older_journal(path)
    with MarkStore(path, TIMES) as store:
        assert set(content(store)) == {(1, "elbow_l"), (2, "elbow_l")}
        assert store.at(1)["elbow_l"].by == "JS" and store.at(2)["elbow_l"].origin == Origin.tracked
        assert path.exists() and not path.with_suffix(".journal").exists()


def test_a_journal_of_the_first_schema_that_appears_while_open_is_not_written_on(path):
    with MarkStore(path, TIMES) as store:
        older_journal(path)
        store.put(3, "elbow_l", 1.0, 1.0)
        head = path.with_suffix(".journal").read_bytes().splitlines()[0]
        assert b'"schema":%d' % journal_module.SCHEMA in head
        assert set(content(MarkStore(path, TIMES))) == {(1, "elbow_l"), (2, "elbow_l"), (3, "elbow_l")}


def test_a_torn_journal_of_the_first_schema_keeps_its_good_lines(path):
    whole = older_journal(path)
    path.with_suffix(".journal").write_bytes(whole[:-5])
    assert set(content(MarkStore(path, TIMES))) == {(1, "elbow_l"), (1, "wrist_l"), (2, "elbow_l")}


def test_a_long_clip_is_confirmed_in_one_change(path):
    times = np.arange(3000) / 60
    with MarkStore(path, times) as store:
        store.put_marks(some(POINTS[:10], range(3000), Origin.drafted))
        assert store.confirm(POINTS, range(3000)) == 30_000
        assert content(MarkStore(path, times)) == content(store)
        assert store.undo() and {m.origin for m in content(store).values()} == {Origin.drafted}
