"""Where the sound of recordings lies: outside the database, outside what the server gives out.

A file's name is its row's own random one. `.upload` is what a phone sent and nobody hears; `.flac`
is what we wrote of it. Both can be read by the program's own user alone.
"""

import os
from collections.abc import Collection, Iterable
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.db import transaction

from progress.engine.held_notes.limits import UPLOAD, RecordingError
from progress.models import Recording

SENT, WRITTEN = ".upload", ".flac"
ORPHAN_SECONDS = 24 * 60 * 60


def folder() -> Path:
    """Give the folder of recordings, and make it where it is not there yet."""
    place: Path = settings.VAR_DIR / settings.RECORDINGS
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    return place


def path_of(name: str, ending: str) -> Path:
    """Say where a file lies; a row without one has no path."""
    if not name.isalnum():
        message = f"{name!r} is no name of a recording's file."
        raise ValueError(message)
    return folder() / f"{name}{ending}"


def write_sent(name: str, pieces: Iterable[bytes]) -> tuple[int, str]:
    """Write what a phone sends, and no more than may be sent; give its size and its SHA-256."""
    path, size, sum_of = path_of(name, SENT), 0, sha256()
    try:
        with _new(path) as file:
            for piece in pieces:
                size += len(piece)
                if size > UPLOAD.most_bytes:
                    raise RecordingError(
                        f"More than {UPLOAD.most_bytes / 1e6:g} MB: record fewer notes."
                    )
                sum_of.update(piece)
                file.write(piece)
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return size, sum_of.hexdigest()


def write_anew(name: str, sound: bytes) -> None:
    """Put our own writing of the sound in the place of what was sent."""
    with _new(path_of(name, WRITTEN)) as file:
        file.write(sound)
    path_of(name, SENT).unlink(missing_ok=True)


def delete(name: str) -> None:
    """Delete the files of one recording; where there is none it is gone already."""
    if name:
        for ending in (SENT, WRITTEN):
            path_of(name, ending).unlink(missing_ok=True)


def delete_with_row(instance: Recording, **_signal: object) -> None:
    """Delete the files of a row that was deleted, whoever deleted it, once that is certain."""
    name = instance.file
    transaction.on_commit(lambda: delete(name), robust=True)


def delete_orphans(known: Collection[str], *, moment: datetime) -> int:
    """Delete files of no row, such as an upload broken off, or what an old copy brought back.

    A file younger than a day may be one that is just being sent.
    """
    gone = 0
    for path in folder().iterdir():
        is_old = moment.timestamp() - path.stat().st_mtime > ORPHAN_SECONDS
        if path.is_file() and path.stem not in known and is_old:
            path.unlink(missing_ok=True)
            gone += 1
    return gone


def _new(path: Path):  # type: ignore[no-untyped-def]
    """Open a file that nobody else may read, in bytes."""
    return os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb")
