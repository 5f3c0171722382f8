"""A list of students from a spreadsheet: bytes to rows, and rows to what a student's form asks.

Conventions: pure Python. A file is text in UTF-8, UTF-16 or one of the older code pages, its cells
divided by commas, semicolons or tabs (RFC 4180). What cannot be read is said with the number of its
row, counted as a spreadsheet does; nothing is guessed in silence.
"""

import csv
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from io import StringIO

from routines.engine import roster_words as words
from routines.engine.catalogue import Sentence, gettext_noop
from routines.engine.roster_rows import Row, read_row
from routines.engine.roster_words import Column

MOST_BYTES = 1_000_000
_EMPTY = Sentence(gettext_noop("This is empty: choose the file with the list, or paste the list."))
MOST_ROWS = 500
MOST_COLUMNS = 50
MOST_CHARACTERS = 200
DIVIDERS = {",": "commas", ";": "semicolons", "\t": "tabs"}


class RosterError(ValueError):
    """A file that is no list of students; the message says what it is and what to do."""


class Letters(StrEnum):
    """How the bytes of a file stand for letters."""

    UTF_8 = "utf-8"
    UTF_16 = "utf-16"
    WESTERN = "cp1252"
    CENTRAL = "cp1250"

    @property
    def words(self) -> str:
        """Name it as a spreadsheet's export does."""
        return {
            Letters.UTF_8: "Unicode (UTF-8)",
            Letters.UTF_16: "Unicode (UTF-16)",
            Letters.WESTERN: gettext_noop("Western European"),
            Letters.CENTRAL: gettext_noop("Central European"),
        }[self]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A list as it was read: which letters, which divider, what each column is taken for."""

    letters: Letters
    divider: str
    columns: tuple[Column | None, ...]
    has_headings: bool
    rows: tuple[Row, ...]

    @property
    def is_guessed(self) -> bool:
        """Whether the letters could be others and it matters: a person has to look."""
        return self.letters in (Letters.WESTERN, Letters.CENTRAL) and bool(self.unusual)

    @property
    def unusual(self) -> tuple[str, ...]:
        """Some names with letters beyond plain English, to look at."""
        names = (row.name for row in self.rows)
        return tuple(name for name in names if not name.isascii())[:8]


def read(
    content: bytes, *, today: date, letters: Letters | None = None, instrument: str = ""
) -> Sheet:
    """Read a list; `instrument` is for rows that name none. RosterError for what is no list."""
    used, text = _decoded(content, letters)
    divider, table = _table(text)
    columns, has_headings = _columns(table[0][1])
    body = table[1:] if has_headings else table
    rows = [read_row(number, cells, columns, today, instrument) for number, cells in body]
    if not rows:
        raise RosterError(
            Sentence(
                gettext_noop("There is a heading and no student under it: add a row for each.")
            )
        )
    if len(rows) > MOST_ROWS:
        raise RosterError(
            Sentence(
                gettext_noop("%(given)s rows: %(most)s at most. Make two lists of it."),
                given=len(rows),
                most=MOST_ROWS,
            )
        )
    _mark_doubles(rows)
    return Sheet(
        letters=used,
        divider=divider,
        columns=columns,
        has_headings=has_headings,
        rows=tuple(rows),
    )


def same_name(name: str) -> str:
    """Bring a name into the form in which two of them are compared."""
    return " ".join(unicodedata.normalize("NFC", name).split()).casefold()


def _decoded(content: bytes, asked: Letters | None) -> tuple[Letters, str]:
    if len(content) > MOST_BYTES:
        megabytes = f"{len(content) / 1_000_000:.1f}"
        raise RosterError(
            Sentence(
                gettext_noop("%(given)s MB: 1 MB at most. Take out what is no list."),
                given=megabytes,
            )
        )
    _refuse_other_files(content)
    for letters in [asked] if asked else _likely(content):
        try:
            text = content.decode(_codec(letters, content))
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return letters, text
    if asked:
        raise RosterError(
            Sentence(
                gettext_noop("This is not %(letters)s text: choose other letters."),
                letters=Sentence(asked.words),
            )
        )
    raise RosterError(
        Sentence(gettext_noop("This is no text that can be read: save the list as CSV (UTF-8)."))
    )


def _likely(content: bytes) -> list[Letters]:
    """List the letters to try: by the mark at the start, else Unicode before the older ones."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in content:
        return [Letters.UTF_16]
    return [Letters.UTF_8, Letters.WESTERN]


def _codec(letters: Letters, content: bytes) -> str:
    """Name the codec; UTF-16 without a mark shows its order by where the noughts stand."""
    if letters is Letters.UTF_8:
        return "utf-8-sig"
    if letters is Letters.UTF_16 and not content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16-le" if content[1::2].count(0) >= content[::2].count(0) else "utf-16-be"
    return letters.value


def _refuse_other_files(content: bytes) -> None:
    kinds = {
        b"PK\x03\x04": gettext_noop("This is an Excel file or another zip. Save it as CSV first."),
        b"\xd0\xcf\x11\xe0": gettext_noop("This is an old Excel file. Save it as CSV first."),
        b"%PDF": gettext_noop("This is a PDF. Save it as CSV first."),
        b"\x1f\x8b": gettext_noop("This is a packed file. Save it as CSV first."),
        b"\x89PNG": gettext_noop("This is a picture. Save it as CSV first."),
        b"\xff\xd8\xff": gettext_noop("This is a picture. Save it as CSV first."),
        b"{\\rtf": gettext_noop("This is a text document. Save it as CSV first."),
        b"MZ": gettext_noop("This is a program. Save it as CSV first."),
    }
    for start, said in kinds.items():
        if content.startswith(start):
            raise RosterError(Sentence(said))
    if not content.strip():
        raise RosterError(_EMPTY)


def _table(text: str) -> tuple[str, list[tuple[int, list[str]]]]:
    """Divide a text into numbered rows that say something, by the divider that fits best."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    best: tuple[str, list[tuple[int, list[str]]]] | None = None
    for divider in DIVIDERS:
        table = _divided(text, divider)
        if best is None or len(table[0][1]) > len(best[1][0][1]):
            best = (divider, table)
    assert best is not None  # noqa: S101 - there are dividers
    for number, cells in best[1]:
        if len(cells) > MOST_COLUMNS:
            raise RosterError(
                Sentence(
                    gettext_noop("Row %(row)s has %(given)s columns: %(most)s at most."),
                    row=number,
                    given=len(cells),
                    most=MOST_COLUMNS,
                )
            )
        if any(len(cell) > MOST_CHARACTERS for cell in cells):
            raise RosterError(
                Sentence(
                    gettext_noop("Row %(row)s has a cell with over %(most)s letters: shorten it."),
                    row=number,
                    most=MOST_CHARACTERS,
                )
            )
    return best


def _divided(text: str, divider: str) -> list[tuple[int, list[str]]]:
    table = []
    rows = csv.reader(text.split("\n"), delimiter=divider)
    number = 0
    try:
        for number, cells in enumerate(rows, 1):
            clean = [_clean(cell) for cell in cells]
            if any(clean):
                table.append((number, clean))
    except csv.Error:
        raise RosterError(
            Sentence(
                gettext_noop(
                    "Row %(row)s cannot be read: it is too long, or a quote is left open."
                ),
                row=number + 1,
            )
        ) from None
    if not table:
        raise RosterError(_EMPTY)
    return table


def _clean(cell: str) -> str:
    """Take out what nobody sees: spaces at the ends, control and direction signs."""
    kept = "".join(sign if _is_seen(sign) else " " for sign in cell)
    return " ".join(unicodedata.normalize("NFC", kept).split())


def _is_seen(sign: str) -> bool:
    """Whether a sign is more than control or direction; joiners belong to some alphabets."""
    return unicodedata.category(sign)[0] != "C" or sign in "\u200c\u200d"


def _columns(first: Sequence[str]) -> tuple[tuple[Column | None, ...], bool]:
    """Say what each column holds, by the first row; a list of names alone needs no heading."""
    found = tuple(_heading(cell) for cell in first)
    named = [column for column in found if column]
    if Column.NAME in named:
        if len(set(named)) < len(named):
            twice = next(column for column in named if named.count(column) > 1)
            raise RosterError(
                Sentence(
                    gettext_noop("Two columns are called %(column)s: take one out."),
                    column=Sentence(words.COLUMN_NAMES[twice]),
                )
            )
        return found, True
    if named or len(first) > 2:
        raise RosterError(
            Sentence(
                gettext_noop("No column is called name: write name over the column of the names.")
            )
        )
    return (Column.NAME, Column.INSTRUMENT)[: len(first)], False


def _heading(cell: str) -> Column | None:
    meant = words.plain(cell)
    return next((column for column, said in words.HEADINGS.items() if meant in said), None)


def _mark_doubles(rows: Sequence[Row]) -> None:
    """Point out a name that comes twice with the same instrument."""
    first: dict[tuple[str, str], int] = {}
    for row in rows:
        if not row.name:
            continue
        key = (same_name(row.name), row.instrument)
        if key in first:
            row.problems.append(
                Sentence(
                    gettext_noop("Row %(row)s: %(name)s is in row %(first)s already."),
                    row=row.number,
                    name=row.name,
                    first=first[key],
                )
            )
        else:
            first[key] = row.number


def as_text(rows: Sequence[Row]) -> str:
    """Write rows as a list that `read` reads as the same rows, problems and all."""
    out = StringIO()
    sheet = csv.writer(out, lineterminator="\n")
    sheet.writerow([column.value for column in Column])
    for row in rows:
        sheet.writerow([row.said.get(column, "") for column in Column])
    return out.getvalue()
