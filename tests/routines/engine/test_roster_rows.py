"""Rows of a list of students: what a cell is taken for, and what is said of one that is wrong."""

from datetime import date

import pytest

from routines.engine.roster import read
from routines.engine.roster_words import Column

TODAY = date(2026, 3, 31)
HEADING = "name,instrument,day,group,consent,email"


def row(line: str, instrument: str = ""):
    (one,) = read(f"{HEADING}\n{line}".encode(), today=TODAY, instrument=instrument).rows
    return one


def test_every_cell_of_a_row_is_read_where_it_belongs():
    one = row("Nor,horn,Tuesday,Juniors,2026-01-10,mother@example.org")

    assert (one.number, one.name, one.instrument) == (2, "Nor", "horn_f")
    assert (one.lesson_day, one.group, one.consent_on) == (1, "Juniors", date(2026, 1, 10))
    assert (one.parent_email, one.problems) == ("mother@example.org", [])


def test_a_column_nobody_asks_for_is_left_aside():
    (one,) = read(b"name,shoe size,instrument\nNor,38,horn", today=TODAY).rows

    assert one.said == {Column.NAME: "Nor", Column.INSTRUMENT: "horn"}
    assert one.problems == []


def test_what_is_left_out_is_empty():
    one = row("Nor,horn,,,,")

    assert (one.lesson_day, one.group, one.consent_on, one.parent_email) == (None, "", None, "")
    assert one.problems == []


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (",horn", "Row 2: no name."),
        ("N" * 81 + ",horn", "Row 2: the name has over 80 letters."),
        ("Nor,", "Row 2: no instrument."),
        ("Nor,kazoo", "Row 2: instrument “kazoo” is not known here."),
        ("Nor,horn,someday", "Row 2: lesson day “someday”: write a weekday"),
        ("Nor,horn,,,perhaps", "Row 2: parent’s OK “perhaps”: write yes, no, or a day"),
        ("Nor,horn,,,2026-02-30", "Row 2: parent’s OK “2026-02-30”: write yes"),
        ("Nor,horn,,,2026-04-01", "Row 2: parent’s OK on 2026-04-01 is still to come."),
        ("Nor,horn,,,,at home", "Row 2: parent e-mail “at home” is no address."),
        ("Nor,horn,,,,,more", "Row 2: more cells than headings."),
    ],
)
def test_what_is_wrong_with_a_row_is_said_and_is_all_that_is_said(line, words):
    (problem,) = row(line).problems

    assert problem.startswith(words)


@pytest.mark.parametrize("line", ["N" * 80 + ",horn", "Nor,horn,,,,,", "Nor,horn,,,2026-03-31"])
def test_a_row_at_its_limits_is_right(line):
    assert row(line).problems == []


@pytest.mark.parametrize(
    ("written", "name"),
    [("'=1+1", "=1+1"), ("'a", "a"), ("'", "'"), ("O'Neil", "O'Neil"), ("''a", "'a")],
)
def test_the_apostrophe_that_keeps_a_spreadsheet_still_is_taken_off_once(written, name):
    assert row(f"{written},horn").name == name
    assert row(f"Nor,horn,,{written}").group == name


@pytest.mark.parametrize(
    ("written", "instrument"),
    [
        ("trumpet_bb", "trumpet_bb"),
        ("B-flat trumpet", "trumpet_bb"),
        ("B♭ trumpet", "trumpet_bb"),
        ("B flat flugel", "flugelhorn_bb"),
        ("F horn (single)", "horn_f"),
        ("Trumpet", "trumpet_bb"),
    ],
)
def test_an_instrument_goes_by_its_id_its_names_and_in_short(written, instrument):
    assert row(f"Nor,{written}").instrument == instrument


def test_who_names_no_instrument_plays_the_one_of_the_list():
    assert row("Nor,", instrument="tuba_f").instrument == "tuba_f"
    assert row("Nor,", instrument="tuba_f").problems == []


@pytest.mark.parametrize(
    ("written", "day"), [("Monday", 0), ("Mondays", 0), ("fri", 4), ("Sunday", 6), ("SUN", 6)]
)
def test_a_lesson_day_is_a_weekday_in_full_or_in_short(written, day):
    assert row(f"Nor,horn,{written}").lesson_day == day


# ISO 8601 for the first; the others are common practice, read only where one reading is a day.
@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("2026-01-10", date(2026, 1, 10)),
        ("2026-1-9", date(2026, 1, 9)),
        ("31.1.2026", date(2026, 1, 31)),
        ("3. 2.2026", date(2026, 2, 3)),
        ("31/1/2026", date(2026, 1, 31)),
        ("1/31/2026", date(2026, 1, 31)),
        ("2/2/2026", date(2026, 2, 2)),
        ("yes", TODAY),
        ("no", None),
    ],
)
def test_a_parents_ok_is_yes_no_or_a_day(written, day):
    one = row(f"Nor,horn,,,{written}")

    assert (one.consent_on, one.problems) == (day, [])


@pytest.mark.parametrize(
    "written", ["1/2/2026", "31/31/2026", "31.13.2026", "2026-13-01", "1.2.26"]
)
def test_a_day_that_reads_two_ways_or_none_is_asked_about(written):
    one = row(f"Nor,horn,,,{written}")

    assert one.consent_on is None
    assert len(one.problems) == 1


# RFC 5321, 4.5.3.1.1: at most 64 octets before the @.
@pytest.mark.parametrize(
    ("written", "is_right"),
    [
        ("a@b.c", True),
        ("x" * 64 + "@example.org", True),
        ("x" * 65 + "@example.org", False),
        ("@example.org", False),
        ("a@example", False),
        ("a@@example.org", False),
        ("a b@example.org", False),
        ("a@example.org.", False),
    ],
)
def test_a_parents_e_mail_looks_like_one(written, is_right):
    assert (row(f"Nor,horn,,,,{written}").problems == []) is is_right


def test_a_name_that_comes_twice_with_one_instrument_is_pointed_out():
    content = f"{HEADING}\nNor,horn\nTam,horn\nnor,Horn\nNor,trumpet\n,horn\n,horn\nNOR,horn"
    rows = read(content.encode(), today=TODAY).rows

    twice = {
        one.number: problem for one in rows for problem in one.problems if "already" in problem
    }

    assert twice == {
        4: "Row 4: nor is in row 2 already.",
        8: "Row 8: NOR is in row 2 already.",
    }
