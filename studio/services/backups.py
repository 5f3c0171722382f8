"""Backups: made while people go on writing, checked at once, put back by one command.

On every way back, whoever has been erased since stays erased, and phones and teachers that were
taken out since stay out, as far as this computer still knows of them.
"""

import os
import zipfile
from collections.abc import Iterable
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import DatabaseError, InterfaceError, ProgrammingError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django_scopes import scopes_disabled

from studio import expected
from studio.models import ErasedStudent, Studio
from studio.services import (
    backup_file,
    backup_postgresql,
    backup_sqlite,
    ended_since,
    erased_list,
    standing,
)
from studio.services.backup_file import About, BackupError, Say
from studio.services.ended_since import EndedSince, Teachers
from studio.services.erase import erase_again, wipe_space
from studio.services.erased_list import Erased


@dataclass(frozen=True, slots=True, kw_only=True)
class CaughtUp:
    """How many erased students and ended phones were taken out again, and which teachers."""

    erased: int
    signed_out: int
    teachers: Teachers


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a restore did: which backup, and what has changed since; `aside` is the old database.

    `knew_all` is False where that could not be read in full, so that more may have been ended.
    """

    about: About
    caught_up: CaughtUp
    aside: Path | None
    knew_all: bool


def make(folder: Path, *, moment: datetime, say: Say, forget: bool = True) -> Path:
    """Make a checked backup in a folder, and take away those that are no longer needed."""
    if wrong := _missing():
        raise BackupError(wrong)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with backup_file.alone(folder):
        file = _write(folder, moment.astimezone(UTC), say)
        erased_list.add_to(folder / erased_list.NAME, erased_list.from_table())
        erased_list.add_to(erased_list.path(), erased_list.from_table())
        if forget:
            for old in backup_file.to_forget(list(folder.glob("*.zip")), moment):
                old.unlink()
            _forget_asides(moment)
    return file


def _missing() -> str:
    """Say that the studio is gone: copies of nothing would push the good ones out in time.

    What is damaged is said where it is copied.
    """
    try:
        return standing.missing()
    except (DatabaseError, InterfaceError):
        return ""


def is_due_before_changes() -> bool:
    """Whether there is a studio whose tables this release of the program will change."""
    if not standing.is_made() or not Studio.objects.exists():
        return False
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))


def _write(folder: Path, moment: datetime, say: Say) -> Path:
    file = folder / moment.strftime(backup_file.NAME)
    if file.exists():
        message = f"{file} is there already: try again in a second."
        raise BackupError(message)
    with backup_file.unfinished(folder, "backup") as path:
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            writer = backup_file.Writer(archive)
            source = standing.file_of_database()
            if source is not None:
                rows = backup_sqlite.write(writer, source, folder, say)
            else:
                rows = backup_postgresql.write(writer, folder, say)
            applied = backup_file.migrations()
            writer.finish(kind=connection.vendor, moment=moment, applied=applied, rows=rows)
        say("Reading it back")
        _check(path, folder, say)
        backup_file.on_the_disk(path)
        path.rename(file)
    backup_file.on_the_disk(folder)
    return file


def verify(file: Path, say: Say) -> About:
    """Rehearse a restore beside the studio, and leave nothing of it; a fault is a BackupError."""
    with backup_file.alone(file.parent) if file.parent.is_dir() else ExitStack():
        return _check(file, file.parent, say, rehearse=True)


def _check(file: Path, folder: Path, say: Say, *, rehearse: bool = False) -> About:
    with backup_file.opened(file) as (archive, about):
        backup_file.check_sums(file, archive, about)
        backup_file.check_release(file, about)
        if about.kind == "sqlite":
            with backup_sqlite.unpacked(file, archive, about, folder):
                pass
        elif rehearse and connection.vendor == about.kind:
            with backup_postgresql.rehearsed(file, archive, about, say):
                pass
    return about


def restore(file: Path, *, replace: bool, moment: datetime, say: Say) -> Restored:
    """Put a backup in the place of the studio; without `replace` only where there is none."""
    with backup_file.opened(file) as (archive, about):
        if about.kind != connection.vendor:
            message = (
                f"{file} is a backup of {about.kind}, and this database is {connection.vendor}: "
                "put it back there, and move the studio with export_studio and import_studio."
            )
            raise BackupError(message)
        say("Checking the backup")
        backup_file.check_sums(file, archive, about)
        backup_file.check_release(file, about)
        target = standing.file_of_database()
        if target is not None:
            done = _restore_sqlite(file, archive, about, target, replace=replace, moment=moment)
        else:
            done = _restore_postgresql(file, archive, about, replace=replace, say=say)
    expected.write(standing.note())
    return done


def _refuse(where: object) -> None:
    message = (
        f"There is a studio in {where}. To put the backup in its place, stop the program and type "
        "the same with REPLACE=yes (--replace); the old one is kept aside."
    )
    raise BackupError(message)


def _restore_sqlite(
    file: Path,
    archive: zipfile.ZipFile,
    about: About,
    target: Path,
    *,
    replace: bool,
    moment: datetime,
) -> Restored:
    if backup_sqlite.has_a_studio(target) and not replace:
        _refuse(target)
    listed = _listed(file, backup_sqlite.asked(target, *_LIST)[0])
    since = _known_of_files([*backup_sqlite.asides(target), target])
    aside = backup_sqlite.place_aside(target, moment)
    with (
        backup_file.alone(target.parent),
        backup_sqlite.unpacked(file, archive, about, target.parent) as (scratch, _rows),
    ):
        with backup_sqlite.open_instead(scratch):
            call_command("migrate", interactive=False, verbosity=0)
            caught_up = _bring_up_to_now(listed, since)
            wipe_space()
        was_there = backup_sqlite.put_in_place(scratch, target, aside)
    return Restored(
        about=about,
        caught_up=caught_up,
        aside=aside if was_there else None,
        knew_all=since.is_all,
    )


def _known_of_files(files: Iterable[Path]) -> EndedSince:
    """Ask SQLite's files, the oldest first, what has been ended; the last must be read in full."""
    phones: list[tuple[Any, ...]] = []
    places: list[tuple[Any, ...]] = []
    is_all = True
    for file in files:
        more_phones, all_phones = backup_sqlite.asked(file, *ended_since.PHONES)
        more_places, all_places = backup_sqlite.asked(file, *ended_since.PLACES)
        phones, places = phones + more_phones, places + more_places
        is_all = all_phones and all_places
    return ended_since.known_of(phones, places, is_all=is_all)


def _restore_postgresql(
    file: Path, archive: zipfile.ZipFile, about: About, *, replace: bool, say: Say
) -> Restored:
    aside = None
    rows: list[tuple[str, ...]] = []
    since = EndedSince()
    if standing.is_made():
        if Studio.objects.exists():
            if not replace:
                _refuse(connection.settings_dict["NAME"])
            say("Keeping what is there now")
            aside = make(file.parent, moment=datetime.now(UTC), say=say, forget=False)
        rows = [(line.student_hash, line.studio, line.at) for line in erased_list.from_table()]
        since = _known_here_and_beside(file, about)
    with transaction.atomic(durable=True):
        backup_postgresql.empty()
        backup_postgresql.fill(file, archive, about, say)
        caught_up = _bring_up_to_now(_listed(file, rows), since)
    if caught_up.erased:
        wipe_space()
    return Restored(about=about, caught_up=caught_up, aside=aside, knew_all=since.is_all)


def _known_here_and_beside(file: Path, about: About) -> EndedSince:
    """Ask newer backups beside this one, as a restore may have made them, and the studio itself.

    Its tables may be of an older release, which had not all of the columns.
    """
    phones: list[tuple[Any, ...]] = []
    places: list[tuple[Any, ...]] = []
    for newer in backup_file.newer_than(about, file.parent):
        # A damaged one fails in many ways, one of SQLite has no such tables: neither is asked more.
        with suppress(Exception), backup_file.opened(newer) as (archive, _of_newer):
            phones += backup_postgresql.asked(archive, *ended_since.PHONES)
            places += backup_postgresql.asked(archive, *ended_since.PLACES)
    try:
        with transaction.atomic(), scopes_disabled():
            here = ended_since.rows_here()
    except ProgrammingError:
        return ended_since.known_of(phones, places, is_all=False)
    return ended_since.known_of([*phones, *here[0]], [*places, *here[1]])


_LIST = ("studio_erasedstudent", "student_hash", "studio", "at")


def _listed(file: Path, rows: Iterable[tuple[str, ...]]) -> list[Erased]:
    """Gather who has been erased: from the database as it was, beside it, and beside the backup."""
    known = [Erased(student_hash=row[0], studio=row[1], at=row[2]) for row in rows]
    known += erased_list.read(erased_list.path())
    known += erased_list.read(file.parent / erased_list.NAME)
    return list({line.student_hash: line for line in known}.values())


def _bring_up_to_now(listed: list[Erased], since: EndedSince) -> CaughtUp:
    """Take out again who was erased, and end again what was ended."""
    moment = datetime.now(UTC)
    with transaction.atomic(), scopes_disabled():
        erased_list.add_to_table(listed)
        hashes = set(ErasedStudent.objects.values_list("student_hash", flat=True))
        erased = erase_again(hashes)
        signed_out = ended_since.end_phones(since)
        teachers = ended_since.renew_parts(since, moment=moment)
    return CaughtUp(erased=erased, signed_out=signed_out, teachers=teachers)


def _forget_asides(now: datetime) -> None:
    """Delete databases that a restore has put aside more than 35 days ago."""
    target = standing.file_of_database()
    if target is None:
        return
    for old in target.parent.glob(f"{target.name}.before-*"):
        touched = datetime.fromtimestamp(os.stat(old).st_ctime, tz=UTC)  # noqa: PTH116
        if now - touched > backup_file.OLDEST:
            old.unlink()
