"""Where nothing can be written, nothing is acknowledged, and it works again once there is room.

SQLite's own limit on the pages of a file answers as a full disk does (SQLITE_FULL), and its
`query_only` as a file that may only be read (SQLITE_READONLY).
"""

import sqlite3
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from datetime import UTC, datetime
from urllib.parse import urlencode

import pytest
from django.core.management import call_command
from django.db import OperationalError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.test import Client
from django_scopes import scopes_disabled

from progress.exports.everything import studio_text
from progress.models import CheckIn
from progress.services.import_studio import StudioFileError, import_studio
from studio.models import Discomfort, Student, Studio
from tests import makers

FORM = "application/x-www-form-urlencoded"
HEADERS = {"Accept": "application/json"}
KEPT_WORDS = "long words " * 40


pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def student() -> Student:
    if connection.vendor != "sqlite":
        pytest.skip("how SQLite's file behaves; PostgreSQL's disk is its server's")
    made = makers.a_student(makers.a_studio())
    makers.a_block(made, weekdays_off=[])
    return made


@pytest.fixture
def limit(student) -> Iterator[Callable[[str], int]]:
    """Set a pragma of the open connection; all of them are gone with it at the end."""

    def of(words: str) -> int:
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA {words}")
            row = cursor.fetchone()
        return int(row[0]) if row else 0

    yield of
    connection.close()


@pytest.fixture
def phone(student) -> Client:
    paired = makers.a_grant(student)
    return makers.a_phone(paired, raise_request_exception=False)


def send(phone: Client, student: Student, **changes: object) -> tuple[str, int]:
    now = datetime.now(UTC)
    fields = makers.the_answers(day=now.date(), done_at=now.isoformat(), **changes)
    path = f"/practice/{student.public_id}/check-in"
    answer = phone.post(path, urlencode(fields), content_type=FORM, headers=HEADERS)
    return fields["key"], answer.status_code


def kept() -> set[str]:
    with scopes_disabled():
        return {str(key) for key in CheckIn.objects.values_list("key", flat=True)}


@pytest.mark.battery
def test_a_full_disk_acknowledges_nothing_it_does_not_keep(
    phone, student, limit, is_battery, figures
):
    cases, acknowledged, hurt, refused = 60 if is_battery else 8, set(), set(), 0
    for number in range(cases):
        limit(f"max_page_count={limit('page_count') + number % 3}")
        status = 201
        while status == 201:
            # What hurt is a row of its own: both are there, or neither.
            key, status = send(
                phone, student, words=KEPT_WORDS, hurt="yes", how_much="mild", place="lips"
            )
            if status == 201:
                acknowledged.add(key)
                hurt.add(key)
                assert key in kept()
        refused += status == 503
        assert kept() == acknowledged
        limit("max_page_count=1000000")
        # There is room again, and nothing has to be started anew.
        key, status = send(phone, student)
        assert status == 201
        acknowledged.add(key)

    assert refused == cases
    with scopes_disabled():
        assert {str(key) for key in Discomfort.objects.values_list("key", flat=True)} == hurt
    figures.append(f"a full disk: {cases} cases, {refused} refused with 503, 0 acknowledged lost")


def test_a_file_that_may_only_be_read_acknowledges_nothing(phone, student, limit):
    limit("query_only=ON")
    _, refused = send(phone, student)
    nothing = kept()
    limit("query_only=OFF")

    _, taken = send(phone, student)

    assert (refused, nothing, taken) == (503, set(), 201)


def test_a_lock_that_is_held_too_long_acknowledges_nothing(phone, student, limit):
    file = str(connection.settings_dict["NAME"])
    # The wait is of 20 seconds; `tests/test_databases.py` holds that.
    limit("busy_timeout=20")
    with closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        _, refused = send(phone, student)
        other.execute("COMMIT")

    _, taken = send(phone, student)

    assert (refused, taken, len(kept())) == (503, 201, 1)


def test_a_full_disk_makes_no_part_of_a_studio(student, limit):
    text = the_document()
    with scopes_disabled():
        Student.objects.all().delete()
    Studio.objects.all().delete()
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")
    limit(f"max_page_count={limit('page_count') + 1}")

    with pytest.raises(StudioFileError, match="nothing was written: database or disk is full"):
        import_studio(text)

    assert not Studio.objects.exists()


BEFORE, NEWER = ("progress", "0005_kept_months"), ("progress", "0006_recordings")


def migrated(*to: str, pages: int = 1_000_000) -> None:
    """Bring the tables to a migration, or to the newest, in a file of so many pages at most.

    In a thread with a connection of its own, as a command has one, which ends with what it began.
    """

    def migrate() -> None:
        try:
            with connection.cursor() as cursor:
                cursor.execute(f"PRAGMA max_page_count={pages}")
            call_command("migrate", *to, interactive=False, verbosity=0)
        finally:
            connection.close()

    with ThreadPoolExecutor(1) as command:
        command.submit(migrate).result()


def applied() -> set[tuple[str, str]]:
    return set(MigrationRecorder(connection).applied_migrations())


def tables() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY name")
        return [sql for (sql,) in cursor.fetchall()]


def test_a_full_disk_takes_a_migration_back_whole_until_there_is_room(student, limit, figures):
    whole = tables()
    migrated(*BEFORE)
    with connection.cursor() as cursor:
        cursor.execute("VACUUM")
    before, full, refused = tables(), limit("page_count"), 0
    try:
        while tables() == before:
            with suppress(OperationalError):
                migrated(pages=full + refused)
            refused += 1
            assert (NEWER in applied()) is (tables() != before)
    finally:
        migrated()

    assert refused > 3
    assert NEWER in applied()
    assert tables() == whole
    with scopes_disabled():
        assert Student.objects.get().name == student.name
    figures.append(f"a migration on a full disk: tried {refused} times, 0 half done")


def the_document() -> str:
    """A copy of a studio with so many students that it takes many pages."""
    studio = Studio.objects.get()
    for number in range(300):
        makers.a_student(studio, name=f"Student {number} {'x' * 60}")
    return "".join(studio_text(studio, datetime.now(UTC)))
