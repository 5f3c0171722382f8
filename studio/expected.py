"""The note that a studio is expected in a database, so that an empty one is not taken for it.

It is a small file. SQLite has it beside the database's own file; for PostgreSQL it lies in the
folder of what is kept, under a name made from where the database is.
"""

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

MISSING = (
    "A studio is expected in %(where)s, and there is none. If the address or the disk is wrong, "
    "put that right. If the studio is lost, type: make restore FILE=… with the newest backup. "
    "Only if you want to begin with nothing: remove %(note)s"
)
WORDS = "A studio has been kept in the database that this file belongs to. Leave it here.\n"


def beside(file: Path) -> Path:
    """Name the note of an SQLite file."""
    return Path(f"{file}.expected")


def note_of(database: Mapping[str, Any], folder: Path) -> Path:
    """Name the note of the database of these settings."""
    if str(database["ENGINE"]).endswith("sqlite"):
        return beside(Path(str(database["NAME"])))
    where = "\0".join(str(database.get(part, "")) for part in ("HOST", "PORT", "NAME"))
    return beside(folder / f"postgresql-{hashlib.sha256(where.encode()).hexdigest()[:16]}")


def write(note: Path) -> None:
    """Note that there is a studio from now on."""
    if not note.exists():
        note.write_text(WORDS)
