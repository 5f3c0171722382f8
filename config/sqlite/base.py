"""Django's own SQLite, but for two things.

It makes no new file where a studio is expected. SQLite makes an empty database wherever a path
leads nowhere. After a wrong path, a disk that is not mounted or a slip of the hand, a studio would
look empty, and people would begin to fill it anew.

And a connection that lasts is let go where the file is not as it was when it was opened. Another
one may lie in its place, as after a restore: whoever wrote on would write into the old one. Or what
it says of its tables is spoiled: whoever knows them by heart would write into a file that nobody
can open any more.
"""

import sqlite3
from pathlib import Path
from typing import Any

from django.db.backends.sqlite3.base import DatabaseWrapper as SQLiteWrapper
from django.db.utils import DatabaseError, OperationalError

from studio import expected

# As one text: that is quicker than the rows, and it is read for each request.
TABLES = """
    SELECT group_concat(type || name || tbl_name || rootpage || coalesce(sql, ''), char(10))
    FROM sqlite_schema
"""


class DatabaseWrapper(SQLiteWrapper):
    """A connection that opens a studio's file, and not an empty one in its place."""

    _file: tuple[int, int] | None = None
    _tables: Any = None

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        """Open the file; one that is missing or empty where a studio was is an error in words."""
        file = Path(conn_params["database"])
        is_empty = not file.exists() or file.stat().st_size == 0
        if is_empty and expected.beside(file).exists():
            words = expected.MISSING % {"where": file, "note": expected.beside(file)}
            raise OperationalError(words)
        # Asked before: one that comes in its place meanwhile is opened next time, and not missed.
        self._file = _which(file)
        made = super().get_new_connection(conn_params)
        try:
            self._tables = _tables_of(made)
        except Exception:
            made.close()
            raise
        return made

    def is_usable(self) -> bool:
        """Whether the file that was opened lies in its place as it was, and nothing went wrong.

        What was read of it is let go in any case: a file that somebody mends in its place, or
        copies another one over, does not always tell that it has changed. Where somebody holds
        the file for too long, that is the error of whoever asks: to open it anew would wait again.
        """
        if self.errors_occurred or self._file != _which(Path(self.settings_dict["NAME"])):
            return False
        try:
            with self.wrap_database_errors:
                self.connection.execute("PRAGMA shrink_memory")
                return bool(self._tables == _tables_of(self.connection))
        except DatabaseError as error:
            if _is_held(error):
                raise
            return False


def _which(file: Path) -> tuple[int, int] | None:
    """Say which file it is, whatever its name: the disk and the number there; None for none."""
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _is_held(error: DatabaseError) -> bool:
    """Whether somebody else holds the file; the kind stands in the last byte of SQLite's code."""
    return getattr(error.__cause__, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY


def _tables_of(line: Any) -> Any:
    """Read what the file says of its tables and indexes; the library itself reads it only once."""
    return line.execute(TABLES).fetchall()
