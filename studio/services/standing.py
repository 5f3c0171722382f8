"""How the database stands: whether a studio can be served from it, and what to do where not."""

import os
import shutil
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, InterfaceError, connection

from studio import expected
from studio.models import Studio

# Enough for one more check-in with its journal many times over; below it writing may fail at once.
LEAST_ROOM_BYTES = 5_000_000
TABLE = "studio_studio"
ASKED_OF_SQLITE = {"synchronous": 2, "foreign_keys": 1, "mmap_size": 0, "secure_delete": 1}
# Those that lie on the disk; config/databases.py chooses between them.
JOURNALS = {"delete", "wal"}
DAMAGED = (
    "The database is damaged: %(fault)s. Nothing has been changed. Type: make restore FILE=… "
    "REPLACE=yes, with the newest backup; the damaged file is kept aside."
)


def file_of_database() -> Path | None:
    """Name SQLite's file, or None where the database is a server or lies in memory."""
    name = str(connection.settings_dict["NAME"])
    return None if connection.vendor != "sqlite" or "memory" in name else Path(name)


def note() -> Path:
    """Name the note that a studio is expected in this database."""
    return expected.note_of(connection.settings_dict, Path(settings.VAR_DIR))


def expect_from_now_on() -> bool:
    """Note that a studio is expected here, if there is one; say whether there is."""
    has_one = Studio.objects.exists()
    if has_one:
        expected.write(note())
    return has_one


def is_made() -> bool:
    """Whether the database has the program's tables."""
    return TABLE in connection.introspection.table_names()


def answers() -> bool:
    """Whether the studio can be read, and there is room and leave to write to it."""
    try:
        # Reads a row of ours: a damaged file answers "SELECT 1" as well.
        Studio.objects.order_by("pk").values_list("pk", "name").first()
    except (DatabaseError, InterfaceError):
        return False
    file = file_of_database()
    if file is None:
        return True
    # A journal is made beside the file with every write.
    may_write = os.access(file, os.W_OK) and os.access(file.parent, os.W_OK)
    return may_write and shutil.disk_usage(file.parent).free >= LEAST_ROOM_BYTES


def what_is_wrong() -> str:
    """Say why no studio can be served from this database, and what to do; "" where one can.

    A database without tables is none of these: the first start makes them.
    """
    try:
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("PRAGMA quick_check(1)")
                if (fault := str(cursor.fetchone()[0])) != "ok":
                    return DAMAGED % {"fault": fault}
        words = missing()
    except (DatabaseError, InterfaceError) as error:
        words = " ".join(str(error).split())
        is_damage = "malformed" in words or "not a database" in words
        return DAMAGED % {"fault": words} if is_damage else words
    return words or _loose_setting()


def missing() -> str:
    """Say that a studio is expected in this database and is not there, and what to do; else ""."""
    if not note().exists():
        return ""
    file = file_of_database()
    is_empty = file is not None and (not file.exists() or not file.stat().st_size)
    if not is_empty and is_made() and Studio.objects.exists():
        return ""
    where = str(file or connection.settings_dict["NAME"])
    return expected.MISSING % {"where": where, "note": note()}


def _loose_setting() -> str:
    """Name a setting of the connection that could lose what was acknowledged; "" where none is."""
    with connection.cursor() as cursor:
        if connection.vendor != "sqlite":
            cursor.execute("SHOW synchronous_commit")
            found = cursor.fetchone()[0]
            return "" if found == "on" else f"synchronous_commit is {found}: it must be on."
        for name, wanted in ASKED_OF_SQLITE.items():
            cursor.execute(f"PRAGMA {name}")
            row = cursor.fetchone()
            # A library built without memory maps answers nothing.
            if row is not None and row[0] != wanted:
                return f"SQLite's {name} is {row[0]}: it must be {wanted}."
        cursor.execute("PRAGMA journal_mode")
        journal = str(cursor.fetchone()[0])
    if journal not in JOURNALS:
        return f"SQLite's journal_mode is {journal}: it must be delete or wal."
    return ""
