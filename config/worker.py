"""A process of the server in which nobody waits until somebody else hangs up.

After an answer gunicorn waits for up to two seconds until the other end closes the connection too,
so that the last of the answer is not cut off (RFC 9112, section 9.6). It does so where it takes up
whoever comes. A program that asks and leaves its end open would hold up the whole process.
"""

from concurrent.futures import Future
from contextlib import suppress
from typing import Any

from gunicorn.workers.gthread import ThreadWorker  # type: ignore[import-untyped]


class Worker(ThreadWorker):  # type: ignore[misc] # untyped library
    """A process of threads; the thread that has answered is the one that waits."""

    def handle(self, conn: Any) -> Any:
        """Answer what a connection asks, and close it, unless it has asked nothing yet."""
        goes_on = super().handle(conn)
        if not goes_on:
            with suppress(OSError):  # closed already
                conn.close(graceful=True)
        return goes_on

    def finish_request(self, conn: Any, fs: Future[Any]) -> None:
        """Make room for the next connection."""
        if fs.cancelled() or fs.exception() or fs.result():
            super().finish_request(conn, fs)
        else:
            self.nr_conns -= 1
