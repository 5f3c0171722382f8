"""The file of a backup: a ZIP archive that says what it holds, and the sums to check it by.

`about.json` names the kind of database, the moment, the migrations its tables had, how many rows
each table has, and a SHA-256 of every other entry. Nothing in it opens a door: sessions, limits,
and links that have not been used are left out.
"""

import fcntl
import hashlib
import json
import os
import shutil
import zipfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

FORMAT, EDITION = "filar backup", 1
ABOUT = "about.json"
# What the copy of an SQLite database is called; of PostgreSQL each table is a file of its own.
DATABASE = "studio.sqlite3"
KINDS = SQLITE, POSTGRESQL = "sqlite", "postgresql"
A_TABLE = "studio_student"
NAME = "filar-%Y-%m-%dT%H-%M-%SZ.zip"
PIECE = 1 << 20
SPARE_BYTES = 10_000_000
ONLY_MINE = 0o600

# What would open a door, or counts tries at one: nobody should get in with a copy.
EMPTIED = (
    "django_session",
    "usersessions_usersession",
    "filar_cache",
    "studio_tries",
    "studio_setuptoken",
)
# Links that wait to be used: a copy must not make one work again that has been used since.
ONLY_USED = ("studio_offer", "studio_invitation")

DAYS_KEPT, WEEKS_KEPT = 7, 4
DAY, OLDEST = timedelta(days=1), timedelta(days=35)

Say = Callable[[str], None]


class BackupError(Exception):
    """A backup that cannot be made, read or put back; the message says what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What a backup says of itself. `rows` and `sums` go by the names of tables and entries."""

    kind: str
    made_at: str
    migrations: list[list[str]]
    rows: dict[str, int]
    sums: dict[str, str]
    format: str = FORMAT
    edition: int = EDITION

    @property
    def when(self) -> str:
        """The moment in words, without its seconds."""
        return datetime.fromisoformat(self.made_at).strftime("%Y-%m-%d at %H:%M UTC")


def migrations() -> list[list[str]]:
    """List the migrations that the tables of the open database have."""
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted([app, name] for app, name in applied)


def need_room(folder: Path, size: int) -> None:
    """Refuse to begin what would fill the disk: it needs this many bytes and some to spare."""
    free = shutil.disk_usage(folder).free
    if free < size + SPARE_BYTES:
        needed, left = (size + SPARE_BYTES) // 1_000_000 + 1, free // 1_000_000
        message = (
            f"{folder} has {left} MB free and {needed} MB are needed: make room, or name another "
            "folder. Nothing has been changed."
        )
        raise BackupError(message)


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Let one process at a time make or put back backups in a folder; a dead one holds nothing."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError as error:
        message = f"Another backup is at work in {folder}: wait until it is done."
        raise BackupError(message) from error
    finally:
        os.close(handle)


@contextmanager
def unfinished(folder: Path, name: str) -> Iterator[Path]:
    """Give a path for what is being written, readable to its owner alone; it never stays."""
    path = folder / f".unfinished-{name}"
    path.unlink(missing_ok=True)
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, ONLY_MINE))
    try:
        yield path
    finally:
        path.unlink(missing_ok=True)


def on_the_disk(path: Path) -> None:
    """Wait until a file, or the names in a folder, are on the disk and not only on the way."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class Writer:
    """Writes the entries of a backup, and their sums as they go by."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self.archive = archive
        self.sums: dict[str, str] = {}

    def add(self, name: str, pieces: Iterator[bytes]) -> None:
        """Write one entry."""
        digest = hashlib.sha256()
        with self.archive.open(name, "w", force_zip64=True) as entry:
            for piece in pieces:
                digest.update(piece)
                entry.write(piece)
        self.sums[name] = digest.hexdigest()

    def finish(self, *, kind: str, moment: datetime, applied: list[list[str]], rows: Any) -> None:
        """Write what the backup says of itself."""
        about = About(
            kind=kind,
            made_at=moment.astimezone(UTC).isoformat(),
            migrations=applied,
            rows=rows,
            sums=self.sums,
        )
        self.archive.writestr(ABOUT, json.dumps(asdict(about), indent=1))


def pieces_of(path: Path) -> Iterator[bytes]:
    """Read a file in pieces."""
    with path.open("rb") as file:
        while piece := file.read(PIECE):
            yield piece


@contextmanager
def opened(file: Path) -> Iterator[tuple[zipfile.ZipFile, About]]:
    """Open a backup and read what it says of itself; one that cannot be read is a BackupError."""
    try:
        archive = zipfile.ZipFile(file)
    except FileNotFoundError as error:
        message = f"{file} is not there: name a backup that is."
        raise BackupError(message) from error
    except Exception as error:  # a damaged archive fails in many ways
        raise _unreadable(file, error) from error
    with archive:
        yield archive, _about(file, archive)


def _unreadable(file: Path, error: Exception) -> BackupError:
    return BackupError(f"{file} cannot be read ({error}): take another backup.")


def _about(file: Path, archive: zipfile.ZipFile) -> About:
    try:
        said = archive.read(ABOUT) if ABOUT in archive.namelist() else b""
    except Exception as error:  # as above
        raise _unreadable(file, error) from error
    try:
        about = About(**json.loads(said))
        datetime.fromisoformat(about.made_at)
        _hold_to_form(about)
    except (AttributeError, RecursionError, TypeError, ValueError) as error:
        message = f"{file} is no backup of Filar: name a file that `make backup` has made."
        raise BackupError(message) from error
    if (about.format, about.edition) != (FORMAT, EDITION):
        message = (
            f"{file} is of edition {about.edition}, and this program reads edition {EDITION}: "
            "take the program's newest release."
        )
        raise BackupError(message)
    return about


def _hold_to_form(about: About) -> None:
    """Raise AttributeError, TypeError or ValueError where what is said has another form."""
    is_ours = (
        (about.format, about.edition) != (FORMAT, EDITION)  # another edition has its own form
        or (
            about.kind in KINDS
            and all(isinstance(said, str) for app, name in about.migrations for said in (app, name))
            and all(isinstance(said, int) for said in about.rows.values())
            and all(isinstance(said, str) for said in about.sums.values())
            and A_TABLE in about.rows
        )
    )
    if not is_ours:
        raise ValueError(about.kind)


def check_sums(file: Path, archive: zipfile.ZipFile, about: About) -> None:
    """Hold every entry against its sum; one that differs, lacks or is too many is an error."""
    needed = {DATABASE} if about.kind == SQLITE else {f"{table}.csv" for table in about.rows}
    if sorted(archive.namelist()) != sorted({ABOUT, *about.sums}) or needed - set(about.sums):
        message = f"{file} lacks a part, or has one too many: take another backup."
        raise BackupError(message)
    for name, wanted in about.sums.items():
        digest = hashlib.sha256()
        try:
            with archive.open(name) as entry:
                while piece := entry.read(PIECE):
                    digest.update(piece)
        except Exception as error:  # a damaged archive fails in many ways
            message = f"{file} is damaged in {name}: take another backup."
            raise BackupError(message) from error
        if digest.hexdigest() != wanted:
            message = f"{file} is damaged in {name}: take another backup."
            raise BackupError(message)


def check_release(file: Path, about: About) -> None:
    """Refuse what another release has made, whose tables this program does not know."""
    known = set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
    if unknown := {(app, name) for app, name in about.migrations} - known:
        message = (
            f"{file} comes from another release of the program, which had {min(unknown)[1]}: "
            "take that release, or a newer one."
        )
        raise BackupError(message)


def moment_of(file: Path) -> datetime | None:
    """Read the moment in a backup's name, or None for a file that is none."""
    try:
        return datetime.strptime(file.name, NAME).replace(tzinfo=UTC)
    except ValueError:
        return None


def newest(folder: Path) -> Path | None:
    """Find the newest backup in a folder."""
    found = [file for file in folder.glob("*.zip") if moment_of(file) is not None]
    return max(found, key=lambda file: file.name, default=None)


def newer_than(about: About, folder: Path) -> list[Path]:
    """List the backups in a folder that were made after one, the oldest first."""
    made_at = datetime.fromisoformat(about.made_at)
    found = [(moment, file) for file in folder.glob("*.zip") if (moment := moment_of(file))]
    return [file for moment, file in sorted(found) if moment > made_at]


def to_forget(files: Sequence[Path], now: datetime) -> list[Path]:
    """Choose the backups that go: those of the last day stay, the newest of 7 days and of 4 weeks.

    Nothing over 35 days stays: what is kept longer than it has to be is children's data lying
    about. Only the newest of all stays, however old it is.
    """
    dated = sorted(
        ((moment, file) for file in files if (moment := moment_of(file)) is not None), reverse=True
    )
    days: dict[Any, Path] = {}
    weeks: dict[Any, Path] = {}
    for moment, file in dated:
        if now - moment <= OLDEST:
            days.setdefault(moment.date(), file)
            weeks.setdefault(moment.isocalendar()[:2], file)
    kept = {*list(days.values())[:DAYS_KEPT], *list(weeks.values())[:WEEKS_KEPT]}
    kept |= {
        file for number, (moment, file) in enumerate(dated) if not number or now - moment < DAY
    }
    return [file for _, file in dated if file not in kept]
