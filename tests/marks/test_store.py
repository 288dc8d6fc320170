"""The mark store: rank, undo, two writers, older and damaged files."""

from __future__ import annotations

import shutil
import tempfile
import warnings
from pathlib import Path

import numpy as np
import pytest
from filelock import FileLock
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from casebook.errors import MarksError
from casebook.marks import lock as lock_module
from casebook.marks.csvfile import read_marks, read_signed, write_marks
from casebook.marks.journal import SCHEMA, Journal
from casebook.marks.marks import Marks, Origin
from casebook.marks.points import POINTS
from casebook.marks.store import MarkStore

TIMES = np.arange(50) / 25


@pytest.fixture
def path(tmp_path):
    return tmp_path / "marks" / "front.csv"


def facts(marks: Marks) -> dict:
    """Every mark as {(frame, point): (x, y, sigma, origin, hidden)}, NaN as None."""
    out = {}
    for i, j in zip(*np.nonzero(marks.origin > 0), strict=True):
        numbers = (*marks.xy[i, j].tolist(), float(marks.sigma_px[i, j]))
        values = tuple(None if v != v else v for v in numbers)
        out[int(marks.frames[i]), marks.points[j]] = (*values, int(marks.origin[i, j]), bool(marks.hidden[i, j]))
    return out


def test_a_mark_is_on_disk_when_put_returns_and_in_the_csv_after_closing(path):
    store = MarkStore(path, TIMES, by="JS")
    assert store.put(3, "elbow_l", 10.5, 20.25)
    assert facts(MarkStore(path, TIMES).marks) == {(3, "elbow_l"): (10.5, 20.25, 2.0, 4, False)}
    store.close()
    marks, by = read_signed(path, TIMES)
    assert facts(marks) == {(3, "elbow_l"): (10.5, 20.25, 2.0, 4, False)}
    assert by.tolist() == [["JS"]]
    assert not path.with_suffix(".journal").exists()


def test_a_new_store_is_empty_and_reading_it_makes_no_file(path):
    store = MarkStore(path, TIMES)
    assert store.marks.n_marked == 0 and store.at(3) == {}
    assert repr(store) == "MarkStore(front: 0 marks)"
    store.close()
    assert not path.parent.exists()


@pytest.mark.parametrize("standing", [o for o in Origin if o])
@pytest.mark.parametrize("coming", [o for o in Origin if o])
@pytest.mark.parametrize("hidden", [False, True])
def test_a_lower_rank_never_overwrites_a_higher_one(path, standing, coming, hidden):
    with MarkStore(path, TIMES) as store:
        if hidden:
            store.hide(3, "elbow_l", origin=standing)
        else:
            store.put(3, "elbow_l", 1.0, 2.0, origin=standing)
        taken = store.put(3, "elbow_l", 8.0, 9.0, origin=coming)
        assert taken == (coming >= standing)
        assert store.at(3)["elbow_l"].origin == max(coming, standing)
        assert store.at(3)["elbow_l"].hidden == (hidden and not taken)


def test_many_marks_at_once_respect_rank_and_are_one_change(path):
    with MarkStore(path, TIMES, by="JS") as store:
        store.put(3, "elbow_l", 1.0, 2.0)
        store.put(4, "elbow_l", 1.0, 2.0, origin=Origin.drafted)
        before = facts(store.marks)
        track = Marks.from_arrays(
            ("elbow_l", "wrist_l"), [3, 4, 5], np.arange(12.0).reshape(3, 2, 2), 3.0, Origin.tracked
        )
        assert store.put_marks(track, by="") == 5
        assert store.marks.at(3) == {"elbow_l": (1.0, 2.0), "wrist_l": (2.0, 3.0)}
        assert store.marks.at(4) == {"elbow_l": (4.0, 5.0), "wrist_l": (6.0, 7.0)}
        assert store.at(3)["elbow_l"].by == "JS" and store.at(4)["elbow_l"].by == ""
        assert store.undo()
        assert facts(store.marks) == before


def test_unmarked_points_of_many_erase_nothing(path):
    with MarkStore(path, TIMES) as store:
        store.put(3, "elbow_l", 1.0, 2.0, origin=Origin.drafted)
        assert store.put_marks(Marks.empty(("elbow_l",), [3, 4])) == 0
        assert store.marks.at(3) == {"elbow_l": (1.0, 2.0)}


def test_erasing_and_undoing_bring_back_what_stood_there(path):
    with MarkStore(path, TIMES) as store:
        assert not store.erase(3, "elbow_l") and not store.undo() and not store.redo()
        store.put(3, "elbow_l", 1.0, 2.0, origin=Origin.tracked)
        store.put(3, "elbow_l", 5.0, 6.0)
        store.erase(3, "elbow_l")
        assert store.marks.at(3) == {}
        seen = []
        while store.undo():
            seen.append(store.at(3).get("elbow_l"))
        assert [m and (m.x_px, m.origin) for m in seen] == [(5.0, Origin.hand), (1.0, Origin.tracked), None]
        while store.redo():
            pass
        assert store.marks.at(3) == {} and not store.can_redo


def test_undo_has_no_limit(path):
    with MarkStore(path, TIMES) as store:
        for i in range(400):
            store.put(i % 50, "elbow_l", float(i), 0.0)
        undone = 0
        while store.undo():
            undone += 1
        assert undone == 400
        assert store.marks.n_marked == 0


def test_a_new_change_ends_what_could_be_redone(path):
    with MarkStore(path, TIMES) as store:
        store.put(1, "elbow_l", 1.0, 1.0)
        store.undo()
        store.put(2, "elbow_l", 1.0, 1.0)
        assert not store.redo()
        assert list(facts(store.marks)) == [(2, "elbow_l")]


def test_putting_the_same_again_is_no_change(path):
    with MarkStore(path, TIMES) as store:
        assert store.put(1, "elbow_l", 1.0, 1.0) and store.put(1, "elbow_l", 1.0, 1.0)
        assert store.undo() and not store.can_undo


def test_listeners_hear_the_frames_that_changed(path):
    heard = []
    with MarkStore(path, TIMES, on_change=heard.append) as store:
        store.put(3, "elbow_l", 1.0, 2.0)
        store.put(3, "elbow_l", 9.0, 9.0, origin=Origin.drafted)
        store.hide(4, "elbow_l")
        store.undo()
        MarkStore(path, TIMES).put(9, "ear_r", 1.0, 1.0)
        store.put(5, "elbow_l", 1.0, 2.0)
    assert heard == [(3,), (4,), (4,), (5, 9)]


def test_marks_once_read_do_not_change_under_the_reader(path):
    with MarkStore(path, TIMES) as store:
        store.put(3, "elbow_l", 1.0, 2.0)
        marks = store.marks
        store.put(3, "elbow_l", 5.0, 6.0)
        assert marks.at(3) == {"elbow_l": (1.0, 2.0)}
        with pytest.raises(ValueError, match="read-only"):
            marks.xy[0, 0] = 7.0


@pytest.mark.parametrize(
    "act",
    [
        lambda s: s.put(50, "elbow_l", 1.0, 2.0),
        lambda s: s.put(-1, "elbow_l", 1.0, 2.0),
        lambda s: s.put(3, "elbow", 1.0, 2.0),
        lambda s: s.put(3, "elbow_l", float("nan"), 2.0),
        lambda s: s.put(3, "elbow_l", 1.0, float("inf")),
        lambda s: s.put(3, "elbow_l", 1.0, 2.0, sigma_px=-1.0),
        lambda s: s.put(3, "elbow_l", 1.0, 2.0, origin=Origin.unmarked),
        lambda s: s.hide(3, "elbow_l", origin=Origin.unmarked),
        lambda s: s.erase(3, "elbow"),
        lambda s: s.put_marks(Marks.from_arrays(("elbow_l",), [77], np.ones((1, 1, 2)))),
    ],
)
def test_a_change_that_makes_no_sense_is_refused_and_changes_nothing(path, act):
    with MarkStore(path, TIMES) as store:
        store.put(1, "ear_l", 1.0, 1.0)
        before = facts(store.marks), path.with_suffix(".journal").read_bytes()
        with pytest.raises(MarksError):
            act(store)
        assert (facts(store.marks), path.with_suffix(".journal").read_bytes()) == before


def test_initials_changed_to_what_no_table_holds_are_refused_at_once(path):
    with MarkStore(path, TIMES) as store:
        store.by = "J\nS"
        with pytest.raises(MarksError, match="Initials"):
            store.put(1, "ear_l", 1.0, 1.0)
        store.by = "JS"
        assert store.put(1, "ear_l", 1.0, 1.0)


def test_a_closed_store_takes_no_marks_and_says_so(path):
    store = MarkStore(path, TIMES)
    store.put(1, "ear_l", 1.0, 1.0)
    store.close()
    store.close()
    with pytest.raises(MarksError, match="were closed"):
        store.put(1, "ear_l", 2.0, 2.0)
    assert store.marks.at(1) == {"ear_l": (1.0, 1.0)}


# ---- two writers -----------------------------------------------------------------------------------------------------


def test_two_open_stores_keep_each_others_marks(path):
    one, two = MarkStore(path, TIMES, by="JS"), MarkStore(path, TIMES, by="MK")
    one.put(1, "elbow_l", 1.0, 1.0)
    two.put(2, "elbow_l", 2.0, 2.0)
    assert two.marks.at(1) == {"elbow_l": (1.0, 1.0)}
    assert one.marks.at(2) == {}
    assert one.refresh() == (2,)
    assert not two.put(1, "elbow_l", 9.0, 9.0, origin=Origin.tracked)
    one.close()
    two.put(3, "elbow_l", 3.0, 3.0)
    two.close()
    marks, by = read_signed(path, TIMES)
    assert marks.xy[:, 0, 0].tolist() == [1.0, 2.0, 3.0]
    assert by[:, 0].tolist() == ["JS", "MK", "MK"]


def test_undo_leaves_what_someone_else_set_over_it(path):
    one, two = MarkStore(path, TIMES), MarkStore(path, TIMES)
    one.put(1, "elbow_l", 1.0, 1.0)
    one.put(2, "elbow_l", 1.0, 1.0)
    two.put(2, "elbow_l", 2.0, 2.0)
    assert one.undo()
    assert facts(one.marks) == {(2, "elbow_l"): (2.0, 2.0, 2.0, 4, False)}
    assert not one.undo()


def test_a_store_follows_a_csv_replaced_by_another_program(path):
    store = MarkStore(path, TIMES, by="JS")
    store.put(1, "elbow_l", 1.0, 1.0)
    store.close()
    store = MarkStore(path, TIMES)
    write_marks(path, Marks.from_arrays(("ear_r",), [7], np.full((1, 1, 2), 7.0)), TIMES, "MK")
    assert store.refresh() == (1, 7)
    assert facts(store.marks) == {(7, "ear_r"): (7.0, 7.0, 2.0, 4, False)}


def test_a_csv_broken_while_open_stops_the_write_and_loses_nothing(path):
    store = MarkStore(path, TIMES)
    store.put(1, "elbow_l", 1.0, 1.0)
    store.close()
    store = MarkStore(path, TIMES)
    good = path.read_text()
    path.write_text(good.replace("hand", "hnad"))
    with pytest.raises(MarksError, match="line 3, column origin"):
        store.put(2, "elbow_l", 2.0, 2.0)
    path.write_text(good)
    assert store.put(2, "elbow_l", 2.0, 2.0)
    assert len(facts(MarkStore(path, TIMES).marks)) == 2


def test_a_lock_that_stays_taken_is_said_in_a_sentence(path, monkeypatch):
    monkeypatch.setattr(lock_module, "LOCK_TIMEOUT_S", 0.1)
    store = MarkStore(path, TIMES)
    path.parent.mkdir()
    with FileLock(path.with_suffix(".lock")), pytest.raises(MarksError, match="Another program has been writing"):
        store.put(1, "elbow_l", 1.0, 1.0)
    assert store.put(1, "elbow_l", 1.0, 1.0)


# ---- crashes ---------------------------------------------------------------------------------------------------------


def session(path):
    """Some changes of every kind, left as a crash leaves them; the state after each."""
    store = MarkStore(path, TIMES, by="JS")
    states = [facts(store.marks)]
    for act in (
        lambda: store.put(1, "elbow_l", 1.5, 1.0),
        lambda: store.hide(1, "wrist_l"),
        lambda: store.put_marks(Marks.from_arrays(("ear_l", "ear_r"), [1, 2], np.ones((2, 2, 2)), 3.0, Origin.drafted)),
        lambda: store.put(1, "ear_l", 4.0, 4.0),
        store.undo,
        store.undo,
        store.redo,
        lambda: store.erase(1, "elbow_l"),
        lambda: store.put(1, "elbow_l", 7.0, 7.0),
    ):
        act()
        states.append(facts(store.marks))
    return states


def test_a_journal_cut_at_any_byte_keeps_every_change_before_the_cut(path):
    states = session(path)
    journal = path.with_suffix(".journal")
    whole = journal.read_bytes()
    ends = [i + 1 for i, byte in enumerate(whole) if byte == 10]
    assert len(ends) == len(states)
    for cut in range(len(whole) + 1):
        journal.write_bytes(whole[:cut])
        path.unlink(missing_ok=True)
        store = MarkStore(path, TIMES)
        lines = sum(end <= cut for end in ends)
        assert facts(store.marks) == states[max(lines - 1, 0)], cut
        assert not journal.exists()
    store.put(9, "ear_l", 1.0, 1.0)
    assert (9, "ear_l") in facts(MarkStore(path, TIMES).marks)


def test_writing_goes_on_after_a_torn_tail(path):
    store = MarkStore(path, TIMES)
    store.put(1, "elbow_l", 1.0, 1.0)
    other = MarkStore(path, TIMES)
    other.put(2, "elbow_l", 2.0, 2.0)
    store.refresh()
    with path.with_suffix(".journal").open("ab") as stream:
        stream.write(b'1234abcd [[3,"elbow_l",3.0')
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        store.put(4, "elbow_l", 4.0, 4.0)
        assert sorted(f for f, _ in facts(MarkStore(path, TIMES).marks)) == [1, 2, 4]


def test_a_damaged_line_between_good_ones_is_left_out_told_and_kept(path):
    session(path)
    journal = path.with_suffix(".journal")
    lines = journal.read_bytes().splitlines(keepends=True)
    lines[1] = lines[1].replace(b"1.5", b"9.5")
    journal.write_bytes(b"".join(lines))
    damaged = journal.read_bytes()
    with pytest.warns(UserWarning, match=r'damaged and left out.*"front\.journal\.damaged"'):
        store = MarkStore(path, TIMES)
    assert store.at(1)["elbow_l"].x_px == 7.0 and store.at(1)["wrist_l"].hidden
    assert path.with_name("front.journal.damaged").read_bytes() == damaged


def test_a_damaged_first_line_loses_no_change(path):
    states = session(path)
    journal = path.with_suffix(".journal")
    journal.write_bytes(b"?" + journal.read_bytes()[1:])
    with pytest.warns(UserWarning, match="damaged"):
        assert facts(MarkStore(path, TIMES).marks) == states[-1]
    assert facts(read_marks(path, TIMES)) == states[-1]


def test_a_crash_between_folding_in_and_removing_the_journal_changes_nothing(path, monkeypatch):
    states = session(path)
    with monkeypatch.context() as patch:
        patch.setattr(Journal, "remove", lambda self: (_ for _ in ()).throw(KeyboardInterrupt))
        with pytest.raises(KeyboardInterrupt):
            MarkStore(path, TIMES)
    assert path.exists() and path.with_suffix(".journal").exists()
    assert facts(read_marks(path, TIMES)) == states[-1]
    assert facts(MarkStore(path, TIMES).marks) == states[-1]
    assert not path.with_suffix(".journal").exists()


def test_a_full_disk_while_folding_in_leaves_the_journal(path, monkeypatch):
    states = session(path)

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("casebook.marks.table.write_atomic", full)
        with pytest.raises(MarksError, match="No space left"):
            MarkStore(path, TIMES)
    assert facts(MarkStore(path, TIMES).marks) == states[-1]


def test_leftovers_of_a_crashed_save_are_cleared(path):
    session(path)
    leftover = path.with_name(".front.csv.abc123.part")
    leftover.write_text("half")
    MarkStore(path, TIMES)
    assert not leftover.exists()


def test_a_newer_journal_is_refused_and_stays(path):
    import json
    import zlib

    body = json.dumps({"schema": SCHEMA + 1, "token": "x"}).encode()
    path.parent.mkdir()
    journal = path.with_suffix(".journal")
    journal.write_bytes(b"%08x %s\n" % (zlib.crc32(body), body))
    before = journal.read_bytes()
    with pytest.raises(MarksError, match="newer casebook"):
        MarkStore(path, TIMES)
    assert journal.read_bytes() == before


def test_a_journal_of_another_clip_is_refused_and_stays(path):
    session(path)
    with pytest.raises(MarksError, match="frame 2, which this clip does not have"):
        MarkStore(path, TIMES[:2])
    assert path.with_suffix(".journal").exists() and not path.exists()


def test_an_older_csv_is_kept_when_the_store_first_rewrites_it(path):
    path.parent.mkdir()
    older = "frame,time_s,point,x_px,y_px,sigma_px,origin,by\n1,0.04,elbow_l,1.0,2.0,2.0,hand,JS\n"
    path.write_text(older)
    with MarkStore(path, TIMES) as store:
        assert store.marks.n_marked == 1
    assert path.read_text() == older
    with MarkStore(path, TIMES) as store:
        store.put(2, "elbow_l", 1.0, 1.0)
    assert path.read_text().startswith("# schema = 1\n")
    assert path.with_name("front.csv.schema0").read_text() == older


def test_a_read_only_folder_can_still_be_read(path, monkeypatch):
    states = session(path)

    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(FileLock, "acquire", refused)
    store = MarkStore(path, TIMES)
    assert facts(store.marks) == states[-1]
    with pytest.raises(MarksError, match="cannot be saved beside"):
        store.put(3, "elbow_l", 1.0, 1.0)
    store.close()
    assert facts(MarkStore(path, TIMES).marks) == states[-1]


def test_damage_met_in_the_middle_of_a_session_is_kept_before_writing_on(path):
    store = MarkStore(path, TIMES)
    store.put(1, "elbow_l", 1.0, 1.0)
    journal = path.with_suffix(".journal")
    with journal.open("ab") as stream:
        stream.write(b"rubbish\n")
    lines = journal.read_bytes()
    other = MarkStore(path.with_name("other.csv"), TIMES)
    other.put(2, "elbow_l", 2.0, 2.0)
    journal.write_bytes(lines + path.with_name("other.journal").read_bytes().splitlines(keepends=True)[1])
    with pytest.warns(UserWarning, match="damaged"):
        store.put(3, "elbow_l", 3.0, 3.0)
    assert [f for f, _ in facts(MarkStore(path, TIMES).marks)] == [1, 2, 3]


# ---- any order of changes --------------------------------------------------------------------------------------------

frames, names = st.integers(0, 3), st.sampled_from(("elbow_l", "wrist_l"))
origins = st.sampled_from([o for o in Origin if o])
numbers = st.floats(-1e4, 1e4, width=32)


class TwoWriters(RuleBasedStateMachine):
    """Two stores of one shot, changed in any order, against a plain dictionary; they never lose or mix marks."""

    @initialize()
    def begin(self):
        self.folder = tempfile.mkdtemp()
        self.path = Path(self.folder) / "front.csv"
        self.stores = [MarkStore(self.path, TIMES, by=b) for b in ("JS", "MK")]
        self.model: dict = {}

    def teardown(self):
        if hasattr(self, "folder"):
            shutil.rmtree(self.folder)

    def expect(self, key, value):
        old = self.model.get(key)
        if old is None or value[3] >= old[3]:
            self.model[key] = value

    @rule(who=st.integers(0, 1), frame=frames, name=names, x=numbers, y=numbers, origin=origins)
    def put(self, who, frame, name, x, y, origin):
        self.stores[who].put(frame, name, x, y, 1.5, origin)
        self.expect((frame, name), (x, y, 1.5, int(origin), False))

    @rule(who=st.integers(0, 1), frame=frames, name=names, origin=origins)
    def hide(self, who, frame, name, origin):
        self.stores[who].hide(frame, name, origin)
        self.expect((frame, name), (None, None, None, int(origin), True))

    @rule(who=st.integers(0, 1), frame=frames, name=names)
    def erase(self, who, frame, name):
        assert self.stores[who].erase(frame, name) == ((frame, name) in self.model)
        self.model.pop((frame, name), None)

    @rule(who=st.integers(0, 1), x=numbers, origin=origins)
    def put_many(self, who, x, origin):
        marks = Marks.from_arrays(("elbow_l", "wrist_l"), [0, 2], np.full((2, 2, 2), x), 1.0, origin)
        self.stores[who].put_marks(marks)
        for frame in (0, 2):
            for name in marks.points:
                self.expect((frame, name), (x, x, 1.0, int(origin), False))

    @rule(who=st.integers(0, 1), origin=st.sampled_from([Origin.drafted, Origin.tracked]))
    def drop(self, who, origin):
        due = [key for key, value in self.model.items() if key[0] != 1 and value[3] == origin]
        assert self.stores[who].drop(("elbow_l", "wrist_l"), (0, 2, 3), [origin]) == len(due)
        for key in due:
            self.model.pop(key)

    @rule(who=st.integers(0, 1), name=names)
    def confirm(self, who, name):
        due = [key for key, value in self.model.items() if key[1] == name and value[3] < Origin.confirmed]
        assert self.stores[who].confirm([name], range(4)) == len(due)
        for key in due:
            self.model[key] = (*self.model[key][:3], int(Origin.confirmed), self.model[key][4])

    @rule(who=st.integers(0, 1))
    def undo_and_redo_is_no_change(self, who):
        if self.stores[who].undo():
            self.stores[who].redo()

    @rule(who=st.integers(0, 1))
    def close_and_open(self, who):
        self.stores[who].close()
        self.stores[who] = MarkStore(self.path, TIMES)

    @rule(who=st.integers(0, 1))
    def crash_and_open(self, who):
        self.stores[who] = MarkStore(self.path, TIMES)

    @invariant()
    def both_see_the_same(self):
        if hasattr(self, "stores"):
            for store in self.stores:
                store.refresh()
                assert facts(store.marks) == self.model


TestTwoWriters = TwoWriters.TestCase
TestTwoWriters.settings = settings(max_examples=40, stateful_step_count=25, deadline=None)


# ---- cost ------------------------------------------------------------------------------------------------------------


def test_a_mark_adds_one_short_line_and_rewrites_nothing(path):
    with MarkStore(path, TIMES) as store:
        store.put_marks(Marks.from_arrays(POINTS, np.arange(50), np.ones((50, 27, 2)), origin=Origin.tracked))
    with MarkStore(path, TIMES, by="JS") as store:
        csv = path.read_bytes()
        sizes = []
        for i in range(20):
            store.put(10 + i, "elbow_l", 1.0, 2.0)
            sizes.append(path.with_suffix(".journal").stat().st_size)
        assert set(np.diff(sizes)) == {sizes[1] - sizes[0]} and sizes[1] - sizes[0] < 80
        assert path.read_bytes() == csv
