"""Django's own SQLite, but for four things.

It makes no new file where a studio is expected. SQLite makes an empty database wherever a path
leads nowhere. After a wrong path, a disk that is not mounted or a slip of the hand, a studio would
look empty, and people would begin to fill it anew.

And a connection that lasts is let go where the file is not as it was when it was opened. Another
one may lie in its place, as after a restore: whoever wrote on would write into the old one. Or what
it says of its tables is spoiled: whoever knows them by heart would write into a file that nobody
can open any more.

And whoever begins a transaction by `atomic` waits at the gate (gate.py) before it asks SQLite for
the lock.

And it names what lies in the file, so that whoever has read it need not read it again.
"""

import sqlite3
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db.backends.sqlite3.base import DatabaseWrapper as SQLiteWrapper
from django.db.utils import DatabaseError, OperationalError

from config.sqlite.gate import Gate
from studio import expected

# As one text: that is quicker than the rows, and it is read for each request after a write.
TABLES = """
    SELECT group_concat(type || name || tbl_name || rootpage || coalesce(sql, ''), char(10))
    FROM sqlite_schema
"""
# Linux keeps the time of a change to 10 ms or less, an old disk to 1 s, a memory stick (FAT) 2 s.
SETTLED_SECONDS = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A file as it lay there: which one, whatever its name, and when it was written last."""

    which: tuple[int, int]
    written: tuple[int, int, int]
    is_settled: bool


class DatabaseWrapper(SQLiteWrapper):
    """A connection that opens a studio's file, and not an empty one in its place."""

    _seen: Seen | None = None
    _tables: Any = None
    _gate = Gate(None)

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        """Open the file; one that is missing or empty where a studio was is an error in words."""
        file = Path(conn_params["database"])
        is_empty = not file.exists() or file.stat().st_size == 0
        if is_empty and expected.beside(file).exists():
            words = expected.MISSING % {"where": file, "note": expected.beside(file)}
            raise OperationalError(words)
        # Asked before: one that comes in its place meanwhile is opened next time, and not missed.
        self._seen = _look_at(file)
        made = super().get_new_connection(conn_params)
        try:
            self._tables = _tables_of(made)
        except Exception:
            made.close()
            raise
        self._gate = Gate(None if self.is_in_memory_db() else file.parent)
        return made

    def is_usable(self) -> bool:
        """Whether the file that was opened lies in its place as it was, and nothing went wrong.

        Where nobody has written in it since the last look, all that was read of it still holds.
        Else it is let go: a file that somebody mends in its place, or copies another one over, does
        not always tell SQLite that it has changed. Where somebody holds the file for too long, that
        is the error of whoever asks: to open it anew would wait again.
        """
        before, now = self._seen, _look_at(Path(self.settings_dict["NAME"]))
        if self.errors_occurred or before is None or now is None or now.which != before.which:
            return False
        if before.is_settled and now.written == before.written:
            return True
        try:
            with self.wrap_database_errors:
                self.connection.execute("PRAGMA shrink_memory")
                is_as_it_was = bool(self._tables == _tables_of(self.connection))
        except DatabaseError as error:
            if _is_held(error):
                raise
            return False
        self._seen = now
        return is_as_it_was

    def what_is_seen(self) -> str | None:
        """Name what the next query sees: whenever the name is the same, so is all that lies there.

        It is which file it is and when it was written last. None where that tells too little: a
        transaction is open, there is a write-ahead log, whose writes leave the file as it is, or
        the file is not just as it was when the request began, and written seconds before that.
        """
        before = self._seen
        is_open = self.connection is not None and not self.connection.in_transaction
        if before is None or not before.is_settled or not is_open:
            return None
        # A log lies beside the file itself, and not beside a link to it.
        file = Path(self.settings_dict["NAME"]).resolve()
        if _look_at(file) != before or Path(f"{file}-wal").exists():
            return None
        return " ".join(map(str, (*before.which, *before.written)))

    def _start_transaction_under_autocommit(self) -> None:
        self._gate.enter()
        try:
            super()._start_transaction_under_autocommit()  # type: ignore[misc] # not in the stubs
        except BaseException:
            self._gate.leave()
            raise

    def _commit(self) -> None:
        try:
            super()._commit()  # type: ignore[misc] # not in the stubs
        finally:
            self._gate.leave()

    def _rollback(self) -> None:
        try:
            super()._rollback()  # type: ignore[misc] # not in the stubs
        finally:
            self._gate.leave()

    def _close(self) -> None:
        try:
            super()._close()  # type: ignore[misc] # not in the stubs
        finally:
            self._gate.close()


def _look_at(file: Path) -> Seen | None:
    """Look which file it is and when it was written last; None for none.

    What is written later has a later time of change, as no program can set that back (but on FAT,
    which keeps only the time of the content), unless it comes within the same tick of the clock. So
    a file just written is not settled yet. Two kinds of write keep the time at which they began: a
    single one that lasts longer than that, and what a program changes in memory that it has mapped
    since before. Those may show only when the connection ends, or after the next write.
    """
    try:
        found = file.stat()
    except OSError:
        return None
    return Seen(
        which=(found.st_dev, found.st_ino),
        written=(found.st_ctime_ns, found.st_mtime_ns, found.st_size),
        is_settled=time.time() - found.st_ctime > SETTLED_SECONDS,
    )


def _is_held(error: DatabaseError) -> bool:
    """Whether somebody else holds the file; the kind stands in the last byte of SQLite's code."""
    return getattr(error.__cause__, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY


def _tables_of(line: Any) -> Any:
    """Read what the file says of its tables and indexes; the library itself reads it only once."""
    return line.execute(TABLES).fetchall()
