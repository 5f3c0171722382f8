"""The gate before SQLite's lock: one at a time, nobody for long, and never in the way.

That a lock of flock(2) belongs to one opening of a file, goes with it, and that asking for one
without waiting fails with EWOULDBLOCK: Linux man-pages, flock(2).
"""

import errno
import fcntl
import gc
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from unittest.mock import Mock

import pytest
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.utils import ConnectionHandler, OperationalError

from config import databases
from config.sqlite import gate
from config.sqlite.gate import Gate
from tests import tree

# Longer than anything here takes on the slowest computer.
LONG_SECONDS = 60


@pytest.fixture
def other(tmp_path, monkeypatch) -> Iterator[Gate]:
    """Give somebody else's way through the gate of the folder; they ask once and do not wait."""
    monkeypatch.setattr(gate, "PATIENCE_SECONDS", -1)
    found = Gate(tmp_path)
    yield found
    found.close()


@pytest.fixture
def line(db, tmp_path) -> Iterator[BaseDatabaseWrapper]:
    with closing(sqlite3.connect(tmp_path / "studio.sqlite3")) as made:
        made.execute("CREATE TABLE brass (name)")
    found = databases.read(f"sqlite:///{tmp_path / 'studio.sqlite3'}", tmp_path)
    connection = ConnectionHandler({"default": found})["default"]
    connection.ensure_connection()
    yield connection
    connection.close()


class Clock:
    """A clock that goes on only while somebody sleeps."""

    def __init__(self) -> None:
        self.naps: list[float] = []

    def monotonic(self) -> float:
        return sum(self.naps) + 1e-6

    def sleep(self, seconds: float) -> None:
        self.naps.append(seconds)


def is_free(way: Gate) -> bool:
    free = way.enter()
    if free:
        way.leave()
    return free


def begin(line: BaseDatabaseWrapper) -> None:
    """Begin a transaction as atomic() does."""
    line.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)


def test_one_is_let_in_at_a_time(tmp_path, other):
    mine = Gate(tmp_path)

    assert mine.enter()
    assert not other.enter()
    mine.leave()
    assert other.enter()
    assert not mine.enter()
    other.leave()
    mine.close()


def test_who_waits_is_let_in_as_soon_as_it_is_free(tmp_path, monkeypatch):
    monkeypatch.setattr(gate, "PATIENCE_SECONDS", LONG_SECONDS)
    mine, other = Gate(tmp_path), Gate(tmp_path)
    assert other.enter()
    found: list[bool] = []
    waiting = threading.Thread(target=lambda: found.append(mine.enter()))

    waiting.start()
    time.sleep(0.05)
    assert found == []
    other.leave()
    waiting.join(LONG_SECONDS)

    assert found == [True]
    mine.close()
    other.close()


def test_nobody_is_kept_for_long(tmp_path, monkeypatch):
    clock = Clock()
    monkeypatch.setattr(gate, "time", clock)
    mine, other = Gate(tmp_path), Gate(tmp_path)
    assert other.enter()

    assert not mine.enter()
    assert clock.naps == pytest.approx([0.0005] * 200, abs=1e-9)

    # Whoever was not let in does not open it for others.
    mine.leave()
    assert not mine.enter()
    mine.close()
    other.close()


def test_each_folder_has_its_own(tmp_path, other):
    (tmp_path / "elsewhere").mkdir()
    mine = Gate(tmp_path / "elsewhere")

    assert mine.enter()
    assert is_free(other)
    mine.close()


def test_a_process_that_dies_inside_leaves_it_open(tmp_path, other):
    program = (
        "import sys, time; from pathlib import Path; from config.sqlite.gate import Gate\n"
        "way = Gate(Path(sys.argv[1])); print(way.enter(), flush=True); time.sleep(600)"
    )
    command = [sys.executable, "-c", program, str(tmp_path)]
    with subprocess.Popen(command, cwd=tree.TOP, stdout=subprocess.PIPE, text=True) as inside:
        try:
            assert inside.stdout is not None
            assert inside.stdout.readline() == "True\n"
            assert not is_free(other)
        finally:
            inside.kill()
        inside.wait(LONG_SECONDS)

    assert is_free(other)


def test_a_way_that_nobody_has_left_is_left_with_its_connection(tmp_path, other):
    mine = Gate(tmp_path)
    assert mine.enter()
    assert not is_free(other)

    del mine
    gc.collect()

    assert is_free(other)


def test_who_cannot_leave_goes_without_a_gate_from_then_on(tmp_path, monkeypatch, other):
    """Whatever has been written by then is written: no error may come after it."""
    mine = Gate(tmp_path)
    assert mine.enter()
    with monkeypatch.context() as broken:
        broken.setattr(fcntl, "flock", Mock(side_effect=OSError(errno.EIO, "I/O error")))
        mine.leave()

    assert is_free(other)
    assert not mine.enter()


def test_where_there_is_none_everybody_goes_on(tmp_path, monkeypatch):
    nowhere = Gate(tmp_path / "not there")
    here = Gate(tmp_path)

    def unknown(_file: int, _what: int) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(fcntl, "flock", unknown)

    for way in (nowhere, here):
        assert not way.enter()
        way.leave()
        way.close()
        assert not way.enter()


@pytest.mark.django_db
def test_whoever_writes_is_inside_until_it_is_committed(line, other):
    assert is_free(other)

    begin(line)
    assert not is_free(other)
    with line.cursor() as cursor:
        cursor.execute("INSERT INTO brass VALUES ('horn')")
    assert not is_free(other)
    line.commit()

    assert is_free(other)


@pytest.mark.django_db
@pytest.mark.parametrize("end", ["rollback", "close"])
def test_whoever_gives_up_leaves(line, other, end):
    begin(line)
    assert not is_free(other)

    getattr(line, end)()

    assert is_free(other)


@pytest.mark.django_db
@pytest.mark.parametrize("end", ["commit", "rollback", "close"])
def test_whoever_cannot_end_it_leaves(line, other, end):
    begin(line)
    real, line.connection = (
        line.connection,
        Mock(**{f"{end}.side_effect": sqlite3.OperationalError}),
    )
    line.in_atomic_block = False

    with pytest.raises(OperationalError):
        getattr(line, end)()

    assert is_free(other)
    line.connection = real


@pytest.mark.django_db
def test_whoever_gets_no_lock_leaves(line, other, tmp_path):
    line.connection.execute("PRAGMA busy_timeout=1")
    with closing(sqlite3.connect(tmp_path / "studio.sqlite3", isolation_level=None)) as holding:
        holding.execute("BEGIN IMMEDIATE")
        with pytest.raises(OperationalError, match="locked"):
            begin(line)

        assert is_free(other)


@pytest.mark.django_db
def test_whoever_is_not_let_in_writes_all_the_same(line, other):
    assert other.enter()

    begin(line)
    with line.cursor() as cursor:
        cursor.execute("INSERT INTO brass VALUES ('horn')")
    line.commit()
    line.set_autocommit(True)

    with line.cursor() as cursor:
        assert cursor.execute("SELECT name FROM brass").fetchall() == [("horn",)]
    mine = Gate(Path(line.settings_dict["NAME"]).parent)
    assert not mine.enter()  # it is still the other's
    mine.close()


@pytest.mark.django_db
def test_a_database_in_memory_has_none(tmp_path, monkeypatch, other):
    monkeypatch.chdir(tmp_path)  # where a file of such a name would lie
    found = databases.read("sqlite://:memory:", tmp_path)
    line = ConnectionHandler({"default": found})["default"]

    begin(line)

    assert is_free(other)
    line.close()


@pytest.mark.django_db
def test_no_way_in_is_left_behind(line):
    """However often a connection is opened, what it has open is closed with it."""
    opened = Path("/proc/self/fd")

    def ways() -> int:
        return sum(
            1
            for each in opened.iterdir()
            if each.exists() and each.resolve() == Path(line.settings_dict["NAME"]).parent
        )

    assert ways() == 1
    for _ in range(20):
        line.close()
        assert ways() == 0
        line.connect()
    assert ways() == 1
