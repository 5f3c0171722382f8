"""A process of the server in which nobody waits until somebody else hangs up.

After an answer gunicorn waits for up to two seconds until the other end closes the connection too:
if it closed first while something lay there unread, the last of the answer could be cut off (RFC
9112, section 9.6). It does so each time, and where it takes up whoever comes: a program that asks
and leaves its end open would hold up the whole process.
"""

import socket
import time
from concurrent.futures import Future
from contextlib import suppress
from typing import Any

from gunicorn.workers.gthread import ThreadWorker  # type: ignore[import-untyped]

# What is still on its way of a body that the program did not want.
DRAIN_SECONDS = 0.05


class Worker(ThreadWorker):  # type: ignore[misc] # untyped library
    """A process of threads; the one that has answered hangs up, and waits only where it must."""

    def handle(self, conn: Any) -> Any:
        """Answer what a connection asks, and close it, unless it has asked nothing yet."""
        goes_on = super().handle(conn)
        if not goes_on:
            with suppress(OSError):  # closed already
                conn.close(graceful=not _is_read(conn))
        return goes_on

    def finish_request(self, conn: Any, fs: Future[Any]) -> None:
        """Make room for the next connection."""
        if fs.cancelled() or fs.exception() or fs.result():
            super().finish_request(conn, fs)
        else:
            self.nr_conns -= 1


def _is_read(conn: Any) -> bool:
    """Whether all that was asked has been read, and nothing more lies there."""
    until = time.monotonic() + DRAIN_SECONDS
    if conn.parser is None or not conn.parser.finish_body(deadline=until):
        return False
    try:
        return not conn.sock.recv(1, socket.MSG_PEEK | socket.MSG_DONTWAIT)
    except BlockingIOError:
        return True
