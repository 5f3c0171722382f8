"""The list of erased students beside the database, which outlives the database itself.

One JSON line each, with the hash of the random id: who holds the list can tell whether a copy has
one of them, and not who they were. The table `ErasedStudent` is the list; the file is its copy for
the day on which the database has to be made anew from an older backup.
"""

import json
import os
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import connection

from studio.models import ErasedStudent

NAME = "erased_students.jsonl"
ONLY_MINE = 0o600


@dataclass(frozen=True, slots=True, kw_only=True)
class Erased:
    """One line of the list: whose hash, in which studio, and when, as an ISO 8601 moment."""

    student_hash: str
    studio: str
    at: str


def path() -> Path:
    """Name the file of the list beside the studio's database."""
    return Path(settings.VAR_DIR) / NAME


def from_table() -> list[Erased]:
    """Read the list out of the database; one of an older release has none yet."""
    if ErasedStudent._meta.db_table not in connection.introspection.table_names():  # noqa: SLF001
        return []
    return [
        Erased(student_hash=row.student_hash, studio=row.studio, at=row.at.isoformat())
        for row in ErasedStudent.objects.order_by("pk")
    ]


def read(file: Path) -> list[Erased]:
    """Read a file of the list; no file is an empty list, and a line cut short is left out.

    A line can be cut short by a full disk or a power cut while it was appended.
    """
    if not file.exists():
        return []
    return [
        line
        for text in file.read_text(errors="replace").splitlines()
        if (line := _line(text)) is not None
    ]


def _line(text: str) -> Erased | None:
    try:
        found = json.loads(text)
        line = Erased(**{name: str(found[name]) for name in ("student_hash", "studio", "at")})
        datetime.fromisoformat(line.at)
    except (ValueError, KeyError, TypeError):
        return None
    return line


def add_to(file: Path, lines: Iterable[Erased]) -> int:
    """Append what a file does not have yet, on the disk when this returns; say how much it was."""
    known = {line.student_hash for line in read(file)}
    new = [line for line in lines if line.student_hash not in known]
    if new:
        handle = os.open(file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, ONLY_MINE)
        with os.fdopen(handle, "a") as written:
            # A line that was cut short must not swallow the next one.
            written.write("".join(_lines(new, starts_new=file.stat().st_size > 0)))
            written.flush()
            os.fsync(written.fileno())
    return len(new)


def _lines(lines: Iterable[Erased], *, starts_new: bool) -> Iterator[str]:
    if starts_new:
        yield "\n"
    for line in lines:
        yield json.dumps(asdict(line)) + "\n"


def add_to_table(lines: Iterable[Erased]) -> None:
    """Write lines into the database that it does not have yet."""
    ErasedStudent.objects.bulk_create(
        [
            ErasedStudent(
                student_hash=line.student_hash,
                studio=line.studio,
                at=datetime.fromisoformat(line.at),
            )
            for line in lines
        ],
        ignore_conflicts=True,
    )
