"""The gate before SQLite's own lock: whoever begins a transaction waits there for the others.

SQLite lets one in at a time. Whoever finds it closed sleeps, asks again, and sleeps longer each
time: 1, 2, 5, 10 ms and on (its busy handler; from memory), though a check-in holds the lock for
five. At the gate it asks twice in a millisecond. What keeps the file safe is SQLite's own lock, not
the gate: so nobody waits there for long, and where a disk knows no such locks there is none.
"""

import fcntl
import os
import time
from contextlib import suppress
from pathlib import Path

STEP_SECONDS = 0.0005
# Whoever is inside for longer than some check-ins take does something slow; SQLite waits for that.
PATIENCE_SECONDS = 0.1


class Gate:
    """One connection's way through the gate of a folder; without a folder there is none.

    Whoever writes into a database of a folder, under a name in that folder, shares it, in whatever
    process of this computer; two connections of one thread would wait for each other. The system
    opens it again when a process ends with all that it has forked.
    """

    def __init__(self, folder: Path | None) -> None:
        self._is_inside, self._folder = False, None if folder is None else _opened(folder)

    def enter(self) -> bool:
        """Wait until it is free, but not for long; say whether it is ours now."""
        until = time.monotonic() + PATIENCE_SECONDS
        while not self._try() and time.monotonic() < until:
            time.sleep(STEP_SECONDS)
        return self._is_inside

    def leave(self) -> None:
        """Let the next one in; where it is not ours, nothing happens."""
        was_inside, self._is_inside = self._is_inside, False
        if not was_inside or self._folder is None:
            return
        try:
            fcntl.flock(self._folder, fcntl.LOCK_UN)
        except OSError:
            # What has been written is written; so there is no gate any more, and that is all.
            self.close()

    def close(self) -> None:
        """Leave for good."""
        folder, self._folder, self._is_inside = self._folder, None, False
        if folder is not None:
            with suppress(OSError):
                os.close(folder)

    # A connection that nobody closes goes with its thread.
    __del__ = close

    def _try(self) -> bool:
        """Go in if it is free; say whether to wait no more."""
        if self._folder is None:
            return True
        try:
            fcntl.flock(self._folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:
            return True
        self._is_inside = True
        return True


def _opened(folder: Path) -> int | None:
    try:
        return os.open(folder, os.O_RDONLY)
    except OSError:
        return None
