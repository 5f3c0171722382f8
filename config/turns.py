"""Few requests that send something at a time in a process, as long as they are quick.

A process runs the Python of one thread at a time anyway. Threads that push each other aside at
every question to the database make all of them slower, and hold its locks for longer. So whoever
comes to write waits for its turn, but not for long: behind something slow it goes on beside it, and
whoever comes after it does so at once.
Whoever only reads holds no lock, and waits for nobody.
"""

from collections.abc import Iterable
from threading import BoundedSemaphore
from typing import Any

from config.databases import SQLITE
from config.room import Application

# A check-in takes a twentieth of this, or a tenth where it waits for another process at each step;
# of four threads three may stand in line.
PATIENCE_SECONDS = 0.2
# What takes long to arrive, as a recording over a thin line, waits for nobody and holds up nobody.
LARGE_BYTES = 64 * 1024

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
# SQLite works within the process; while one waits for PostgreSQL, another one may go on.
AT_ONCE_ON_SQLITE, AT_ONCE_BESIDE_A_SERVER = 1, 2


class Turns:
    """The WSGI application of a process, which takes so many quick requests to write at once."""

    def __init__(self, application: Application, *, at_once: int) -> None:
        self.application = application
        self._free = BoundedSemaphore(at_once)
        # Somebody has waited in vain: until a turn is over, nobody else does.
        self._is_slow = False

    def __call__(self, environ: dict[str, Any], start_response: Any) -> Iterable[bytes]:
        """Answer, when it is this request's turn or it has waited long enough.

        What is sent bit by bit is made after the turn is over.
        """
        if environ["REQUEST_METHOD"] in SAFE_METHODS or _is_large(environ):
            return self.application(environ, start_response)
        has_turn = self._free.acquire(timeout=0 if self._is_slow else PATIENCE_SECONDS)
        self._is_slow = not has_turn
        try:
            return self.application(environ, start_response)
        finally:
            if has_turn:
                self._is_slow = False
                self._free.release()


def at_once(engine: str) -> int:
    """Say how many requests to write a process takes at once with a database of this engine."""
    return AT_ONCE_ON_SQLITE if engine == SQLITE else AT_ONCE_BESIDE_A_SERVER


def _is_large(environ: dict[str, Any]) -> bool:
    """Whether the body is large, or nobody says how large it is."""
    length = environ.get("CONTENT_LENGTH") or "0"
    in_pieces = "HTTP_TRANSFER_ENCODING" in environ
    return in_pieces or not length.isdecimal() or int(length) > LARGE_BYTES
