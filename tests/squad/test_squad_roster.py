"""The roster is read first and closed where it is silent."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from squad_maker import DAY, member, squad_of

from casebook.errors import SquadError
from casebook.squad.checking import check_text, warnings
from casebook.squad.printing import write_film_list, write_slates
from casebook.squad.roster import COLUMNS, FILE, Roster, looks_like_a_name, read_roster, write_roster
from casebook.squad.squad import Squad, new_squad


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"do_not_film": True}, "on the do-not-film list"),
        ({"do_not_film": None}, "do_not_film is not filled in"),
        ({"consent": None}, "not asked yet"),
        ({"consent": False}, "has not agreed"),
        ({"until": DAY - timedelta(days=1)}, "ran out on 2026-05-01"),
        ({"minor": True}, "no guardian has agreed"),
        ({"minor": None}, "whether a minor is not filled in"),
        ({"minor": True, "guardian": True, "until": None}, "needs a last day"),
    ],
)
def test_whoever_has_not_clearly_agreed_is_not_filmed(changes, why):
    assert why in member(3, **changes).why_not(DAY)


@pytest.mark.parametrize("changes", [{}, {"until": DAY}, {"until": None}, {"minor": True, "guardian": True}])
def test_whoever_has_agreed_may_be_filmed_up_to_the_last_day(changes):
    assert member(3, **changes).may_be_filmed(DAY)


def test_do_not_film_outranks_every_consent():
    assert not member(3, do_not_film=True, minor=True, guardian=True).may_be_filmed(DAY)


def test_every_member_is_either_filmable_or_not_and_the_list_has_the_do_not_film_first():
    roster = Roster((member(1), member(2, consent=None), member(3, do_not_film=True), member(4)))
    assert [m.number for m in roster.filmable(DAY)] == [1, 4]
    assert [m.number for m in roster.not_to_film(DAY)] == [3, 2]


def test_a_roster_written_reads_back_the_same_with_its_remarks(tmp_path):
    roster = Roster(
        (member(1), member(2, minor=True, guardian=True), member(99, consent=None, until=None, sharing=None))
    )
    write_roster(tmp_path, roster)
    assert read_roster(tmp_path) == roster
    assert (tmp_path / FILE).read_text("utf-8").startswith("# One line for each swimmer")


def test_what_a_spreadsheet_makes_of_the_file_is_read(tmp_path):
    write_roster(tmp_path, Roster((member(1), member(2))))
    lines = (tmp_path / FILE).read_text("utf-8").splitlines()
    (tmp_path / FILE).write_bytes(
        b"\xef\xbb\xbf" + "\r\n".join(line.replace(",", ";") + ";;" for line in lines).encode("utf-8") + b"\r\n;;;\r\n"
    )
    assert [m.number for m in read_roster(tmp_path).members] == [1, 2]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("1,a,learner,maybe", "line 2: consent"),
        ("0,a,learner,yes", "no slate for number 0"),
        ("x,a,learner,yes", "not a whole number"),
        ("1,a,wizard,yes", "level"),
        ("1,a,learner,yes,31.12.2027", "not a day"),
        ("1,a,learner,yes\n1,b,learner,yes", "stands there twice"),
        ('1,"a,learner,yes', "quotes"),
    ],
)
def test_a_cell_that_cannot_be_read_is_named_by_its_line(tmp_path, line, told):
    (tmp_path / FILE).write_text(f"{','.join(COLUMNS)}\n{line}\n", "utf-8")
    with pytest.raises(SquadError, match=told):
        read_roster(tmp_path)


@pytest.mark.parametrize("cell", ["=cmd|' /C calc'!A0", "+1", "-2", "@x", "\tx", "'already", "#1", "=1+1"])
def test_no_cell_is_a_formula_to_a_spreadsheet_and_each_reads_back(tmp_path, cell):
    write_roster(tmp_path, Roster((member(1, alias="a", lane=cell.strip()),)))
    row = (tmp_path / FILE).read_text("utf-8").splitlines()[-1]
    assert not any(c.lstrip('"').startswith(("=", "+", "-", "@")) for c in row.split(","))
    assert read_roster(tmp_path).members[0].lane == cell.strip()


@pytest.mark.parametrize(
    ("alias", "name"),
    [
        ("Anna Schmidt", True),
        ("Anna-Lena_Maier", True),
        ("Éva Ősz", True),
        ("heron", False),
        ("Heron", False),
        ("K2", False),
    ],
)
def test_an_alias_like_a_full_name_is_warned_of(alias, name):
    assert looks_like_a_name(alias) is name
    assert any("looks like a real name" in w for w in warnings(Roster((member(1, alias),)), DAY)) is name


def test_the_warning_of_a_name_does_not_repeat_the_name():
    assert "Schmidt" not in "\n".join(warnings(Roster((member(1, "Anna Schmidt"),)), DAY))


def test_a_consent_that_ends_soon_or_never_is_spoken_of():
    roster = Roster((member(1, until=DAY + timedelta(days=9)), member(2, until=None), member(3)))
    told = "\n".join(warnings(roster, DAY))
    assert "1 bird1: the consent ends on 2026-05-11" in told and "2 bird2: the consent has no last day" in told
    assert "bird3" not in told


def test_the_check_puts_the_closed_before_the_free_and_ends_with_who_guards_the_water():
    told = check_text(Roster((member(1), member(2, do_not_film=True))), DAY)
    assert told.index("DO NOT FILM") < told.index("2 bird2") < told.index("May be filmed") < told.index("1 bird1")
    assert "second adult" in told and "Local safeguarding rules come first" in told


def test_a_new_folder_holds_a_roster_and_settings_and_is_never_overwritten(tmp_path):
    new_squad(tmp_path / "s")
    assert Squad.open(tmp_path / "s").roster.members == ()
    with pytest.raises(SquadError, match="already holds"):
        new_squad(tmp_path / "s")


def test_a_consent_that_has_run_out_since_the_filming_no_longer_counts(tmp_path):
    yesterday, last_week = (date.today() - timedelta(days=n) for n in (1, 7))
    settings = {"date": last_week.isoformat(), "invented": False}
    squad = squad_of(tmp_path / "s", member(1, until=yesterday), member(2, until=date.today()), **settings)
    assert [m.number for m in squad.filmable] == [2] and not squad.may_be_filmed(1)
    assert squad_of(tmp_path / "t", member(1, until=yesterday), **(settings | {"invented": True})).may_be_filmed(1)


def test_the_film_list_names_the_closed_before_all_else(tmp_path):
    squad = squad_of(tmp_path / "s", member(1, "wren"), member(2, "owl", do_not_film=True))
    page = write_film_list(squad).read_text("utf-8")
    assert page.index("<h1>Do not film</h1>") < page.index("owl") < page.index("wren")


def test_only_those_who_may_be_filmed_get_a_slate(tmp_path):
    squad = squad_of(tmp_path / "s", member(1), member(2, do_not_film=True), member(3))
    page = write_slates(squad).read_text("utf-8")
    assert [n for n in (1, 2, 3) if f'aria-label="Slate {n}"' in page] == [1, 3]
    assert "bird1" not in page and "bird1" in write_slates(squad, alias=True).read_text("utf-8")
