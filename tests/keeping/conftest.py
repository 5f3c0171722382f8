"""Studios on servers of their own, and a PostgreSQL where this computer has one."""

import runpy
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from tests import tree
from tests.keeping.served import Served

POSTGRESQL = runpy.run_path(str(tree.TOP / ".ci" / "postgresql.py"))


@pytest.fixture
def cluster() -> Iterator[Any]:
    """A PostgreSQL that waits for the disk, as a real one does."""
    found = POSTGRESQL["binaries"]()
    if found is None:
        pytest.skip("NOT TRIED: this computer has no PostgreSQL (apt-get install postgresql)")
    with POSTGRESQL["cluster"](found, synchronous=True) as made:
        yield made


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[..., Served]]:
    """Make and start a studio's server; at the end it is killed."""
    with ExitStack() as stack:

        def made(database: str = "", *, students: int = 4, var: Path = tmp_path) -> Served:
            served = Served(
                database or f"sqlite:///{var / 'studio.sqlite3'}", var, students=students
            )
            stack.callback(served.kill)
            served.start()
            return served

        yield made
