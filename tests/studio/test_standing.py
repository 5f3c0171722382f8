"""How the database stands: what is said where it is missing, damaged, full or set loosely."""

import os
import shutil
import sqlite3
from contextlib import closing
from types import SimpleNamespace

import pytest
from django.core.management import CommandError, call_command
from django.db import (
    DatabaseError,
    IntegrityError,
    InterfaceError,
    OperationalError,
    ProgrammingError,
    connection,
)
from django.test import Client
from django.utils import timezone

from studio import expected
from studio.models import Studio
from studio.services import backup_sqlite, people, standing
from tests import makers

pytestmark = pytest.mark.django_db
# What SQLite and PostgreSQL say of themselves in such a case (SQLite's result codes READONLY,
# FULL, CORRUPT, NOTADB, BUSY, CANTOPEN, IOERR; PostgreSQL's class 53 and 57).
TROUBLES = [
    OperationalError("attempt to write a readonly database"),
    OperationalError("database or disk is full"),
    OperationalError("disk I/O error"),
    OperationalError("database is locked"),
    OperationalError("unable to open database file"),
    DatabaseError("database disk image is malformed"),
    DatabaseError("file is not a database"),
    OperationalError("the connection is lost"),
    OperationalError("could not extend file: No space left on device"),
    InterfaceError("connection already closed"),
]


@pytest.fixture
def failing(monkeypatch):
    """A browser whose next page meets an error where it asks the database."""

    def made(error: Exception, **client) -> Client:
        def fails(*_args, **_kwargs):
            raise error

        monkeypatch.setattr("studio.views.front.User.objects.exists", fails)
        return Client(raise_request_exception=False, **client)

    return made


@pytest.mark.parametrize("error", TROUBLES, ids=str)
def test_a_database_that_cannot_is_said_in_words_and_when_to_come_back(failing, error):
    answer = failing(error).get("/first-run")

    assert answer.status_code == 503
    assert answer["Retry-After"] == "60"
    assert "The last step may not be saved." in answer.text
    assert str(error) not in answer.text
    assert answer["Cache-Control"] == "no-store"


def test_a_phones_outbox_gets_words_it_can_show_and_keeps_what_it_has(failing):
    answer = failing(TROUBLES[1], headers={"Accept": "application/json"}).get("/first-run")

    assert answer.status_code == 503
    assert answer.json() == {"words": "The studio cannot save just now. Try again in a minute."}


@pytest.mark.parametrize("error", [IntegrityError("twice"), ProgrammingError("?"), ValueError("?")])
def test_a_fault_of_the_program_is_no_trouble_of_the_disk(failing, error):
    answer = failing(error).get("/first-run")

    assert answer.status_code == 500
    assert "Retry-After" not in answer


def test_the_pages_of_trouble_ask_the_database_nothing(failing, django_assert_num_queries):
    browser = failing(TROUBLES[0])

    with django_assert_num_queries(0):
        browser.get("/first-run")


def test_healthz_says_ok_where_a_studio_can_be_read_and_written(client):
    answer = client.get("/healthz")

    assert (answer.status_code, answer.text) == (200, "ok")


def test_healthz_says_no_more_than_not_ok(client, monkeypatch):
    monkeypatch.setattr(standing, "answers", lambda: False)

    answer = client.get("/healthz")

    assert (answer.status_code, answer.text) == (503, "not ok")


@pytest.mark.parametrize("writes", [True, False])
def test_a_sign_in_is_held_up_in_words_or_told_that_nothing_can_be_written(monkeypatch, writes):
    # The library asks for a place in the cache, which swallows that it could not be written.
    monkeypatch.setattr("allauth.core.internal.ratelimit.CACHE_LOCK_WAIT_TIMEOUT", 0)
    monkeypatch.setattr("django.core.cache.backends.db.DatabaseCache.add", lambda *_a, **_k: False)
    monkeypatch.setattr(standing, "answers", lambda: writes)

    answer = Client().post("/sign-in", {"login": "runa@example.org", "password": makers.PASSWORD})

    words = "Too many tries. Wait 1 minute" if writes else "It cannot save just now"
    assert answer.status_code == (429 if writes else 503)
    assert words in answer.text
    assert answer["Retry-After"] == "60"


def test_a_database_that_cannot_be_read_does_not_answer(monkeypatch):
    def fails(*_args):
        raise TROUBLES[5]

    monkeypatch.setattr(Studio.objects, "order_by", fails)

    assert standing.answers() is False


@pytest.mark.parametrize(("free", "is_well"), [(4_999_999, False), (5_000_000, True)])
def test_a_disk_with_hardly_any_room_is_not_well(monkeypatch, tmp_path, free, is_well):
    monkeypatch.setattr(standing, "file_of_database", lambda: tmp_path)
    monkeypatch.setattr(shutil, "disk_usage", lambda _folder: SimpleNamespace(free=free))

    assert standing.answers() is is_well


def test_a_sound_database_has_nothing_wrong():
    assert standing.what_is_wrong() == ""


def test_an_empty_database_where_a_studio_was_is_refused_with_what_to_type(settings, tmp_path):
    note = tmp_path / "note"
    expected.write(note)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(standing, "note", lambda: note)
        with pytest.raises(CommandError, match=r"A studio is expected in .*make restore FILE"):
            call_command("check_database")
        makers.a_studio()
        call_command("check_database", verbosity=0)


def test_the_note_is_made_once_there_is_a_studio(tmp_path, monkeypatch):
    note = tmp_path / "note"
    monkeypatch.setattr(standing, "note", lambda: note)

    call_command("check_database", expect=True, verbosity=0)
    assert not note.exists()

    makers.a_studio()
    call_command("check_database", expect=True, verbosity=0)
    assert note.exists()


def test_the_first_run_notes_that_a_studio_is_expected(
    tmp_path, monkeypatch, django_capture_on_commit_callbacks
):
    note = tmp_path / "note"
    monkeypatch.setattr(standing, "note", lambda: note)
    token = people.new_setup_token() or ""

    with django_capture_on_commit_callbacks(execute=True):
        people.set_up_studio(
            token=token,
            moment=timezone.now(),
            studio={"name": "North Street"},
            teacher={"name": "Runa", "email": "runa@example.org", "password": makers.PASSWORD},
        )

    assert note.exists()


@pytest.mark.parametrize("may", ["neither", "the file alone", "the folder alone", "both"])
def test_a_file_that_may_not_be_written_is_not_well(monkeypatch, tmp_path, may):
    file = tmp_path / "studio.sqlite3"
    writable = {"neither": (), "the file alone": (file,), "the folder alone": (tmp_path,)}
    # Root may write to any file, so what the system would say is put in its place.
    asked = lambda path, mode: mode == os.W_OK and path in writable.get(may, (file, tmp_path))  # noqa: E731
    monkeypatch.setattr(standing, "file_of_database", lambda: file)
    monkeypatch.setattr(os, "access", asked)

    assert standing.answers() is (may == "both")


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("synchronous=1", "SQLite's synchronous is 1: it must be 2."),
        ("synchronous=0", "SQLite's synchronous is 0: it must be 2."),
        ("foreign_keys=0", "SQLite's foreign_keys is 0: it must be 1."),
        ("secure_delete=0", "SQLite's secure_delete is 0: it must be 1."),
        ("mmap_size=65536", "SQLite's mmap_size is 65536: it must be 0."),
        ("journal_mode=memory", "SQLite's journal_mode is memory: it must be delete or wal."),
        ("journal_mode=off", "SQLite's journal_mode is off: it must be delete or wal."),
    ],
)
@pytest.mark.django_db(transaction=True)
def test_a_loose_setting_of_sqlite_is_found(setting, words):
    if connection.vendor != "sqlite":
        pytest.skip("SQLite's alone; PostgreSQL's is beside it")
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA {setting}")
    try:
        assert standing.what_is_wrong() == words
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_a_loose_setting_of_postgresql_is_found():
    if connection.vendor != "postgresql":
        pytest.skip("PostgreSQL's alone; SQLite's are beside it")
    with connection.cursor() as cursor:
        cursor.execute("SET synchronous_commit = off")
    try:
        assert standing.what_is_wrong() == "synchronous_commit is off: it must be on."
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_a_page_that_was_written_over_is_found_before_anybody_reads_it(tmp_path):
    if connection.vendor != "sqlite":
        pytest.skip("SQLite's file alone; PostgreSQL looks at its pages itself")
    file = tmp_path / "studio.sqlite3"
    with closing(sqlite3.connect(file)) as database, database:
        database.execute("CREATE TABLE brass (name)")
        database.executemany("INSERT INTO brass VALUES (?)", [("horn" * 100,)] * 200)
    content = bytearray(file.read_bytes())
    content[-4096:] = b"\xff" * 4096
    file.write_bytes(content)

    with backup_sqlite.open_instead(file):
        found = standing.what_is_wrong()

    assert found.startswith("The database is damaged: ")
    assert "make restore FILE=" in found


@pytest.mark.django_db(transaction=True)
def test_damage_that_sqlite_can_read_past_is_found_and_named(tmp_path):
    if connection.vendor != "sqlite":
        pytest.skip("SQLite's alone; PostgreSQL has no such check in SQL")
    file = tmp_path / "studio.sqlite3"
    with closing(sqlite3.connect(file)) as database:
        database.execute("CREATE TABLE student (name TEXT)")
        database.execute("INSERT INTO student VALUES (NULL)")
        database.execute("PRAGMA writable_schema = ON")
        database.execute("UPDATE sqlite_master SET sql = replace(sql, 'TEXT)', 'TEXT NOT NULL)')")
        database.commit()

    with backup_sqlite.open_instead(file):
        words = standing.what_is_wrong()

    assert words.startswith("The database is damaged: NULL value in student.name. Nothing has been")
    assert "make restore FILE=" in words


def test_the_note_that_is_there_is_left_as_it_is(tmp_path):
    note = tmp_path / "note"
    expected.write(note)
    written = note.read_text()
    note.write_text("kept by hand")

    expected.write(note)

    assert written == expected.WORDS
    assert note.read_text() == "kept by hand"


def test_damage_is_said_with_what_to_type(monkeypatch):
    def fails(*_args, **_kwargs):
        raise DatabaseError(str(sqlite3.DatabaseError("database disk image is malformed")))

    monkeypatch.setattr(connection, "cursor", fails)

    assert standing.what_is_wrong().startswith(
        "The database is damaged: database disk image is malformed. Nothing has been changed."
    )
    assert "make restore FILE=" in standing.what_is_wrong()
