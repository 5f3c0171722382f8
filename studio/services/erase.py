"""A student is erased for good: every row, the traces elsewhere, and the space they lay in.

What a teacher typed about somebody else and that happens to name the child stays: no program can
tell. A copy that somebody has taken out of the program is out of its reach as well.
"""

import logging
import re
import time
from collections.abc import Collection
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.db.backends.utils import CursorWrapper
from django_scopes import scope, scopes_disabled

from studio import secrets
from studio.models import AuditLine, ErasedStudent, Letter, Student, Studio, User
from studio.services import erased_list
from studio.services.locks import lock_students
from studio.services.record import record
from studio.words import AuditKind

GONE = "erased"
# How often PostgreSQL's tables are written anew where somebody still reads what was there.
WIPES = 10
WIPE_PAUSE_SECONDS = 0.5
# PostgreSQL 15, System Catalogs: the planner's, with the most common values and some between.
STATISTICS = "pg_statistic"
# How often erasing is begun again where a phone has written about the student meanwhile.
ATTEMPTS = 5
# PostgreSQL, appendix A: a row that another one leads to, and two that wait for each other.
WROTE_MEANWHILE = {"23503", "40P01"}
log = logging.getLogger(__name__)


def erase(student: Student, *, by: User | None, moment: datetime) -> ErasedStudent:
    """Erase one student for good, and list the hash of the random id.

    The list makes sure that no backup brings the student back. In the record of changes the id
    becomes "erased", which is the one change that record allows. A phone that writes at the same
    moment does not stop it.
    """
    for _ in range(ATTEMPTS - 1):
        try:
            return _erase(student, by=by, moment=moment)
        except DatabaseError as error:
            is_meanwhile = getattr(error.__cause__, "sqlstate", "") in WROTE_MEANWHILE
            if connection.in_atomic_block or not is_meanwhile:
                raise
    return _erase(student, by=by, moment=moment)


def _erase(student: Student, *, by: User | None, moment: datetime) -> ErasedStudent:
    studio = student.studio
    with transaction.atomic(), scope(studio=studio):
        line, _ = ErasedStudent.objects.get_or_create(
            student_hash=secrets.hashed(student.public_id),
            defaults={"studio": studio.public_id, "at": moment},
        )
        _take_out(student)
        _record(studio, by=by, moment=moment)
        transaction.on_commit(_write_list_and_wipe, robust=True)
    return line


def erase_again(hashes: Collection[str]) -> int:
    """Take out whoever is listed and has come back with an older copy; say how many that were."""
    with transaction.atomic(), scopes_disabled():
        back = [
            student
            for student in Student.objects.select_related("studio")
            if secrets.hashed(student.public_id) in hashes
        ]
        listed = dict(ErasedStudent.objects.values_list("student_hash", "at"))
        for student in back:
            studio, moment = student.studio, listed.get(secrets.hashed(student.public_id))
            _take_out(student)
            if moment is not None:
                _record(studio, by=None, moment=moment)
    return len(back)


def _record(studio: Studio, *, by: User | None, moment: datetime) -> None:
    record(studio, AuditKind.ERASED, by=by, moment=moment, about=GONE)


def _take_out(student: Student) -> None:
    """Delete a student's rows, and what names the student in rows of others."""
    studio, name, public_id = student.studio, student.name, student.public_id
    # Read anew: an attempt before has taken the number off. Held first, as by whoever writes.
    rows = Student.objects.filter(studio=studio, public_id=public_id)
    lock_students(list(rows.values_list("pk", flat=True)))
    for column in ("about", "to"):
        AuditLine.objects.filter(studio=studio, **{column: public_id}).update(**{column: GONE})
    _forget_letters(studio, name)
    for one in rows:
        one.delete()


def _forget_letters(studio: Studio, name: str) -> None:
    """Delete the letters to teachers that name a student; those about one go with the student."""
    named = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")
    others = Letter.objects.filter(studio=studio, student__isnull=True)
    found = [letter.pk for letter in others if named.search(f"{letter.subject} {letter.body}")]
    Letter.objects.filter(pk__in=found).delete()


def _write_list_and_wipe() -> None:
    """Copy the list to its files, and wipe the space; the rows are gone whether or not this works.

    Every backup copies the list again, so a file that cannot be written today is not forgotten.
    """
    lines, backups = erased_list.from_table(), Path(settings.BACKUPS)
    # Whoever copies the backups away tonight takes along who is not to come back out of them.
    beside_the_backups = [backups / erased_list.NAME] if backups.is_dir() else []
    for file in (erased_list.path(), *beside_the_backups):
        try:
            erased_list.add_to(file, lines)
        except OSError as error:
            log.error("The list of erased students cannot be written: %s", error.strerror)
    wipe_space()


def wipe_space() -> None:
    """Write the database anew without what was deleted, which else lies in free space for a while.

    Other writers wait meanwhile. Where it cannot be done now, SQLite's `secure_delete` has already
    written zeros over the rows.
    """
    if connection.in_atomic_block:
        return
    try:
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("VACUUM")
                # A write-ahead log keeps pages as they were until others are written over them.
                cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
                if cursor.fetchone()[0]:
                    log.error("The log of what was erased cannot be emptied now: somebody reads.")
        else:
            _write_tables_anew()
    except DatabaseError as error:
        log.error("The space of what was erased cannot be wiped now: %s", error)


def _write_tables_anew() -> None:
    """Write PostgreSQL's tables anew, each again while somebody may see what was there before.

    A row that a transaction may still see is kept; for that, one in another database of the same
    server counts as well. The planner's counts of a table (`pg_statistic`) name some of what lies
    in it. So each table is counted anew, and the counts of before are wiped last.
    """
    with connection.cursor() as cursor:
        left = [*connection.introspection.table_names(cursor), STATISTICS]
        for again in range(WIPES):
            if again:
                time.sleep(WIPE_PAUSE_SECONDS)
            left = [table for table in left if _is_still_seen(cursor, table)]
            if not left:
                return
    log.error("The space of what was erased cannot be wiped now: a transaction still needs it.")


def _is_still_seen(cursor: CursorWrapper, table: str) -> bool:
    """Write one table anew, and say whether somebody may still see what was deleted from it.

    One that cannot be written is logged, and keeps no other from being wiped.
    """
    said: list[str] = []

    def note(one: Any) -> None:
        said.append(one.message_detail or "")
        if one.severity_nonlocalized == "WARNING":
            log.error("Not all of what was erased can be wiped: %s", one.message_primary)

    name = connection.ops.quote_name(table)
    cursor.connection.add_notice_handler(note)
    try:
        if table == STATISTICS:
            cursor.execute(f"VACUUM (FULL, VERBOSE) {name}")
        else:
            _forget_counts_if_empty(cursor, name)
            cursor.execute(f"VACUUM (FULL, VERBOSE, ANALYZE) {name}")
    except DatabaseError as error:
        log.error("The space of what was erased cannot be wiped now: %s", error)
    finally:
        cursor.connection.remove_notice_handler(note)
    return any(keeps_rows(one) for one in said)


def _forget_counts_if_empty(cursor: CursorWrapper, name: str) -> None:
    """Let the planner forget what it counted in a table with nothing in it: `ANALYZE` leaves that.

    It forgets what a column held when the column's type is changed, also to the one that it has.
    Numbers, days and yes or no name nobody.
    """
    cursor.execute(f"SELECT 1 FROM {name} LIMIT 1")  # noqa: S608 - a table's own name
    if cursor.fetchone():
        return
    cursor.execute(
        "SELECT attname, format_type(atttypid, atttypmod) FROM pg_stats "
        "JOIN pg_attribute USING (attname) JOIN pg_type ON pg_type.oid = atttypid "
        "WHERE attrelid = %s::regclass AND typcategory NOT IN ('N', 'B', 'D') "
        "AND format('%%I.%%I', schemaname, tablename)::regclass = attrelid",
        [name],
    )
    quoted = connection.ops.quote_name
    same = [f"ALTER {quoted(column)} TYPE {kind}" for column, kind in cursor.fetchall()]
    if same:
        cursor.execute(f"ALTER TABLE {name} {', '.join(same)}")


def keeps_rows(detail: str) -> bool:
    """Read what PostgreSQL says of a table, in its own language: "3 dead row versions cannot …"."""
    return any(sign in "123456789" for sign in detail.partition("\n")[0])
