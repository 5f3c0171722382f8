"""How the program writes to its databases, and that an empty one is not taken for a studio.

Which SQLite may keep a write-ahead log: the release notes of SQLite 3.51.3 name the versions in
which two connections could damage it (3.7.0 to 3.51.2).
"""

import os
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.backends.sqlite3.base import DatabaseWrapper as SQLiteWrapper
from django.db.utils import (
    ConnectionHandler,
    DatabaseError,
    NotSupportedError,
    OperationalError,
)

from config import databases
from config.sqlite import base as sqlite_base
from studio import expected
from studio.services import erase
from tests import both


@pytest.mark.parametrize(
    ("version", "journal"),
    [
        ((3, 40, 1), "DELETE"),
        ((3, 51, 2), "DELETE"),
        ((3, 51, 3), "WAL"),
        ((3, 52, 0), "WAL"),
        ((4, 0, 0), "WAL"),
    ],
)
def test_only_a_library_without_the_fault_keeps_a_write_ahead_log(monkeypatch, version, journal):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", version)

    assert databases.journal_mode() == journal
    assert f"journal_mode={journal};" in databases.sqlite_options()["init_command"]


@pytest.mark.django_db
def test_the_open_connection_is_set_so_that_nothing_acknowledged_is_lost():
    def asked(name: str) -> object:
        with connection.cursor() as cursor:
            cursor.execute(f"PRAGMA {name}" if connection.vendor == "sqlite" else f"SHOW {name}")
            row = cursor.fetchone()
        return row[0] if row else None

    if connection.vendor == "sqlite":
        names = ("journal_mode", "synchronous", "foreign_keys", "secure_delete", "busy_timeout")
        expected_values = [databases.journal_mode().lower(), 2, 1, 1, 20_000]
        assert [asked(name) for name in names] == expected_values
        assert asked("mmap_size") in {None, 0}
    else:
        assert [asked("synchronous_commit"), asked("lock_timeout")] == ["on", "20s"]


@pytest.mark.parametrize(
    ("address", "sslmode"),
    [
        ("postgres://filar@127.0.0.1/studio", None),
        ("postgres://filar@/studio", None),
        ("postgres://filar@%2Frun%2Fpostgresql/studio", None),
        ("postgres://filar:x@db.example/studio", "require"),
        ("postgres://filar:x@db.example/studio?sslmode=verify-full", "verify-full"),
    ],
)
def test_the_way_to_another_computers_postgresql_is_encrypted(tmp_path, address, sslmode):
    options = databases.read(address, tmp_path)["OPTIONS"]

    assert options.get("sslmode") == sslmode
    assert "synchronous_commit=on" in options["options"]


@pytest.mark.parametrize(
    ("address", "expected_value"),
    [
        ("postgres://filar@localhost/filar", databases.PLANNED_BY_ITSELF),
        ("postgres://filar@localhost/filar?prepare_threshold=none", None),
    ],
)
def test_plans_are_kept_unless_a_pooler_stands_between(tmp_path, address, expected_value):
    assert databases.read(address, tmp_path)["OPTIONS"]["prepare_threshold"] == expected_value


@pytest.mark.parametrize("given", ["None", "off"])
def test_what_is_no_number_of_times_is_refused_in_words(tmp_path, given):
    with pytest.raises(ImproperlyConfigured, match=f"prepare_threshold={given}: write none"):
        databases.read(f"postgres://filar@localhost/filar?prepare_threshold={given}", tmp_path)


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite keeps no plans of a server's")
@pytest.mark.django_db
def test_what_is_asked_a_third_time_is_planned_no_more():
    # Where PostgreSQL lists them: https://www.postgresql.org/docs/15/view-pg-prepared-statements.html
    kept = "SELECT count(*) FROM pg_prepared_statements WHERE statement LIKE '%%|| '' in b%%'"
    found = []
    with connection.cursor() as cursor:
        for number in range(4):
            cursor.execute("SELECT %s || ' in brass'", [str(number)])
            said = cursor.fetchone()[0]
            cursor.execute(kept)
            found.append((said, cursor.fetchone()[0] > 0))

    assert [said for said, _ in found] == [f"{number} in brass" for number in range(4)]
    assert [is_kept for _, is_kept in found] == [False, False, True, True]


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite keeps no plans of a server's")
@pytest.mark.django_db(transaction=True)
def test_plans_that_fit_no_longer_are_left_behind_with_their_connection():
    settings = {**connection.settings_dict, **databases.LASTING}
    lasting = ConnectionHandler({"default": settings})["default"]
    with connection.cursor() as other:
        other.execute("CREATE TABLE brass (name varchar(20))")
        other.execute("INSERT INTO brass VALUES ('horn')")
        try:
            before = [names_read_by(lasting) for _ in range(4)]
            other.execute("ALTER TABLE brass ALTER COLUMN name TYPE varchar(30)")
            with pytest.raises(NotSupportedError, match="must not change result type"):
                names_read_by(lasting)
            after = names_read_by(lasting)
        finally:
            lasting.close()
            other.execute("DROP TABLE brass")

    assert (before, after) == ([["horn"]] * 4, ["horn"])


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has one way to write a day")
@pytest.mark.django_db(transaction=True)
def test_a_day_is_written_alike_whatever_the_server_s_own_way_is():
    # 2026-11-20 and all digits: https://www.postgresql.org/docs/15/runtime-config-client.html
    ways = {"datestyle": "German", "extra_float_digits": "0"}
    other = connection.copy()
    try:
        with connection.cursor() as cursor:
            for name, way in ways.items():
                cursor.execute(f"ALTER ROLE CURRENT_USER SET {name} = '{way}'")
        with other.cursor() as cursor:
            cursor.execute("SELECT date '2026-11-20'::text, (0.1::float8 + 0.2::float8)::text")
            found = cursor.fetchone()
    finally:
        other.close()
        with connection.cursor() as cursor:
            for name in ways:
                cursor.execute(f"ALTER ROLE CURRENT_USER RESET {name}")

    assert found == ("2026-11-20", "0.30000000000000004")


def test_what_the_address_says_of_postgresql_comes_last_and_wins(tmp_path):
    found = databases.read("postgres:///studio?options=-c%20lock_timeout%3D5s", tmp_path)

    assert found["OPTIONS"]["options"].endswith("-c lock_timeout=5s")


@pytest.fixture
def _without_a_log(monkeypatch) -> None:
    """Let SQLite be one of those in which a connection lasts."""
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 40, 1))


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.parametrize("address", ["", "postgres://filar@localhost/filar"])
def test_a_connection_lasts_and_is_looked_at_before_each_request(tmp_path, address):
    found = databases.read(address, tmp_path)

    assert found["CONN_MAX_AGE"] > 0
    assert found["CONN_HEALTH_CHECKS"] is True


def test_no_connection_lasts_whose_end_would_delete_the_log_of_a_restored_file(
    monkeypatch, tmp_path
):
    # The log is deleted by its name: sqlite3WalClose in SQLite's wal.c.
    monkeypatch.setattr(sqlite3, "sqlite_version_info", databases.WRITE_AHEAD_SINCE)

    assert "CONN_MAX_AGE" not in databases.read("", tmp_path)


@pytest.mark.parametrize("address", ["a shoebox", "mysql://u@h/x", "sqlserver://h", "oracle://h/x"])
def test_other_databases_are_refused_in_words(tmp_path, address):
    with pytest.raises(ImproperlyConfigured, match="write sqlite:///file or postgres://user@host"):
        databases.read(address, tmp_path)


def opened(file) -> BaseDatabaseWrapper:
    settings = {
        "ENGINE": databases.SQLITE,
        "NAME": str(file),
        "OPTIONS": databases.sqlite_options(),
        **databases.LASTING,
    }
    return ConnectionHandler({"default": settings})["default"]


@pytest.mark.django_db
@pytest.mark.parametrize(("version", "journal"), [((3, 40, 1), "delete"), ((3, 51, 3), "wal")])
def test_a_file_from_another_computer_gets_the_journal_of_this_one(
    monkeypatch, tmp_path, version, journal
):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", version)
    file = tmp_path / "studio.sqlite3"
    with closing(sqlite3.connect(file)) as other:
        other.execute("PRAGMA journal_mode=" + {"delete": "wal", "wal": "delete"}[journal])
        other.execute("CREATE TABLE brass (name)")

    made = opened(file)
    with made.cursor() as cursor:
        cursor.execute("PRAGMA journal_mode")
        found = cursor.fetchone()[0]
    made.close()

    assert found == journal


def file_with(where: Path, name: str) -> Path:
    with closing(sqlite3.connect(where)) as made, made:
        made.execute("CREATE TABLE brass (name)")
        made.execute("INSERT INTO brass VALUES (?)", [name])
    return where


def names_read_by(lasting: BaseDatabaseWrapper) -> list[str]:
    lasting.close_if_unusable_or_obsolete()  # as Django does when a request begins
    with lasting.cursor() as cursor:
        cursor.execute("SELECT name FROM brass")
        return [name for (name,) in cursor.fetchall()]


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
def test_the_next_request_opens_the_file_that_a_restore_has_put_there(tmp_path, until_trusted):
    lasting = opened(file_with(tmp_path / "studio.sqlite3", "horn"))
    before = names_read_by(lasting)
    until_trusted(lasting)
    opened_first = lasting.connection
    again = names_read_by(lasting)
    assert lasting.connection is opened_first

    (tmp_path / "studio.sqlite3").rename(tmp_path / "put-aside.sqlite3")
    file_with(tmp_path / "restored.sqlite3", "tuba").rename(tmp_path / "studio.sqlite3")
    after = names_read_by(lasting)
    with lasting.cursor() as cursor:
        cursor.execute("INSERT INTO brass VALUES ('cornet')")
    lasting.close()

    assert (before, again, after) == (["horn"], ["horn"], ["tuba"])
    assert names_read_by(opened(tmp_path / "put-aside.sqlite3")) == ["horn"]
    assert names_read_by(opened(tmp_path / "studio.sqlite3")) == ["tuba", "cornet"]


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
def test_a_file_that_comes_while_the_one_before_is_opened_is_not_missed(monkeypatch, tmp_path):
    file = file_with(tmp_path / "studio.sqlite3", "horn")
    other = file_with(tmp_path / "restored.sqlite3", "tuba")
    lasting, opens = opened(file), SQLiteWrapper.get_new_connection

    def and_then_another_comes(made: BaseDatabaseWrapper, params: dict[str, Any]) -> Any:
        line = opens(made, params)
        if other.exists():
            other.rename(file)
        return line

    monkeypatch.setattr(SQLiteWrapper, "get_new_connection", and_then_another_comes)
    found = [names_read_by(lasting) for _ in range(2)]
    lasting.close()

    assert found == [["horn"], ["tuba"]]


@pytest.fixture
def lies_there(monkeypatch):
    """Set the clock so that a file was written right now, or that it has lain there for long.

    The second waits for ten ticks of the real clock besides: what is written then is told apart.
    """

    def set_clock(*, is_settled: bool) -> None:
        if is_settled:
            time.sleep(0.1)
        clock = SimpleNamespace(time=lambda: time.time() + 60 if is_settled else 0.0)
        monkeypatch.setattr(sqlite_base, "time", clock)

    set_clock(is_settled=False)
    return set_clock


@pytest.fixture(params=["just written", "settled"])
def until_trusted(request, lies_there):
    """Ask a file once more when it has lain there for a while, or not: either way it is noticed."""

    def wait(lasting: BaseDatabaseWrapper) -> None:
        if request.param == "settled":
            lies_there(is_settled=True)
            names_read_by(lasting)
            assert "PRAGMA shrink_memory" not in said_to(lasting)

    return wait


def said_to(lasting: BaseDatabaseWrapper) -> list[str]:
    """List what the library is told by the next request."""
    said: list[str] = []
    lasting.connection.set_trace_callback(said.append)
    names_read_by(lasting)
    lasting.connection.set_trace_callback(None)
    return said


@pytest.mark.parametrize(
    ("later", "is_settled"), [(0.0, False), (1.0, False), (1.99, False), (2.01, False), (9.0, True)]
)
def test_a_file_is_not_settled_while_another_write_may_get_the_same_time(
    monkeypatch, tmp_path, later, is_settled
):
    """FAT keeps the time of a write to 2 s (Microsoft, "File Times"), Linux its own to 10 ms."""
    file = tmp_path / "studio.sqlite3"
    file.touch()
    clock = SimpleNamespace(time=lambda: file.stat().st_ctime + later)
    monkeypatch.setattr(sqlite_base, "time", clock)

    seen = sqlite_base._look_at(file)

    assert seen is not None
    assert seen.is_settled is is_settled


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
@pytest.mark.parametrize("are_times_kept", [False, True])
def test_a_file_that_another_is_copied_over_in_its_place_is_read_anew(
    tmp_path, until_trusted, are_times_kept
):
    file = file_with(tmp_path / "studio.sqlite3", "horn")
    lasting = opened(file)
    before, times = names_read_by(lasting), file.stat()
    until_trusted(lasting)

    # Changed as often as the first: so SQLite itself, which counts the changes, sees none.
    file.write_bytes(file_with(tmp_path / "other.sqlite3", "tuba").read_bytes())
    if are_times_kept:
        os.utime(file, ns=(times.st_atime_ns, times.st_mtime_ns))

    assert (before, names_read_by(lasting)) == (["horn"], ["tuba"])
    lasting.close()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
def test_what_was_read_of_a_file_is_kept_until_somebody_writes(lies_there, tmp_path):
    lasting = opened(file_with(tmp_path / "studio.sqlite3", "horn"))
    names_read_by(lasting)

    lies_there(is_settled=True)
    settling, settled = said_to(lasting), said_to(lasting)
    with closing(sqlite3.connect(tmp_path / "studio.sqlite3")) as other, other:
        other.execute("INSERT INTO brass VALUES ('cornet')")
    written = said_to(lasting)

    looked = ["PRAGMA shrink_memory" in said for said in (settling, settled, written)]
    assert looked == [True, False, True]
    assert names_read_by(lasting) == ["horn", "cornet"]
    lasting.close()


WRITTEN: dict[str, Callable[[Path], object]] = {
    "by another program": lambda file: written(file, "INSERT INTO brass VALUES ('cornet')"),
    "and taken back": lambda file: written(
        file, "INSERT INTO brass VALUES ('cornet')", "DELETE FROM brass WHERE name = 'cornet'"
    ),
    "copied over": lambda file: file.write_bytes(file.read_bytes()),
    "replaced": lambda file: file_with(file.with_name("other"), "tuba").replace(file),
    "taken away": lambda file: file.rename(file.with_name("elsewhere")),
}


def written(file: Path, *statements: str) -> None:
    for statement in statements:
        with closing(sqlite3.connect(file)) as other, other:
            other.execute(statement)


def name_of_what(lasting: BaseDatabaseWrapper) -> str | None:
    assert isinstance(lasting, sqlite_base.DatabaseWrapper)
    return lasting.what_is_seen()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
@pytest.mark.parametrize("way", sorted(WRITTEN))
def test_what_is_seen_has_one_name_until_somebody_writes(lies_there, tmp_path, way):
    file = file_with(tmp_path / "studio.sqlite3", "horn")
    lasting, another = opened(file), opened(file)
    names_read_by(lasting), names_read_by(another)
    assert name_of_what(lasting) is None  # somebody may write in this very tick

    lies_there(is_settled=True)
    assert name_of_what(lasting) is None  # it was read when it was just written
    names_read_by(lasting), names_read_by(another)
    first = name_of_what(lasting)
    names_read_by(lasting)
    assert first is not None
    assert name_of_what(lasting) == first == name_of_what(another)

    lies_there(is_settled=False)
    WRITTEN[way](file)
    assert name_of_what(lasting) is None
    lies_there(is_settled=True)
    # What lies there now is not surely what this connection reads until the next request.
    assert name_of_what(lasting) is None
    if way != "taken away":
        names_read_by(lasting)
        assert name_of_what(lasting) not in {first, None}
    lasting.close()
    another.close()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
def test_what_is_seen_has_no_name_where_the_file_does_not_tell(lies_there, tmp_path):
    file = file_with(tmp_path / "studio.sqlite3", "horn")
    lasting = opened(file)
    assert name_of_what(lasting) is None  # nothing was opened yet
    lies_there(is_settled=True)
    names_read_by(lasting)
    assert name_of_what(lasting) is not None

    with lasting.cursor() as cursor:
        cursor.execute("BEGIN")
        assert name_of_what(lasting) is None
        cursor.execute("ROLLBACK")
    assert name_of_what(lasting) is not None
    lasting.close()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
@pytest.mark.parametrize("is_linked", [False, True])
def test_what_is_seen_has_no_name_beside_a_log(lies_there, tmp_path, is_linked):
    """A log lies beside the file itself (https://sqlite.org/wal.html, "The WAL File")."""
    (tmp_path / "elsewhere").mkdir()
    file = file_with(tmp_path / "elsewhere" / "studio.sqlite3", "horn")
    if is_linked:
        (tmp_path / "studio.sqlite3").symlink_to(file)
    lasting = opened(tmp_path / "studio.sqlite3" if is_linked else file)
    lies_there(is_settled=True)
    names_read_by(lasting)
    assert name_of_what(lasting) is not None

    # Somebody keeps a log from now on: what they write stands there.
    with closing(sqlite3.connect(file, isolation_level=None)) as other:
        other.execute("PRAGMA journal_mode=WAL")
        lies_there(is_settled=True)
        names_read_by(lasting)
        other.execute("INSERT INTO brass VALUES ('cornet')")
        assert names_read_by(lasting) == ["horn", "cornet"]
        assert name_of_what(lasting) is None
    lasting.close()


@pytest.mark.usefixtures("_without_a_log", "lies_there")
@pytest.mark.django_db
def test_a_file_that_is_written_twice_in_one_tick_of_the_clock_is_read_anew(monkeypatch, tmp_path):
    file = file_with(tmp_path / "studio.sqlite3", "horn")
    lasting, in_this_tick = opened(file), sqlite_base._look_at(file)
    monkeypatch.setattr(sqlite_base, "_look_at", lambda _file: in_this_tick)
    before = names_read_by(lasting)

    file.write_bytes(file_with(tmp_path / "other.sqlite3", "tuba").read_bytes())

    assert (before, names_read_by(lasting)) == (["horn"], ["tuba"])
    lasting.close()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
@pytest.mark.parametrize(
    ("is_there", "spoiled"),
    [(b"CREATE TABLE brass", b"CREATE CABLE brass"), (b"brassbrass", b"brazzbrass")],
)
def test_a_file_whose_tables_are_spoiled_is_not_written_on(
    tmp_path, until_trusted, is_there, spoiled
):
    file = file_with(tmp_path / "studio.sqlite3", "horn")
    lasting, content = opened(file), file.read_bytes()
    assert names_read_by(lasting) == ["horn"]
    until_trusted(lasting)

    assert is_there in content
    file.write_bytes(content.replace(is_there, spoiled))

    with pytest.raises(DatabaseError, match="malformed"):
        names_read_by(lasting)
    file.write_bytes(content)
    assert names_read_by(lasting) == ["horn"]
    lasting.close()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
def test_a_table_that_a_new_release_adds_is_known_to_the_next_request(tmp_path, until_trusted):
    file = file_with(tmp_path / "studio.sqlite3", "horn")
    lasting = opened(file)
    assert names_read_by(lasting) == ["horn"]
    until_trusted(lasting)

    with closing(sqlite3.connect(file)) as other:
        other.execute("CREATE TABLE woodwind (name TEXT)")
        other.execute("ALTER TABLE brass ADD COLUMN pitch TEXT")

    assert names_read_by(lasting) == ["horn"]
    with lasting.cursor() as cursor:
        cursor.execute("SELECT pitch FROM brass UNION SELECT name FROM woodwind")
    lasting.close()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
def test_a_connection_with_which_something_went_wrong_is_not_kept(tmp_path):
    lasting = opened(file_with(tmp_path / "studio.sqlite3", "horn"))
    assert names_read_by(lasting) == ["horn"]
    first = lasting.connection

    with pytest.raises(OperationalError, match="no such table"), lasting.cursor() as cursor:
        cursor.execute("SELECT name FROM woodwind")

    assert names_read_by(lasting) == ["horn"]
    assert lasting.connection is not first
    lasting.close()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
def test_a_file_that_somebody_holds_is_waited_for_once(tmp_path):
    lasting = opened(file_with(tmp_path / "studio.sqlite3", "horn"))
    assert names_read_by(lasting) == ["horn"]
    first = lasting.connection
    first.execute("PRAGMA busy_timeout=50")

    with closing(sqlite3.connect(tmp_path / "studio.sqlite3", isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        with pytest.raises(OperationalError, match="locked"):
            names_read_by(lasting)
        assert lasting.connection is first

    assert names_read_by(lasting) == ["horn"]
    lasting.close()


@pytest.mark.usefixtures("_without_a_log")
@pytest.mark.django_db
def test_a_studio_that_is_taken_away_is_not_written_on(tmp_path):
    file = file_with(tmp_path / "studio.sqlite3", "horn")
    expected.beside(file).touch()
    lasting = opened(file)
    assert names_read_by(lasting) == ["horn"]

    file.unlink()

    with pytest.raises(OperationalError, match="A studio is expected in"):
        names_read_by(lasting)
    assert not file.exists()


def with_a_log_of_one_erased(monkeypatch, file: Path) -> BaseDatabaseWrapper:
    """Open a file with a write-ahead log, in which somebody's name stood."""
    monkeypatch.setattr(sqlite3, "sqlite_version_info", databases.WRITE_AHEAD_SINCE)
    made = opened(file_with(file, "horn"))
    monkeypatch.setattr(erase, "connection", made)
    with made.cursor() as cursor:
        cursor.execute("INSERT INTO brass VALUES ('Thistlewick')")
        cursor.execute("DELETE FROM brass WHERE name = 'Thistlewick'")
    assert b"Thistlewick" in bytes_of(file)
    return made


def bytes_of(file: Path) -> bytes:
    return b"".join(part.read_bytes() for part in file.parent.glob(f"{file.name}*"))


@pytest.mark.django_db
def test_a_write_ahead_log_keeps_nothing_of_who_was_erased(monkeypatch, tmp_path):
    file = tmp_path / "studio.sqlite3"
    made = with_a_log_of_one_erased(monkeypatch, file)
    # Another process's connection, which lasts: so the log is not put away by itself.
    other = opened(file)
    assert names_read_by(other) == ["horn"]

    erase.wipe_space()

    assert b"Thistlewick" not in bytes_of(file)
    assert names_read_by(other) == ["horn"]
    made.close()
    other.close()


@pytest.mark.django_db
def test_a_log_that_somebody_goes_on_reading_is_said_to_be_there(monkeypatch, caplog, tmp_path):
    file = tmp_path / "studio.sqlite3"
    made = with_a_log_of_one_erased(monkeypatch, file)
    with made.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout=50")
    with closing(sqlite3.connect(file, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT * FROM brass").fetchall()

        erase.wipe_space()

    assert "cannot be emptied now: somebody reads" in caplog.text
    made.close()


@pytest.mark.django_db
@pytest.mark.parametrize("is_there", [False, True])
def test_no_empty_file_takes_the_place_of_a_studio(tmp_path, is_there):
    file = tmp_path / "studio.sqlite3"
    if is_there:
        file.touch()
    expected.write(expected.beside(file))

    with pytest.raises(OperationalError, match=r"A studio is expected in .*make restore FILE"):
        opened(file).connect()

    assert file.exists() is is_there
    assert not is_there or file.stat().st_size == 0


@pytest.mark.django_db
def test_a_first_start_makes_its_file(tmp_path):
    made = opened(tmp_path / "studio.sqlite3")

    made.connect()
    made.close()

    assert (tmp_path / "studio.sqlite3").exists()


def test_each_postgresql_database_has_a_note_of_its_own(tmp_path):
    notes = {
        expected.note_of({"ENGINE": databases.POSTGRESQL, "HOST": host, "NAME": name}, tmp_path)
        for host in ("", "db.example")
        for name in ("a", "b")
    }

    assert len(notes) == 4
    assert {note.parent for note in notes} == {tmp_path}


def a_test(file: str, *marks: pytest.MarkDecorator, asks_for: tuple[str, ...] = ()) -> Any:
    """Stand in for a collected test of that file, with its marks and all its fixtures."""
    found = {mark.mark.name: mark.mark for mark in marks}
    return SimpleNamespace(
        path=Path("tests") / file, fixturenames=list(asks_for), get_closest_marker=found.get
    )


ROLLED_BACK, COMMITTED = pytest.mark.django_db, pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize(
    ("item", "is_tried"),
    [
        (a_test("studio/test_pairing.py", ROLLED_BACK), True),
        # Many tests get at the database by a fixture of their own alone.
        (a_test("studio/test_pairing.py", asks_for=("nor", "db")), True),
        (a_test("studio/test_pairing.py", asks_for=("tmp_path",)), False),
        (a_test("studio/test_parents.py", ROLLED_BACK), False),
        (a_test("studio/test_parents.py", asks_for=("db",)), False),
        (a_test("studio/test_parents.py", COMMITTED), True),
        (a_test("keeping/test_kills.py", COMMITTED), False),
        (a_test("offline/test_outbox.py", COMMITTED, pytest.mark.browser), False),
    ],
)
def test_what_the_database_can_decide_is_tried_on_both(item, is_tried):
    assert both.is_decided_by_the_database(item) is is_tried
