"""One row of a list of students: its cells to what a student's form asks, or what is wrong."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from routines.engine import instruments
from routines.engine.catalogue import Sentence, gettext_noop
from routines.engine.roster_words import NO, SHORT_NAMES, WEEKDAYS, YES, Column, plain

LONGEST_NAME = 80


@dataclass(slots=True, kw_only=True)
class Row:
    """One student as the list has it, by the names of the form; `problems` say what is wrong.

    `said` holds the cells as they were written.
    """

    number: int
    name: str = ""
    instrument: str = ""
    lesson_day: int | None = None
    group: str = ""
    consent_on: date | None = None
    parent_email: str = ""
    said: Mapping[Column, str] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)


def read_row(
    number: int,
    cells: Sequence[str],
    columns: Sequence[Column | None],
    today: date,
    instrument: str,
) -> Row:
    """Read a row whose cells stand in the order of the columns; problems are kept, not raised."""
    said = {
        column: cell for column, cell in zip(columns, cells, strict=False) if column is not None
    }
    row = Row(number=number, name=_unmarked(said.get(Column.NAME, "")), said=said)
    row.group = _unmarked(said.get(Column.GROUP, ""))
    row.parent_email = said.get(Column.EMAIL, "")
    if not row.name:
        row.problems.append(Sentence(gettext_noop("Row %(row)s: no name."), row=number))
    if len(row.name) > LONGEST_NAME:
        row.problems.append(
            Sentence(gettext_noop("Row %(row)s: the name has over 80 letters."), row=number)
        )
    if any(cells[len(columns) :]):
        row.problems.append(
            Sentence(
                gettext_noop("Row %(row)s: more cells than headings. Is a divider in a name?"),
                row=number,
            )
        )
    _read_instrument(row, said.get(Column.INSTRUMENT, ""), instrument)
    _read_day(row, said.get(Column.LESSON_DAY, ""))
    _read_consent(row, said.get(Column.CONSENT, ""), today)
    _check_email(row)
    return row


def _unmarked(cell: str) -> str:
    """Take off the apostrophe that keeps a spreadsheet from running a cell."""
    return cell[1:] if cell.startswith("'") and len(cell) > 1 else cell


def _read_instrument(row: Row, said: str, usual: str) -> None:
    if not said:
        row.instrument = usual
        if not usual:
            row.problems.append(
                Sentence(gettext_noop("Row %(row)s: no instrument."), row=row.number)
            )
        return
    meant = plain(said.replace("♭", " flat ").replace("♯", " sharp "))
    for player in instruments.INSTRUMENTS:
        if meant in {plain(player.id), plain(player.name), plain(player.name_uk)}:
            row.instrument = player.id
            return
    if meant in SHORT_NAMES:
        row.instrument = SHORT_NAMES[meant]
        return
    row.problems.append(
        Sentence(
            gettext_noop(
                "Row %(row)s: instrument “%(said)s” is not known here. Write it as in the list of "
                "instruments, such as trumpet, horn or euphonium."
            ),
            row=row.number,
            said=said,
        )
    )


def _read_day(row: Row, said: str) -> None:
    if not said:
        return
    meant = plain(said)
    for number, words in enumerate(WEEKDAYS):
        if meant in words or meant.rstrip("s") in words:
            row.lesson_day = number
            return
    row.problems.append(
        Sentence(
            gettext_noop("Row %(row)s: lesson day “%(said)s”: write a weekday, such as Tuesday."),
            row=row.number,
            said=said,
        )
    )


def _read_consent(row: Row, said: str, today: date) -> None:
    meant = plain(said)
    if not meant or meant in NO:
        return
    if meant in YES:
        row.consent_on = today
        return
    day = _day(said)
    if day is None:
        row.problems.append(
            Sentence(
                gettext_noop(
                    "Row %(row)s: parent’s OK “%(said)s”: write yes, no, or a day such as "
                    "2026-03-31."
                ),
                row=row.number,
                said=said,
            )
        )
    elif day > today:
        row.problems.append(
            Sentence(
                gettext_noop("Row %(row)s: parent’s OK on %(day)s is still to come."),
                row=row.number,
                day=day,
            )
        )
    else:
        row.consent_on = day


def _day(said: str) -> date | None:
    """Read a day that can be read in one way only: 2026-03-31, 31.3.2026, 31/3/2026."""
    found = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", said)
    if found:
        return _date(*map(int, found.groups()))
    found = re.fullmatch(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})", said)
    if found:
        day, month, year = map(int, found.groups())
        return _date(year, month, day)
    found = re.fullmatch(r"(\d{1,2})/(\d{1,2})/(\d{4})", said)
    if found:
        one, other, year = map(int, found.groups())
        both = {_date(year, other, one), _date(year, one, other)} - {None}
        return both.pop() if len(both) == 1 else None
    return None


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _check_email(row: Row) -> None:
    given = row.parent_email
    if given and not re.fullmatch(r"[^@\s,;<>\"]{1,64}@[^@\s,;<>\"]+\.[^@\s,;<>\".]+", given):
        row.problems.append(
            Sentence(
                gettext_noop("Row %(row)s: parent e-mail “%(given)s” is no address."),
                row=row.number,
                given=given,
            )
        )
