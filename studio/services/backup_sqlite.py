"""A copy of SQLite's file, and the way back.

SQLite itself makes the copy (`VACUUM INTO`), of one moment, whatever is written meanwhile; the file
as it lies there must never be copied, as half of a transaction may be in it.
"""

import shutil
import sqlite3
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from django.db import connection

from studio.services import backup_file
from studio.services.backup_file import About, BackupError, Say, Writer

ENTRY = backup_file.DATABASE
PATIENCE_SECONDS = 20
# What lies beside a database while it is written, and belongs to it.
COMPANIONS = ("", "-journal", "-wal", "-shm")


def write(writer: Writer, source: Path, folder: Path, say: Say) -> dict[str, int]:
    """Write a checked copy of the file into a backup; say how many rows each table has."""
    # The copy, once more while it is written anew without what is left out, and the archive.
    backup_file.need_room(folder, 3 * source.stat().st_size)
    with backup_file.unfinished(folder, ENTRY) as copy:
        say("Copying the database")
        try:
            with closing(_connected(source)) as database:
                # SQLite takes an empty file as the place for the copy.
                database.execute("VACUUM INTO ?", (str(copy),))
            _leave_out(copy)
        except sqlite3.Error as error:
            message = f"{source} cannot be copied: {error}. Nothing has been changed."
            raise BackupError(message) from error
        say("Checking the copy")
        rows = checked(copy)
        say("Packing it")
        writer.add(ENTRY, backup_file.pieces_of(copy))
    return rows


def _connected(file: Path) -> sqlite3.Connection:
    """Open a file that is there, and make none."""
    return sqlite3.connect(
        f"{file.absolute().as_uri()}?mode=rw", uri=True, timeout=PATIENCE_SECONDS
    )


def _leave_out(copy: Path) -> None:
    with closing(_connected(copy)) as database:
        tables = _tables(database)
        with database:
            for name in backup_file.EMPTIED:
                if name in tables:
                    database.execute(f'DELETE FROM "{name}"')  # noqa: S608 - a name of ours
            for name in backup_file.ONLY_USED:
                if name in tables:
                    database.execute(f'DELETE FROM "{name}" WHERE used_at IS NULL')  # noqa: S608
        # Written anew, the file has nothing left in its free space.
        database.execute("VACUUM")


def _tables(database: sqlite3.Connection) -> list[str]:
    asked = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    return sorted(name for (name,) in database.execute(asked))


def checked(file: Path) -> dict[str, int]:
    """Look through a whole file, and count its rows; a fault in it is a BackupError."""
    try:
        with closing(_connected(file)) as database:
            fault = database.execute("PRAGMA integrity_check(1)").fetchone()[0]
            orphans = database.execute("PRAGMA foreign_key_check").fetchall()
            rows = {
                name: database.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608
                for name in _tables(database)
            }
    except sqlite3.DatabaseError as error:
        message = f"The copy is damaged: {error}."
        raise BackupError(message) from error
    if fault != "ok":
        message = f"The copy is damaged: {fault}."
        raise BackupError(message)
    if orphans:
        message = f"The copy is damaged: a row of {orphans[0][0]} belongs to one that is not there."
        raise BackupError(message)
    return rows


@contextmanager
def unpacked(
    file: Path, archive: zipfile.ZipFile, about: About, folder: Path
) -> Iterator[tuple[Path, dict[str, int]]]:
    """Unpack the database of a backup into a scratch file, checked; the file does not stay."""
    size = archive.getinfo(ENTRY).file_size
    backup_file.need_room(folder, 2 * size)
    with backup_file.unfinished(folder, ENTRY) as scratch:
        with archive.open(ENTRY) as packed, scratch.open("wb") as out:
            shutil.copyfileobj(packed, out, backup_file.PIECE)
        rows = checked(scratch)
        if rows != about.rows:
            message = f"{file} has other rows than it says: take another backup."
            raise BackupError(message)
        yield scratch, rows


def has_a_studio(file: Path) -> bool:
    """Whether there is something in a file that a restore would take the place of.

    A file that cannot be read counts: there may be a studio in it.
    """
    if not file.exists() or file.stat().st_size == 0:
        return False
    try:
        with closing(_connected(file)) as database:
            if "studio_studio" not in _tables(database):
                return False
            return database.execute("SELECT 1 FROM studio_studio LIMIT 1").fetchone() is not None
    except sqlite3.Error:
        return True


def asked(file: Path, table: str, *columns: str) -> tuple[list[tuple[Any, ...]], bool]:
    """Read columns of a file that may be damaged, older or not there; and say if that was all.

    What can be read before a damaged place is read. Of a file that is not there nothing is all.
    """
    rows: list[tuple[Any, ...]] = []
    if not file.exists():
        return rows, True
    try:
        with closing(_connected(file)) as database:
            query = f"SELECT {', '.join(columns)} FROM {table}"  # noqa: S608 - names of ours
            rows.extend(database.execute(query))
    except sqlite3.Error:
        return rows, False
    return rows, True


def asides(target: Path) -> list[Path]:
    """List the databases that restores have put aside, the oldest first."""
    found = target.parent.glob(f"{target.name}.before-*")
    return sorted(file for file in found if not file.name.endswith(COMPANIONS[1:]))


def place_aside(target: Path, moment: datetime) -> Path:
    """Name where the database goes that a restore replaces: where none was put before."""
    moment = moment.astimezone(UTC)
    while (place := Path(f"{target}.before-{moment:%Y-%m-%dT%H-%M-%SZ}")).exists():
        moment += timedelta(seconds=1)
    return place


@contextmanager
def open_instead(file: Path) -> Iterator[None]:
    """Let the program's own connection be to another file for a while."""
    connection.close()
    usual, connection.settings_dict["NAME"] = connection.settings_dict["NAME"], str(file)
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"] = usual


def put_in_place(scratch: Path, target: Path, aside: Path) -> bool:
    """Put a file in the place of the database; say whether an old one was kept aside.

    Between the two steps the place is empty, and the note beside it keeps the program from taking
    that for a new beginning.
    """
    backup_file.on_the_disk(scratch)
    was_there = target.exists()
    for companion in COMPANIONS:
        old = Path(f"{target}{companion}")
        if old.exists():
            old.rename(f"{aside}{companion}")
    scratch.rename(target)
    backup_file.on_the_disk(target.parent)
    return was_there
