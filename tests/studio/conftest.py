"""What tests of backups and of erasure share."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from studio.services import erase, standing


@pytest.fixture
def kept(settings, tmp_path, monkeypatch) -> Iterator[Path]:
    """A folder of its own for what is kept, and no note left beside the tests' own database.

    Where others test on the same PostgreSQL server, what was erased is wiped once their
    transactions end: for two minutes, not for five seconds.
    """
    monkeypatch.setattr(erase, "WIPES", 240)
    settings.VAR_DIR = tmp_path / "var"
    settings.VAR_DIR.mkdir()
    settings.BACKUPS = settings.VAR_DIR / "backups"
    yield settings.VAR_DIR
    standing.note().unlink(missing_ok=True)
    file = standing.file_of_database()
    for aside in file.parent.glob(f"{file.name}.before-*") if file else ():
        aside.unlink()
