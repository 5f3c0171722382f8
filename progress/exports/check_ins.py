"""A student's check-ins as CSV (RFC 4180), for a spreadsheet.

Conventions: UTF-8 with a byte order mark, so that spreadsheets read the letters rightly; one row a
day, the latest answer of each; ratings 1 to 5, effort 2 to 10, an empty cell is "not answered".
"""

import csv
from collections.abc import Iterable
from io import StringIO

from progress.models import CheckIn
from routines.engine import notes
from routines.engine.notes import Naming

HEADINGS = (
    "day", "clean start", "full sound", "steady middle", "neat ending", "effort", "discomfort",
    "where", "highest good note", "stopped because", "share played", "minutes", "hard where",
    "words", "hold", "rest", "tempo", "added by",
)  # fmt: skip
# A cell that begins with one of these, full-width ones too, would be taken for a formula.
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\0", "＝", "＋", "－", "＠")
BYTE_ORDER_MARK = "\ufeff"


def write(rows: Iterable[CheckIn], *, naming: Naming) -> str:
    """Write check-ins in the order they come, each with its `version`."""
    out = StringIO()
    out.write(BYTE_ORDER_MARK)
    sheet = csv.writer(out, quoting=csv.QUOTE_ALL)
    sheet.writerow(HEADINGS)
    for row in rows:
        sheet.writerow([harmless(cell) for cell in _cells(row, naming)])
    return out.getvalue()


def harmless(cell: object) -> str:
    """Write a cell so that no spreadsheet runs it: an apostrophe goes before a formula's sign."""
    text = "" if cell is None else str(cell)
    return f"'{text}" if text.startswith(FORMULA_SIGNS) else text


def _cells(row: CheckIn, naming: Naming) -> list[object]:
    minutes = None if row.seconds is None else f"{row.seconds / 60:.1f}"
    return [
        row.day.isoformat(), row.attack, row.sound, row.evenness, row.release, row.effort,
        row.discomfort, row.place,
        notes.with_octave(row.high_note, naming) if row.high_note else None,
        row.stopped_because, row.completed, minutes,
        None if row.trouble is None else " ".join(row.trouble) or "nowhere",
        row.words, row.version.hold, row.version.rest, row.version.tempo, row.source,
    ]  # fmt: skip
