"""Backups hold everything and open no door; what is put back is equal, but for who was erased."""

import csv
import errno
import io
import json
import os
import shutil
import sqlite3
import threading
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from types import SimpleNamespace
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.core.management import CommandError, call_command
from django.db import connection, connections, transaction
from django_scopes import scopes_disabled
from hypothesis import given
from hypothesis import strategies as st

from progress.exports.everything import studio_text
from progress.models import CheckIn
from routines.models import Block
from studio import expected, limits, secrets
from studio.models import (
    Discomfort,
    ErasedStudent,
    Grant,
    Interruption,
    Invitation,
    Offer,
    SetupToken,
    Student,
    Studio,
)
from studio.services import backup_file, backup_sqlite, backups, standing
from studio.services.backup_file import BackupError
from studio.services.erase import erase, keeps_rows, wipe_space
from studio.words import GrantState
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
NAME = "Thistlewick"

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("kept")]


def say(_words: str) -> None:
    """Nobody listens in a test."""


@pytest.fixture
def studio():
    """A studio with two students, one of them to be erased, and something in most tables."""
    runa = makers.a_teacher()
    studio = makers.studio_of(runa)
    for name in ("Nor", NAME):
        student = makers.a_student(studio, name=name)
        block = makers.a_block(student, by=runa)
        makers.a_check_in(student, block=block, words=f"{name} was here")
        makers.a_discomfort(student)
        makers.an_interruption(student)
        makers.a_grant(student)
    return studio


@pytest.fixture
def backup(studio, settings) -> Path:
    return make()


def make(moment: datetime = NOW) -> Path:
    return backups.make(settings.BACKUPS, moment=moment, say=say)


def put_back(file: Path, *, replace: bool = True) -> backups.Restored:
    return backups.restore(file, replace=replace, moment=NOW, say=say)


def everything() -> str:
    """A studio as its own document, without the moment it was written."""
    with scopes_disabled():
        document = json.loads("".join(studio_text(Studio.objects.get(), NOW)))
    return json.dumps(document, sort_keys=True, indent=1)


def named(name: str) -> Student:
    with scopes_disabled():
        student: Student = Student.objects.get(name=name)
    return student


def bytes_of_database() -> bytes:
    """All that the database's files hold, rows that were deleted and not written over included."""
    file = standing.file_of_database()
    if file:
        return file.read_bytes()
    with connection.cursor() as cursor:
        cursor.execute("CHECKPOINT")
        cursor.execute(
            "SELECT pg_read_binary_file(pg_relation_filepath(oid)) FROM pg_class "
            "WHERE relkind IN ('r', 't') AND relnamespace IN "
            "('public'::regnamespace, 'pg_toast'::regnamespace) OR relname = 'pg_statistic'"
        )
        return b"".join(bytes(content) for (content,) in cursor.fetchall())


def test_a_backup_that_is_put_back_is_equal_in_everything(backup):
    before = everything()
    with scopes_disabled():
        Student.objects.all().delete()

    done = put_back(backup)

    assert everything() == before
    assert (done.caught_up.erased, done.caught_up.signed_out) == (0, 0)


def test_new_rows_go_on_behind_those_that_came_back(backup):
    put_back(backup)

    added = makers.a_student(Studio.objects.get(), name="Ada")

    with scopes_disabled():
        assert added.pk == max(Student.objects.values_list("pk", flat=True))


def test_a_backup_is_readable_by_its_owner_alone_and_leaves_nothing_unfinished(backup):
    assert backup.name == "filar-2026-11-25T16-00-00Z.zip"
    assert backup.stat().st_mode & 0o777 == 0o600
    assert backup.parent.stat().st_mode & 0o777 == 0o700
    assert [path.name for path in backup.parent.iterdir()] == [backup.name]


def test_nothing_in_a_backup_opens_a_door(studio):
    runa = makers.a_teacher(studio)
    makers.signed_in(runa)
    cache.set("login-attempts", "quillfeather", 600)
    limits.take(limits.SIGN_IN_BY_ADDRESS, "198.51.100.7", moment=NOW)
    SetupToken.objects.create(token_hash=secrets.hashed("token"))
    student = named("Nor")
    used, unused = makers.an_offer(student, used_at=NOW), makers.an_offer(student)
    makers.an_invitation(studio)
    session = Session.objects.get().session_key

    file = make()

    with zipfile.ZipFile(file) as archive:
        whole = b"".join(archive.read(name) for name in archive.namelist())
        rows = json.loads(archive.read("about.json"))["rows"]
    assert session.encode() not in whole
    assert b"quillfeather" not in whole
    assert secrets.hashed("token").encode() not in whole
    assert unused.token_hash.encode() not in whole
    assert used.token_hash.encode() in whole
    assert [rows[name] for name in backup_file.EMPTIED] == [0, 0, 0, 0, 0]
    assert [rows[name] for name in backup_file.ONLY_USED] == [1, 0]


def test_teachers_sign_in_again_and_phones_stay_set_up(studio):
    paired = makers.a_grant(named("Nor"))
    browser = makers.signed_in(makers.a_teacher(studio))
    file = make()

    put_back(file)

    assert browser.get("/overview").status_code == 302
    assert makers.a_phone(paired).get("/practice").status_code in {200, 302}
    with scopes_disabled():
        assert not Offer.objects.exists()
        assert not Invitation.objects.exists()


def test_who_was_erased_since_stays_erased_by_name_by_id_and_in_the_bytes(backup):
    student = named(NAME)
    erase(student, by=None, moment=NOW)
    without = everything()

    done = put_back(backup)

    assert done.caught_up.erased == 1
    assert json.loads(everything())["students"] == json.loads(without)["students"]
    assert NAME not in everything()
    assert NAME.encode() not in bytes_of_database()
    assert student.public_id.encode() not in bytes_of_database()


@contextmanager
def somebody_reads(asked: str, *, seconds: float) -> Iterator[None]:
    """Let another connection see what is there now until the end, or for so many seconds."""
    looks, done = threading.Event(), threading.Event()

    def look() -> None:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
            cursor.execute(asked)
            looks.set()
            done.wait(seconds)
        connection.close()

    reader = threading.Thread(target=look)
    reader.start()
    looks.wait()
    try:
        yield
    finally:
        done.set()
        reader.join()


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite waits for readers by itself")
def test_the_bytes_go_also_while_somebody_still_reads_what_was_there(backup):
    student = named(NAME)

    with somebody_reads("SELECT 1 FROM pg_class LIMIT 1", seconds=1.5):
        erase(student, by=None, moment=NOW)

    assert NAME.encode() not in bytes_of_database()


@contextmanager
def another_database_writes(*, seconds: float) -> Iterator[None]:
    """Leave a transaction open for so many seconds in another database of the same server."""
    there = connection.get_connection_params() | {"dbname": "postgres"}
    with connection.Database.connect(**there) as other:  # type: ignore[attr-defined]
        other.execute("SELECT pg_current_xact_id()")
        ends = threading.Timer(seconds, other.rollback)
        ends.start()
        yield
        ends.join()


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite has no other databases")
def test_the_bytes_go_also_while_another_database_of_the_server_is_written(backup):
    with another_database_writes(seconds=1.5):
        erase(named(NAME), by=None, moment=NOW)

    assert NAME.encode() not in bytes_of_database()


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite waits for readers by itself")
def test_bytes_that_somebody_goes_on_reading_are_said_to_be_there_and_go_later(
    backup, monkeypatch, caplog
):
    student = named(NAME)

    # Of no table, so that nothing waits for it: it only sees what was there before.
    with somebody_reads("SELECT pg_current_snapshot()", seconds=60):
        with monkeypatch.context() as at_most:
            at_most.setattr("studio.services.erase.WIPES", 2)
            erase(student, by=None, moment=NOW)
        assert "cannot be wiped now: a transaction still needs it" in caplog.text
        assert NAME.encode() in bytes_of_database()

    wipe_space()

    assert NAME not in everything()
    assert NAME.encode() not in bytes_of_database()


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite's planner counts nothing here")
def test_what_the_planner_knows_of_a_child_goes_with_it(backup):
    # PostgreSQL 15, Row Estimation Examples: a histogram's bounds are values of the column.
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE studio_student")
        cursor.execute("SELECT histogram_bounds::text FROM pg_stats WHERE attname = 'name'")
        assert any(NAME in str(bounds) for (bounds,) in cursor.fetchall())

    erase(named(NAME), by=None, moment=NOW)

    assert NAME.encode() not in bytes_of_database()


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite's planner counts nothing here")
def test_what_the_planner_knows_of_the_last_child_goes_too(backup, caplog):
    # Of two texts both are a histogram's bounds.
    with scopes_disabled():
        block = Block.objects.get(student=named(NAME))
    makers.a_check_in(block.student, block=block, words=f"{NAME} was here again")
    before = columns_indexes_and_constraints()

    for name in ("Nor", NAME):
        erase(named(name), by=None, moment=NOW)

    assert not CheckIn._base_manager.exists()
    assert NAME.encode() not in bytes_of_database()
    assert columns_indexes_and_constraints() == before
    assert "wiped" not in caplog.text


def columns_indexes_and_constraints() -> list[tuple[str, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public' "
            "UNION ALL SELECT conrelid::regclass::text || conname, contype::text || conkey::text "
            "FROM pg_constraint UNION ALL SELECT attrelid::regclass::text || attname, "
            "format_type(atttypid, atttypmod) || attcollation || attnotnull FROM pg_attribute "
            "JOIN pg_class ON pg_class.oid = attrelid WHERE relnamespace = 'public'::regnamespace "
            "ORDER BY 1, 2"
        )
        return list(cursor.fetchall())


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite's file is written as a whole")
def test_a_table_that_cannot_be_wiped_keeps_no_other_from_it(backup, caplog):
    there = connection.get_connection_params()
    with connection.Database.connect(**there) as other, connection.cursor() as cursor:  # type: ignore[attr-defined]
        other.execute("LOCK TABLE django_content_type IN ACCESS SHARE MODE")
        cursor.execute("SET lock_timeout = '200ms'")
        try:
            erase(named(NAME), by=None, moment=NOW)
        finally:
            cursor.execute("RESET lock_timeout")

    assert "cannot be wiped now: canceling statement due to lock timeout" in caplog.text
    assert NAME.encode() not in bytes_of_database()


@pytest.mark.parametrize(
    ("detail", "expected_value"),
    [
        ("0 dead row versions cannot be removed yet.\nCPU: user: 0.01 s", False),
        ("20 dead row versions cannot be removed yet.\nCPU: user: 0.00 s", True),
        # As PostgreSQL 15 says it in Russian and in Chinese, from memory.
        ('В данный момент нельзя удалить "мёртвых" строк 3.\nCPU: 1', True),
        ("尚无法移除0个死行版本.\nCPU: 1", False),
        ("", False),
    ],
)
def test_rows_that_are_kept_are_known_in_every_language(detail, expected_value):
    assert keeps_rows(detail) == expected_value


@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite's file has one owner")
def test_what_may_not_be_wiped_is_logged(backup, caplog):
    role = f"nobody_{uuid4().hex}"
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE ROLE {role}")
        cursor.execute(f"GRANT SELECT ON ALL TABLES IN SCHEMA public TO {role}")
        cursor.execute(f"SET ROLE {role}")
        try:
            wipe_space()
        finally:
            cursor.execute("RESET ROLE")
            cursor.execute(f"DROP OWNED BY {role}")
            cursor.execute(f"DROP ROLE {role}")

    assert "Not all of what was erased can be wiped: " in caplog.text


def test_the_list_beside_the_backups_is_enough_on_another_computer(backup, settings):
    student = named(NAME)
    erase(student, by=None, moment=NOW)
    later = make(NOW + timedelta(hours=1))
    ErasedStudent.objects.all().delete()
    (settings.VAR_DIR / "erased_students.jsonl").unlink()

    done = put_back(backup)

    assert later.exists()
    assert done.caught_up.erased == 1
    assert NAME not in everything()


def test_the_other_student_comes_back_whole(backup):
    def of_nor() -> list[object]:
        with scopes_disabled():
            return list(CheckIn.objects.filter(student__name="Nor").values())

    before = of_nor()
    erase(named(NAME), by=None, moment=NOW)

    put_back(backup)

    assert of_nor() == before
    assert len(before) == 1


def test_a_phone_that_was_signed_out_since_stays_out(studio):
    paired = makers.a_grant(named("Nor"))
    file = make()
    paired.grant.ended_at, paired.grant.state = NOW, GrantState.ENDED
    paired.grant.save()

    done = put_back(file)

    assert done.caught_up.signed_out == 1
    with scopes_disabled():
        grant = Grant.objects.get(public_id=paired.grant.public_id)
    assert (grant.state, grant.ended_at is None) == ("ended", False)


def test_a_studio_is_not_replaced_unless_that_was_said(backup):
    makers.a_student(Studio.objects.get(), name="Ada")
    before = everything()

    with pytest.raises(BackupError, match=r"There is a studio in .* REPLACE=yes"):
        put_back(backup, replace=False)

    assert everything() == before


def test_what_was_there_is_kept_aside(backup):
    makers.a_student(Studio.objects.get(), name="Ada")

    aside = put_back(backup).aside

    assert aside is not None
    assert "Ada" not in everything()
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(aside)) as old:
            assert ("Ada",) in old.execute("SELECT name FROM studio_student").fetchall()
    else:
        assert backups.verify(aside, say).rows["studio_student"] == 3


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL's is a backup of its own")
def test_two_restores_in_one_second_keep_both_of_what_was_there(backup):
    makers.a_student(Studio.objects.get(), name="Ada")

    first, second = (put_back(backup).aside for _ in range(2))

    assert first is not None
    assert second is not None
    assert first != second
    assert [b"Ada" in file.read_bytes() for file in (first, second)] == [True, False]


def test_an_empty_database_needs_no_such_word(backup):
    with scopes_disabled():
        for model in (CheckIn, Student, Studio):
            model.objects.all().delete()

    put_back(backup, replace=False)

    assert named("Nor").name == "Nor"


def test_an_empty_database_in_its_place_is_a_mistake_from_then_on(backup):
    put_back(backup)

    assert standing.note().exists()


def test_no_backup_is_made_of_a_studio_that_is_gone(backup, settings):
    expected.write(standing.note())
    with scopes_disabled():
        Student.objects.all().delete()
    Studio.objects.all().delete()

    with pytest.raises(BackupError, match=r"A studio is expected in .* make restore FILE="):
        make(NOW + timedelta(hours=1))

    assert [file.name for file in settings.BACKUPS.glob("*.zip")] == [backup.name]


def test_a_list_of_erased_students_that_was_damaged_stops_no_restore(backup):
    erase(named(NAME), by=None, moment=NOW)
    for folder in (settings.VAR_DIR, settings.BACKUPS):
        with (folder / "erased_students.jsonl").open("ab") as file:
            file.write(b"\xff\xfe half a li")

    assert put_back(backup).caught_up.erased == 1


@pytest.mark.battery
def test_a_spoiled_backup_is_always_found(backup, tmp_path, is_battery, figures, seed):
    whole, random = backup.read_bytes(), Random(seed)  # noqa: S311 - seeded on purpose
    cases = 400 if is_battery else 40
    found = 0
    for number in range(cases):
        spoiled = bytearray(whole)
        if number % 4 == 0:
            spoiled = spoiled[: random.randrange(len(whole))]
        else:
            at = random.randrange(len(whole))
            spoiled[at] ^= 1 << random.randrange(8)
        file = tmp_path / backup.name
        file.write_bytes(spoiled)
        try:
            backups._check(file, tmp_path, say)
        except BackupError:
            found += 1
        else:
            # A bit that only says how the archive was made may differ; what comes out may not.
            with zipfile.ZipFile(io.BytesIO(spoiled)) as one, zipfile.ZipFile(backup) as other:
                same = [one.read(name) == other.read(name) for name in other.namelist()]
            assert all(same)

    assert found > cases // 2
    figures.append(f"spoiled backups, seed {seed}: {cases} cases, {found} refused, 0 taken")


def test_a_bit_turned_over_in_what_an_archive_says_of_itself_is_no_traceback(
    backup, tmp_path, figures
):
    whole, entry = backup.read_bytes(), backup_file.ABOUT.encode()
    heading = whole.rindex(b"PK\x03\x04", 0, whole.index(entry))
    # The heading of the entry that is read first, and all that stands behind the last entry.
    places = [*range(heading, heading + 30 + len(entry))]
    places += range(whole.index(b"PK\x01\x02"), len(whole))
    file, refused = tmp_path / backup.name, 0
    for at in places:
        for bit in range(8):
            spoiled = bytearray(whole)
            spoiled[at] ^= 1 << bit
            file.write_bytes(spoiled)
            try:
                with backup_file.opened(file):
                    pass
            except BackupError:
                refused += 1

    assert refused > len(places)
    figures.append(f"archive's own words: {8 * len(places)} bits turned, {refused} refused")


@pytest.mark.parametrize("text", ["", "a shoebox", "PK\x03\x04"])
def test_a_file_that_is_no_backup_is_refused_in_words(tmp_path, text):
    file = tmp_path / "shoebox.zip"
    file.write_text(text)

    with pytest.raises(BackupError, match=r"shoebox\.zip cannot be read"):
        backups.verify(file, say)


def changed(file: Path, **fields: object) -> Path:
    """Make a backup that says something else of itself."""
    other = file.with_name("other.zip")
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(other, "w") as new:
        for name in old.namelist():
            text = old.read(name)
            if name == "about.json":
                text = json.dumps(json.loads(text) | fields).encode()
            new.writestr(name, text)
    return other


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"format": "shoebox"}, "this program reads edition 1"),
        ({"edition": 2}, "is of edition 2, and this program reads edition 1"),
        ({"made_at": "yesterday"}, "is no backup of Filar"),
        ({"colour": "brass"}, "is no backup of Filar"),
        ({"made_at": 5}, "is no backup of Filar"),
        ({"kind": "shoebox"}, "is no backup of Filar"),
        ({"kind": []}, "is no backup of Filar"),
        ({"migrations": None}, "is no backup of Filar"),
        ({"migrations": [["studio"]]}, "is no backup of Filar"),
        ({"migrations": [[["studio"], 1]]}, "is no backup of Filar"),
        ({"sums": None}, "is no backup of Filar"),
        ({"sums": {"about.json": 1}}, "is no backup of Filar"),
        ({"rows": []}, "is no backup of Filar"),
        ({"rows": {}}, "is no backup of Filar"),
        ({"migrations": [["studio", "0999_far_ahead"]]}, "another release.*0999_far_ahead"),
        ({"sums": {}}, "lacks a part, or has one too many"),
        ({"rows": {"studio_student": 9}}, "has other rows than it says"),
    ],
)
def test_a_backup_that_says_something_else_is_refused_in_words(backup, fields, words):
    with pytest.raises(BackupError, match=words):
        backups.verify(changed(backup, **fields), say)


@pytest.mark.parametrize(
    "about", ["[]", "null", "[" * 100_000, "\0", '{"kind": 9' + "9" * 5000 + "}"]
)
def test_an_archive_that_says_nothing_of_itself_is_refused_in_words(tmp_path, about):
    file = tmp_path / "shoebox.zip"
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr("about.json", about)

    with pytest.raises(BackupError, match="is no backup of Filar"):
        backups.verify(file, say)


def test_a_backup_without_its_tables_is_refused_in_words(backup):
    other = backup.with_name("other.zip")
    with zipfile.ZipFile(backup) as old, zipfile.ZipFile(other, "w") as new:
        said = json.loads(old.read("about.json"))
        new.writestr("about.json", json.dumps(said | {"sums": {}}))

    with pytest.raises(BackupError, match="lacks a part, or has one too many"):
        backups.verify(other, say)


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_a_backup_with_a_part_twice_is_refused_in_words(backup):
    other = backup.with_name("other.zip")
    with zipfile.ZipFile(backup) as old, zipfile.ZipFile(other, "w") as new:
        for name in [old.namelist()[0], *old.namelist()]:
            new.writestr(name, old.read(name))

    with pytest.raises(BackupError, match="lacks a part, or has one too many"):
        backups.verify(other, say)


def test_a_backup_of_the_other_kind_of_database_says_how_to_move(backup):
    kind = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]

    with pytest.raises(BackupError, match="move the studio with export_studio and import_studio"):
        put_back(changed(backup, kind=kind))


def test_without_room_nothing_is_begun(studio, settings, monkeypatch):
    monkeypatch.setattr(shutil, "disk_usage", lambda _folder: SimpleNamespace(free=9_000_000))

    with pytest.raises(BackupError, match=r"has 9 MB free and \d+ MB are needed: make room"):
        make()

    assert list(settings.BACKUPS.iterdir()) == []


@pytest.mark.parametrize("entries", [0, 1])
def test_a_disk_that_fills_up_leaves_the_older_backup_and_nothing_else(
    backup, monkeypatch, entries
):
    def fails(_self, *_args, **_kwargs):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(backup_file.Writer, "finish" if entries else "add", fails)

    with pytest.raises(CommandError, match="No space left on device"):
        call_command("backup", to=str(backup.parent), verbosity=0)

    assert [path.name for path in backup.parent.iterdir()] == [backup.name]
    backups.verify(backup, say)


def test_a_restore_that_fails_leaves_everything_as_it_was(backup, monkeypatch):
    makers.a_student(Studio.objects.get(), name="Ada")
    before = everything()

    def fails(*_args, **_kwargs):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(backups, "_bring_up_to_now", fails)
    with pytest.raises(OSError, match="No space"):
        put_back(backup)

    assert everything() == before
    file = standing.file_of_database()
    assert file is None or list(file.parent.glob(".unfinished*")) == []


def test_one_backup_at_a_time(backup):
    with (
        backup_file.alone(backup.parent),
        pytest.raises(BackupError, match="Another backup is at work"),
    ):
        make(NOW + timedelta(seconds=1))


def a_file(path: Path, *statements: str) -> Path:
    """Make a small SQLite file; schema changes by hand are how a damage is planted in it."""
    with closing(sqlite3.connect(path, isolation_level=None)) as database:
        for one in ("PRAGMA writable_schema=ON", *statements):
            database.execute(one)
    return path


def test_a_copy_whose_index_lacks_a_row_is_refused(tmp_path):
    file = a_file(
        tmp_path / "copy.sqlite3", "CREATE TABLE brass (name)",
        "CREATE INDEX by_name ON brass(name)",
        "INSERT INTO brass VALUES ('horn')",
        # Seen without its index a table takes rows that the index then lacks.
        "CREATE TABLE kept AS SELECT * FROM sqlite_master WHERE name = 'by_name'",
        "DELETE FROM sqlite_master WHERE name = 'by_name'",
    )  # fmt: skip
    a_file(
        file, "INSERT INTO brass VALUES ('tuba')",
        "INSERT INTO sqlite_master SELECT * FROM kept",
    )  # fmt: skip

    with pytest.raises(BackupError, match=r"The copy is damaged: row 2 missing from index by_name"):
        backup_sqlite.checked(file)


def test_a_copy_in_which_a_row_belongs_to_none_is_refused(tmp_path):
    file = a_file(
        tmp_path / "copy.sqlite3", "CREATE TABLE players (id INTEGER PRIMARY KEY)",
        "CREATE TABLE notes (player REFERENCES players(id))", "INSERT INTO notes VALUES (7)",
    )  # fmt: skip

    with pytest.raises(BackupError, match="a row of notes belongs to one that is not there"):
        backup_sqlite.checked(file)


def test_a_database_that_cannot_be_copied_is_said_in_words(settings, tmp_path, monkeypatch):
    file = tmp_path / "damaged.sqlite3"
    file.write_bytes(b"SQLite format 3\0" + b"brass" * 4000)
    monkeypatch.setattr(standing, "file_of_database", lambda: file)

    with pytest.raises(BackupError, match=r"damaged\.sqlite3 cannot be copied: .*Nothing has been"):
        make()


@given(st.sets(st.integers(0, 24 * 90), min_size=1, max_size=120))
def test_seven_days_and_four_weeks_stay_and_nothing_older_than_five_weeks(hours):
    moments = [NOW - timedelta(hours=number) for number in sorted(hours)]
    files = [Path(moment.strftime(backup_file.NAME)) for moment in moments]

    kept = set(files) - set(backup_file.to_forget(files, NOW))

    assert files[0] in kept
    earlier = [
        file
        for file, moment in zip(files, moments, strict=True)
        if file in kept and NOW - moment >= timedelta(days=1) and file != files[0]
    ]
    assert len(earlier) <= 7 + 4
    assert all(
        NOW - m <= timedelta(days=35)
        for f, m in zip(files, moments, strict=True)
        if f in kept and f != files[0]
    )
    days = list(dict.fromkeys(m.date() for m in moments if NOW - m <= timedelta(days=35)))[:7]
    newest_of = {m.date(): f for f, m in reversed(list(zip(files, moments, strict=True)))}
    assert {newest_of[day] for day in days} <= kept


def test_files_of_other_names_are_never_forgotten():
    files = [Path("notes.zip"), Path("filar-old.zip"), Path("filar-2026-02-30T00-00-00Z.zip")]

    assert backup_file.to_forget(files, NOW) == []


def test_old_databases_that_a_restore_put_aside_go_after_five_weeks(backup):
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL puts a backup aside, which goes with the backups")
    aside = put_back(backup).aside
    assert aside is not None

    make(datetime.now(UTC) + timedelta(days=34))
    assert aside.exists()
    make(datetime.now(UTC) + timedelta(days=36))
    assert not aside.exists()


def test_the_commands_say_what_they_have_done(studio, settings, capsys):
    call_command("backup")
    call_command("verify")
    file = backup_file.newest(settings.BACKUPS)
    call_command("restore", str(file), replace=True)

    out, err = capsys.readouterr()
    assert f"{file} (" in out
    assert "is sound: made on" in out
    assert "2 students, 2 check-ins" in out
    assert "Students who have been erased since and stay erased: 0" in out
    assert "Teachers sign in again, with the passwords of that day." in out
    assert "so nobody knows which phones" not in out
    assert "Reading it back …" in err


def test_on_a_fresh_computer_it_says_that_a_lost_phone_must_be_signed_out_again(backup, capsys):
    with scopes_disabled():
        for model in (CheckIn, Student, Studio):
            model.objects.all().delete()
    if file := standing.file_of_database():
        connection.close()
        file.unlink()

    call_command("restore", str(backup), verbosity=0)

    assert "so nobody knows which phones" in capsys.readouterr().out


def test_without_a_backup_there_is_nothing_to_verify(settings):
    with pytest.raises(CommandError, match=r"There is no backup in .*: name one"):
        call_command("verify", verbosity=0)


@pytest.mark.battery
def test_backups_made_while_people_write_are_each_of_one_moment(
    studio, is_battery, figures, monkeypatch
):
    """What is written in one transaction is in a copy together, or not at all."""
    times = 50 if is_battery else 4
    nor, stop, acknowledged = named("Nor"), threading.Event(), []
    with scopes_disabled():
        Discomfort.objects.all().delete()
        Interruption.objects.all().delete()

    def write() -> None:
        while not stop.is_set():
            with scopes_disabled(), transaction.atomic():
                told = makers.a_discomfort(nor)
                makers.an_interruption(nor, note=str(told.key))
            acknowledged.append(str(told.key))
        connections.close_all()

    writers = [threading.Thread(target=write) for _ in range(2)]
    for one in writers:
        one.start()
    try:
        for number in range(times):
            before = list(acknowledged)
            file = make(NOW + timedelta(minutes=number))
            told, notes = told_and_noted(file)
            assert told == notes
            assert set(before) <= told
    finally:
        stop.set()
        for one in writers:
            one.join()
    figures.append(
        f"backups under two writers: {times} of {times} consistent, "
        f"{len(acknowledged)} transactions meanwhile"
    )


def told_and_noted(file: Path) -> tuple[set[str], set[str]]:
    """Read what two tables of a backup say of the same transactions."""
    asked = {"studio_discomfort": "key", "studio_interruption": "note"}
    with zipfile.ZipFile(file) as archive:
        if connection.vendor != "sqlite":
            texts = {table: io.StringIO(archive.read(f"{table}.csv").decode()) for table in asked}
            told, noted = ({row[asked[t]] for row in csv.DictReader(texts[t])} for t in asked)
        else:
            scratch = file.with_suffix(".scratch")
            scratch.write_bytes(archive.read(backup_sqlite.ENTRY))
            with closing(sqlite3.connect(scratch)) as database:
                told, noted = (
                    {str(UUID(one)) for (one,) in database.execute(query)}
                    for query in (
                        "SELECT key FROM studio_discomfort",
                        "SELECT note FROM studio_interruption",
                    )
                )
            scratch.unlink()
    return told, noted
