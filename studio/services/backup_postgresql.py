"""A copy of what PostgreSQL holds, by its own COPY, and the way back in one transaction.

All tables are read in one transaction that sees one moment. The way back makes the tables as they
were, fills them, and then renews them; if it fails or is interrupted, everything is as it was.
"""

import csv
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from io import TextIOWrapper
from pathlib import Path

from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connection, transaction
from django.db.backends.utils import CursorWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.graph import MigrationGraph

from studio.services import backup_file
from studio.services.backup_file import About, BackupError, Say, Writer

REHEARSAL = "filar_rehearsal"
MIGRATIONS = "django_migrations"


def write(writer: Writer, folder: Path, say: Say) -> dict[str, int]:
    """Write every table into a backup; say how many rows each has."""
    with transaction.atomic(durable=True), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_database_size(current_database())")
        backup_file.need_room(folder, cursor.fetchone()[0])
        names = _tables(cursor)
        rows: dict[str, int] = {}
        for number, name in enumerate(names, start=1):
            say(f"Copying table {number} of {len(names)}")
            wanted = _wanted(name)
            cursor.execute(f'SELECT count(*) FROM "{name}" WHERE {wanted}')  # noqa: S608
            rows[name] = cursor.fetchone()[0]
            writer.add(f"{name}.csv", _copied(cursor, name, wanted))
    return rows


def _tables(cursor: CursorWrapper) -> list[str]:
    return sorted(
        info.name
        for info in connection.introspection.get_table_list(cursor)
        if info.type in {"t", "p"}
    )


def _wanted(name: str) -> str:
    """Write the condition for the rows of a table that a backup holds."""
    if name in backup_file.EMPTIED:
        return "false"
    return "used_at IS NOT NULL" if name in backup_file.ONLY_USED else "true"


def _copied(cursor: CursorWrapper, name: str, wanted: str) -> Iterator[bytes]:
    """Read a table as the CSV of COPY, with the columns' names in the first line."""
    query = f'SELECT * FROM "{name}" WHERE {wanted}'  # noqa: S608
    with cursor.copy(f"COPY ({query}) TO STDOUT (FORMAT csv, HEADER)") as copy:
        for piece in copy:
            yield bytes(piece)


@contextmanager
def rehearsed(file: Path, archive: zipfile.ZipFile, about: About, say: Say) -> Iterator[None]:
    """Put a backup into tables of its own beside the studio's, and take all of it back."""
    with transaction.atomic(durable=True), connection.cursor() as cursor:
        cursor.execute(f"CREATE SCHEMA {REHEARSAL}")
        cursor.execute(f"SET LOCAL search_path = {REHEARSAL}")
        fill(file, archive, about, say)
        yield
        transaction.set_rollback(True)


def empty() -> None:
    """Drop the tables of the studio; inside a transaction that can be taken back."""
    with connection.cursor() as cursor:
        for name in _tables(cursor):
            cursor.execute(f'DROP TABLE "{name}" CASCADE')


def fill(file: Path, archive: zipfile.ZipFile, about: About, say: Say) -> None:
    """Make the tables as they were, fill them, and bring them up to date."""
    say("Making the tables")
    executor = MigrationExecutor(connection)
    executor.migrate(_last_ones(executor.loader.graph, about))
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL DEFERRED")
        for number, (name, wanted) in enumerate(about.rows.items(), start=1):
            say(f"Filling table {number} of {len(about.rows)}")
            _fill_table(cursor, archive, name)
            cursor.execute(f'SELECT count(*) FROM "{name}"')  # noqa: S608
            if cursor.fetchone()[0] != wanted:
                message = f"{file} has other rows than it says: take another backup."
                raise BackupError(message)
            _go_on_counting(cursor, name)
        # Every reference is checked here, and the tables can be changed afterwards.
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
    call_command("migrate", interactive=False, verbosity=0)
    # What the program remembers of their numbers may be of the tables that were here before.
    ContentType.objects.clear_cache()


def asked(archive: zipfile.ZipFile, table: str, *columns: str) -> list[tuple[str | None, ...]]:
    """Read columns of a table in a backup; what is empty there is None."""
    with archive.open(f"{table}.csv") as entry, TextIOWrapper(entry, "utf-8", newline="") as text:
        return [tuple(row[column] or None for column in columns) for row in csv.DictReader(text)]


def _last_ones(graph: MigrationGraph, about: About) -> list[tuple[str, str]]:
    """Choose the migrations that nothing in their own app had followed yet."""
    applied = {(app, name) for app, name in about.migrations}
    return [
        one
        for one in sorted(applied)
        if not any(
            child.key in applied and child.key[0] == one[0]
            for child in graph.node_map[one].children
        )
    ]


def _fill_table(cursor: CursorWrapper, archive: zipfile.ZipFile, name: str) -> None:
    # Migrations write some rows themselves: kinds of content, and which of them were applied.
    cursor.execute(f'DELETE FROM "{name}"')  # noqa: S608
    with archive.open(f"{name}.csv") as entry:
        columns = entry.readline().decode().strip().split(",")
        listed = ", ".join(f'"{column}"' for column in columns)
        with cursor.copy(f'COPY "{name}" ({listed}) FROM STDIN (FORMAT csv)') as copy:
            while piece := entry.read(backup_file.PIECE):
                copy.write(piece)


def _go_on_counting(cursor: CursorWrapper, name: str) -> None:
    """Let the numbers of new rows go on behind those that came back."""
    for column in connection.introspection.get_sequences(cursor, name):
        one = column["column"]
        cursor.execute(
            f"SELECT setval(pg_get_serial_sequence('\"{name}\"', '{one}'), "  # noqa: S608
            f'coalesce((SELECT max("{one}") FROM "{name}"), 0) + 1, false)'
        )
