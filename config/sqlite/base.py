"""Django's own SQLite, but for one thing: it makes no new file where a studio is expected.

SQLite makes an empty database wherever a path leads nowhere. After a wrong path, a disk that is not
mounted or a slip of the hand, a studio would look empty, and people would begin to fill it anew.
"""

from pathlib import Path
from typing import Any

from django.db.backends.sqlite3.base import DatabaseWrapper as SQLiteWrapper
from django.db.utils import OperationalError

from studio import expected


class DatabaseWrapper(SQLiteWrapper):
    """A connection that opens a studio's file, and not an empty one in its place."""

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        """Open the file; one that is missing or empty where a studio was is an error in words."""
        file = Path(conn_params["database"])
        is_empty = not file.exists() or file.stat().st_size == 0
        if is_empty and expected.beside(file).exists():
            words = expected.MISSING % {"where": file, "note": expected.beside(file)}
            raise OperationalError(words)
        return super().get_new_connection(conn_params)
