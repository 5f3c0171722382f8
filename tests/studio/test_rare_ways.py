"""The rare ways through pairing, check-ins, erasure and backups, each of which somebody meets."""

import sqlite3
import zipfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from uuid import uuid4

import pytest
from django.db import DatabaseError, connection
from django.test import RequestFactory
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.models import CheckIn, SetAside
from progress.services.check_ins import move_check_in
from routines.models import Block
from studio import phone
from studio.models import Discomfort, Grant, Offer, Student
from studio.services import backup_file, backup_sqlite, backups, erase, erased_list, pairing
from studio.services.backup_file import BackupError
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
JSON = {"Accept": "application/json"}
only_sqlite = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="a file is SQLite's alone")


def say(_words: str) -> None:
    """Nobody listens in a test."""


@pytest.fixture
def nor(db):
    student = makers.a_student(makers.studio_of(makers.a_teacher()))
    makers.a_block(student)
    return student


def test_a_link_that_another_phone_takes_between_two_looks_sets_nothing_up(nor, monkeypatch):
    offer = makers.an_offer(nor, token="abc", made_at=NOW)

    def taken_meanwhile(*_student: object, **_more: object) -> int:
        Offer.objects.filter(pk=offer.pk).update(used_at=NOW)
        return 0

    monkeypatch.setattr(pairing, "_phones_in_use", taken_meanwhile)

    assert pairing.redeem("abc", label="iPhone", moment=NOW) is None
    with scopes_disabled():
        assert Grant.objects.count() == 0


def test_a_phone_that_shows_no_secret_for_a_grant_has_none(nor):
    grant = makers.a_grant(nor).grant

    assert phone.secret_of(RequestFactory().get("/"), grant) == ""


@pytest.mark.parametrize("key", ["", "none", "x" * 100, "\x00"])
def test_a_check_in_whose_key_is_none_is_refused_in_words(nor, key):
    held = makers.a_phone(makers.a_grant(nor))
    answers = makers.the_answers(day=makers.today(nor.studio)) | {"key": key}

    answer = held.post(f"/practice/{nor.public_id}/check-in", answers, headers=JSON)

    assert answer.status_code == 422
    assert answer.json()["words"]
    assert not CheckIn._base_manager.exists()


@pytest.mark.parametrize("day", ["never", "2026-13-40", "9" * 30])
def test_a_day_off_on_a_day_that_is_none_is_refused_in_words(nor, day):
    held = makers.a_phone(makers.a_grant(nor))
    address = f"/practice/{nor.public_id}/not-today/no-time"

    answer = held.post(address, {"day": day, "key": str(uuid4())}, headers=JSON)

    assert answer.status_code == 422
    assert answer.json()["words"]


@pytest.mark.parametrize(("headers", "status"), [(JSON, 422), ({}, 400)])
def test_a_hurt_that_cannot_be_read_says_so_to_whoever_sent_it(nor, headers, status):
    held = makers.a_phone(makers.a_grant(nor))

    answer = held.post(f"/practice/{nor.public_id}/hurt", {"key": "none"}, headers=headers)

    assert answer.status_code == status
    assert not Discomfort._base_manager.exists()


def test_a_check_in_that_is_moved_to_its_own_day_stays_as_it_is(nor):
    teacher = makers.a_teacher(nor.studio)
    with scope(studio=nor.studio):
        filed = makers.a_check_in(nor, block=Block.objects.get())

        move_check_in(
            filed, day=filed.day, today=makers.today(nor.studio), by=teacher, moment=timezone.now()
        )

        assert not SetAside.objects.exists()


def test_a_database_of_an_older_release_has_no_list_of_who_was_erased(db, monkeypatch):
    monkeypatch.setattr(connection.introspection, "table_names", list)

    assert erased_list.from_table() == []


def refuses() -> object:
    raise DatabaseError("database is locked")


def test_space_is_not_wiped_within_a_transaction(monkeypatch, caplog):
    inside = SimpleNamespace(in_atomic_block=True, vendor="sqlite", cursor=refuses)
    monkeypatch.setattr("studio.services.erase.connection", inside)

    erase.wipe_space()

    assert caplog.text == ""


@pytest.mark.django_db(transaction=True)
def test_space_that_cannot_be_wiped_now_is_logged_and_the_student_is_gone(monkeypatch, caplog):
    nor = makers.a_student(makers.a_studio(), name="Thistlewick")
    busy = SimpleNamespace(in_atomic_block=False, vendor=connection.vendor, cursor=refuses)
    monkeypatch.setattr("studio.services.erase.connection", busy)

    erase.erase(nor, by=None, moment=NOW)

    assert "cannot be wiped now: database is locked" in caplog.text
    assert "Thistlewick" not in caplog.text
    with scopes_disabled():
        assert not Student.objects.exists()


def test_a_backup_that_is_not_there_is_named(tmp_path):
    with (
        pytest.raises(BackupError, match="is not there: name a backup that is"),
        backup_file.opened(tmp_path / "none.zip"),
    ):
        pass


def test_a_part_that_is_whole_but_another_is_found_by_its_sum(tmp_path):
    file = tmp_path / "odd.zip"
    with zipfile.ZipFile(file, "w") as archive:
        archive.writestr(backup_file.ABOUT, "{}")
        archive.writestr(backup_file.DATABASE, b"other bytes than it says")
    sums = {backup_file.DATABASE: "0" * 64}
    about = backup_file.About(
        kind="sqlite", made_at=NOW.isoformat(), migrations=[], rows={}, sums=sums
    )

    with (
        zipfile.ZipFile(file) as archive,
        pytest.raises(BackupError, match=r"damaged in studio\.sqlite3: take another"),
    ):
        backup_file.check_sums(file, archive, about)


def a_file(folder: Path, *commands: str) -> Path:
    file = folder / "studio.sqlite3"
    with closing(sqlite3.connect(file)) as database:
        for command in commands:
            database.execute(command)
        database.commit()
    return file


def spoiled(file: Path) -> Path:
    """Write over the middle of a file."""
    content = bytearray(file.read_bytes())
    content[4096:8192] = b"\xff" * len(content[4096:8192])
    file.write_bytes(content)
    return file


ROWS = (
    "CREATE TABLE of (id INTEGER PRIMARY KEY)",
    "CREATE TABLE row (id INTEGER PRIMARY KEY, of_id INTEGER REFERENCES of (id), words TEXT)",
)


def test_a_copy_whose_pages_are_written_over_is_found(tmp_path):
    file = a_file(tmp_path, *ROWS, "INSERT INTO row (words) VALUES (hex(randomblob(9000)))")

    with pytest.raises(BackupError, match="The copy is damaged"):
        backup_sqlite.checked(spoiled(file))


def test_a_copy_that_is_no_database_is_found(tmp_path):
    (tmp_path / "studio.sqlite3").write_bytes(b"no database at all " * 500)

    with pytest.raises(BackupError, match="The copy is damaged"):
        backup_sqlite.checked(tmp_path / "studio.sqlite3")


def test_a_row_that_belongs_to_one_that_is_not_there_is_found(tmp_path):
    file = a_file(tmp_path, *ROWS, "INSERT INTO row (of_id) VALUES (7)")

    with pytest.raises(BackupError, match="a row of row belongs to one that is not there"):
        backup_sqlite.checked(file)


def test_a_copy_whose_rows_break_the_rules_of_their_table_is_found(tmp_path):
    file = a_file(
        tmp_path,
        "CREATE TABLE row (id INTEGER PRIMARY KEY, words TEXT)",
        "INSERT INTO row (words) VALUES (NULL)",
        "PRAGMA writable_schema = ON",
        "UPDATE sqlite_master SET sql = replace(sql, 'TEXT)', 'TEXT NOT NULL)')",
    )

    with pytest.raises(BackupError, match=r"The copy is damaged: NULL value in row\.words"):
        backup_sqlite.checked(file)


def test_a_table_of_an_older_release_need_not_be_there_to_be_left_out(tmp_path):
    file = a_file(tmp_path, *ROWS)

    backup_sqlite._leave_out(file)

    assert backup_sqlite.checked(file) == {"of": 0, "row": 0}


@pytest.mark.parametrize(
    ("commands", "has"),
    [
        ((), False),
        (("CREATE TABLE other (id)",), False),
        (("CREATE TABLE studio_studio (id)",), False),
        (("CREATE TABLE studio_studio (id)", "INSERT INTO studio_studio VALUES (1)"), True),
    ],
)
def test_a_file_has_a_studio_where_there_is_a_row_of_one(tmp_path, commands, has):
    assert backup_sqlite.has_a_studio(a_file(tmp_path, *commands)) is has


def test_a_file_that_cannot_be_read_may_hold_a_studio_and_answers_nothing(tmp_path):
    odd = tmp_path / "odd.sqlite3"
    odd.write_bytes(b"no database at all " * 500)

    assert backup_sqlite.has_a_studio(odd)
    assert backup_sqlite.asked(odd, "sqlite_master", "name") == ([], False)
    assert not backup_sqlite.has_a_studio(tmp_path / "none.sqlite3")
    assert backup_sqlite.asked(tmp_path / "none.sqlite3", "sqlite_master", "name") == ([], True)


@only_sqlite
@pytest.mark.django_db(transaction=True)
def test_a_second_backup_within_one_second_is_refused_and_the_first_stays(tmp_path):
    makers.a_studio()
    first = backups.make(tmp_path, moment=NOW, say=say)

    with pytest.raises(BackupError, match="is there already: try again in a second"):
        backups.make(tmp_path, moment=NOW, say=say)

    assert first.exists()


@only_sqlite
@pytest.mark.django_db(transaction=True)
def test_a_backup_that_says_other_rows_than_it_has_is_refused(tmp_path):
    makers.a_studio()
    file = backups.make(tmp_path, moment=NOW, say=say)

    with backup_file.opened(file) as (archive, about):
        about.rows["studio_studio"] += 1
        with (
            pytest.raises(BackupError, match="has other rows than it says"),
            backup_sqlite.unpacked(file, archive, about, tmp_path),
        ):
            pass


@pytest.mark.django_db
def test_a_backup_is_due_before_tables_change_where_there_is_a_studio(monkeypatch):
    assert not backups.is_due_before_changes()  # nothing there yet
    makers.a_studio()
    assert not backups.is_due_before_changes()  # nothing changes

    plan = [("a migration", False)]
    monkeypatch.setattr(
        backups, "MigrationExecutor",
        lambda _connection: SimpleNamespace(
            loader=SimpleNamespace(graph=SimpleNamespace(leaf_nodes=list)),
            migration_plan=lambda _targets: plan,
        ),
    )  # fmt: skip

    assert backups.is_due_before_changes()


@only_sqlite
@pytest.mark.django_db(transaction=True)
def test_a_backup_of_the_other_kind_of_database_is_refused_with_the_way_round(tmp_path):
    makers.a_studio()
    file = backups.make(tmp_path, moment=NOW, say=say)
    with zipfile.ZipFile(file) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts[backup_file.ABOUT] = parts[backup_file.ABOUT].replace(b'"sqlite"', b'"postgresql"')
    with zipfile.ZipFile(file, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)

    with pytest.raises(BackupError, match="move the studio with export_studio"):
        backups.restore(file, replace=True, moment=NOW + timedelta(days=1), say=say)
