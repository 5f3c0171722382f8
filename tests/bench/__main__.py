"""`python -m tests.bench`: measure Filar on invented practice, on SQLite and on PostgreSQL.

Writes docs/benchmarks.md and var/bench.json. `SIZE=small` only tries whether it runs, and writes
into var/ alone. Absolute figures are those of the computer it runs on; ratios, of the same run.
"""

import json
import os
import runpy
import sys
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from urllib.parse import urlsplit

from tests import tree
from tests.bench import browser, page
from tests.bench.filling import SEED
from tests.bench.measure import SIZES, Size, read, write
from tests.bench.server import Server

POSTGRESQL = runpy.run_path(str(tree.TOP / ".ci" / "postgresql.py"))
# The studio that is looked at, alone; with a month of history; among the studios of others.
STUDIOS = {"24 months": (24, 0), "1 month": (1, 0), "a million": (24, None)}


def main() -> int:
    """Measure on both databases, print and write the report; 1 if an answer was an error."""
    name = os.environ.get("SIZE", "full")
    if name not in SIZES:
        print(f"SIZE={name}: write full or small.", file=sys.stderr)
        return 2
    size = SIZES[name]
    asked = os.environ.get("ON", "sqlite postgresql").split()
    found: dict[str, page.Engine] = {}
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="filar-bench-")))
        if "sqlite" in asked:
            addresses = {
                studio: f"sqlite:///{folder / f'{place}.sqlite3'}"
                for place, studio in enumerate(STUDIOS)
            }
            found["SQLite"] = _engine(addresses, folder / "sqlite", size, in_a_browser=True)
        if "postgresql" in asked and (binaries := POSTGRESQL["binaries"]()):
            cluster = stack.enter_context(POSTGRESQL["cluster"](binaries, synchronous=True))
            found["PostgreSQL"] = _engine(
                _databases(cluster.address), folder / "pg", size, in_a_browser=not found
            )
    text = page.write(found, size=size, seed=SEED)
    print(text)
    var = tree.TOP / "var"
    var.mkdir(exist_ok=True)
    (var / "bench.json").write_text(json.dumps(page.as_json(found, seed=SEED), indent=1) + "\n")
    if name == "full" and len(found) == 2:
        (tree.TOP / "docs" / "benchmarks.md").write_text(text)
    errors = [error for engine in found.values() for error in engine.errors]
    print("\n".join(errors[:10]), file=sys.stderr)
    return 1 if errors else 0


def _engine(
    addresses: dict[str, str], folder: Path, size: Size, *, in_a_browser: bool
) -> page.Engine:
    servers: dict[str, Server] = {}
    for place, (studio, address) in enumerate(addresses.items()):
        months, check_ins = STUDIOS[studio]
        server = servers[studio] = Server(studio, address, folder / str(place))
        wanted = size.check_ins if check_ins is None else check_ins
        print(f"Filling: {studio} …", file=sys.stderr, flush=True)
        server.fill("--months", str(months), "--check-ins", str(wanted))
    with _running(servers):
        reading = read(servers, size)
        memory = max(one for server in servers.values() for one in server.worker_megabytes())
        writing = write(servers, size)
        people = {name: server.people for name, server in servers.items()}
        seen = browser.measure(servers[page.MAIN], size.visits) if in_a_browser else None
    return page.Engine(reading=reading, writing=writing, memory=memory, people=people, browser=seen)


@contextmanager
def _running(servers: dict[str, Server]) -> Iterator[None]:
    with ExitStack() as stack:
        for server in servers.values():
            stack.callback(server.stop)
            server.start()
        yield


def _databases(address: str) -> dict[str, str]:
    """Make a database for each studio in a cluster."""
    import psycopg  # noqa: PLC0415 - only where there is a PostgreSQL

    found = {}
    with psycopg.connect(address, autocommit=True) as connection:
        for place, studio in enumerate(STUDIOS):
            connection.execute(f"CREATE DATABASE bench{place}".encode())
            found[studio] = urlsplit(address)._replace(path=f"/bench{place}").geturl()
    return found


if __name__ == "__main__":
    sys.exit(main())
