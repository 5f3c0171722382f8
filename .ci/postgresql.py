"""Start a PostgreSQL of its own, run a command with its address, and stop it whatever happens.

`python .ci/postgresql.py COMMAND…` makes a new cluster in a temporary folder, on a free loopback
port. Where this computer has no PostgreSQL, it says so in a line nobody overlooks and runs nothing.
"""

import os
import pwd
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NoReturn

HOST, USER, NAME = "127.0.0.1", "filar", "postgres"
DEBIAN = "/usr/lib/postgresql"
OTHER_USERS = ("postgres", "nobody")


def binaries() -> Path | None:
    """Find the folder with `initdb`: on the path, or the newest of Debian's."""
    if found := shutil.which("initdb"):
        return Path(found).resolve().parent
    versions = sorted(Path(DEBIAN).glob("*/bin/initdb"), key=lambda one: int(one.parts[-3]))
    return versions[-1].parent if versions else None


def other_user() -> dict[str, Any]:
    """Choose who runs the server: PostgreSQL refuses root."""
    if os.geteuid() != 0:
        return {}
    known = {entry.pw_name for entry in pwd.getpwall()}
    name = next(one for one in OTHER_USERS if one in known)
    return {"user": name, "group": pwd.getpwnam(name).pw_gid, "extra_groups": []}


def free_port() -> int:
    """Ask the system for a port that nobody uses."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


class Cluster:
    """A PostgreSQL cluster in a folder of its own; `synchronous` lets commits wait for the disk."""

    def __init__(self, folder: Path, binaries: Path, *, synchronous: bool = False) -> None:
        self.folder, self.binaries, self.port = folder / "data", binaries, free_port()
        self.synchronous = synchronous
        self.log = folder / "log"
        self.address = f"postgres://{USER}@{HOST}:{self.port}/{NAME}"

    def _run(self, program: str, *arguments: str) -> None:
        subprocess.run(
            [self.binaries / program, *arguments],
            check=True,
            cwd=self.folder.parent,
            stdout=subprocess.DEVNULL,
            stdin=subprocess.DEVNULL,
            **other_user(),
        )

    def make(self) -> None:
        """Make the cluster's files."""
        if who := other_user():
            shutil.chown(self.folder.parent, who["user"])
        safe = () if self.synchronous else ("--no-sync",)
        self._run(
            *("initdb", "-D", str(self.folder), "-U", USER, "-A", "trust", *safe),
            *("-E", "UTF8", "--locale", "C.UTF-8"),
        )

    def start(self) -> None:
        """Start the server and wait until it answers."""
        options = f"-p {self.port} -h {HOST} -c unix_socket_directories='' -c shared_buffers=64MB"
        if not self.synchronous:
            # Nothing of a test outlives it.
            options += " -c fsync=off -c full_page_writes=off"
        data = ("-D", str(self.folder))
        self._run("pg_ctl", *data, "-l", str(self.log), "-o", options, "-w", "-s", "start")

    def pid(self) -> int:
        """Read the number of the server's first process."""
        return int((self.folder / "postmaster.pid").read_text().split()[0])

    def stop(self) -> None:
        """Stop the server, whatever it is doing."""
        if (self.folder / "postmaster.pid").exists():
            self._run("pg_ctl", "-D", str(self.folder), "-m", "immediate", "-w", "-s", "stop")


@contextmanager
def cluster(binaries: Path, *, synchronous: bool = False) -> Iterator[Cluster]:
    """Give a running cluster, and leave nothing of it behind."""
    folder = Path(tempfile.mkdtemp(prefix="filar-postgresql-"))
    made = Cluster(folder, binaries, synchronous=synchronous)
    try:
        made.make()
        made.start()
        yield made
    finally:
        made.stop()
        shutil.rmtree(folder, ignore_errors=True)


def _end(_number: int, _frame: object) -> NoReturn:
    sys.exit(1)


def main(command: list[str]) -> int:
    """Run a command with the address of a fresh database in DATABASE_URL."""
    found = binaries()
    if found is None:
        print("=" * 78)
        print(
            "NOT TRIED ON POSTGRESQL: this computer has none (Debian: apt-get install postgresql)"
        )
        print("=" * 78, flush=True)
        return 0
    # Ending the run must end the server as well.
    signal.signal(signal.SIGTERM, _end)
    with cluster(found) as made:
        print(f"PostgreSQL: {found}, port {made.port}, for this run alone", flush=True)
        return subprocess.call(command, env={**os.environ, "DATABASE_URL": made.address})


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
