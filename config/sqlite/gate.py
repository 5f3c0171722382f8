"""The gate before SQLite's own lock: whoever writes waits there for whoever writes already.

SQLite lets one in at a time. Whoever finds it closed sleeps, asks again, and sleeps longer each
time: 1, 2, 5, 10 ms and on (its busy handler; from memory), though a check-in holds the lock for
five. At the gate it is asked twice in a millisecond. The gate keeps nothing safe, that is SQLite's
own lock: so nobody waits there for long, and where a disk knows no such locks there is none.
"""

import fcntl
import os
import time
from pathlib import Path

STEP_SECONDS = 0.0005
# Whoever is inside for longer than some check-ins take does something slow; SQLite waits for that.
PATIENCE_SECONDS = 0.1


class Gate:
    """One connection's way through the gate of a folder; without a folder there is none.

    All that write into databases of one folder share it, in whatever process of this computer. The
    system opens it again when a process ends, however that comes about.
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
        if self._is_inside and self._folder is not None:
            fcntl.flock(self._folder, fcntl.LOCK_UN)
        self._is_inside = False

    def close(self) -> None:
        """Leave for good."""
        self._is_inside = False
        if self._folder is not None:
            os.close(self._folder)
            self._folder = None

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
