"""The queue of recordings that wait to be measured. It lies in the database, as their state.

Whoever changes a row from waiting to measuring has taken it: an UPDATE with that condition counts
one for one process alone, on both databases. A process that dies leaves its row behind, which waits
again after a while; what made several die is refused.
"""

import importlib.util
import logging
import threading
from datetime import datetime, timedelta

from django.db import connection
from django.db.models import F, Q
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.engine.held_notes import apart
from progress.engine.held_notes.limits import UPLOAD, RecordingError
from progress.engine.held_notes.request import Request
from progress.models import Recording
from progress.services import recording_files
from progress.services.recording_files import SENT

NEEDED = ("numpy", "scipy", "soundfile")
DEAD_AFTER = timedelta(seconds=3 * UPLOAD.patience_seconds)
MOST_TRIES = 3
log = logging.getLogger(__name__)
_one_at_a_time = threading.Lock()


def can_measure() -> bool:
    """Whether this server has what measuring needs; nothing of it is loaded to find out."""
    return all(importlib.util.find_spec(name) is not None for name in NEEDED)


def measure_waiting(*, most: int = 1000) -> dict[str, int]:
    """Measure what waits, the oldest first; say how many were measured and how many refused."""
    done = {"measured": 0, "refused": 0}
    if not can_measure():
        return done
    with scopes_disabled():
        for _ in range(most):
            row = take(timezone.now())
            if row is None:
                break
            done[measure(row)] += 1
    return done


def take(moment: datetime) -> Recording | None:
    """Take the oldest recording that waits, so that no other process does; None if none waits."""
    is_waiting = Q(state="waiting") | Q(state="measuring", taken_at__lt=moment - DEAD_AFTER)
    for row in Recording.objects.filter(is_waiting).order_by("received_at", "pk")[:20]:
        # The row as it was read is the condition: who comes second finds it changed.
        mine = Recording.objects.filter(pk=row.pk, state=row.state, taken_at=row.taken_at)
        if mine.update(state="measuring", taken_at=moment, tries=F("tries") + 1):
            taken: Recording = Recording.objects.get(pk=row.pk)
            return taken
    return None


def measure(row: Recording) -> str:
    """Measure a recording that was taken, write its sound anew, and say how it ended."""
    try:
        if row.tries > MOST_TRIES:
            raise RecordingError("it could not be measured: record it again.")
        kept = apart.measure_to_keep(
            recording_files.path_of(row.file, SENT), request_of(row), UPLOAD
        )
        recording_files.write_anew(row.file, kept.sound)
    except (RecordingError, ValueError, OSError) as error:
        words = str(error) if isinstance(error, RecordingError) else "it could not be read."
        return _end(row, state="refused", refusal=words[:200], file="")
    return _end(row, state="measured", figures=kept.figures, curves=kept.curves)


def request_of(row: Recording) -> Request:
    """Say what the recording is measured against: RequestError, a ValueError, if it cannot be."""
    asked = row.asked
    return Request(
        expected=tuple(asked.get("expected", ())),
        tempo=asked.get("tempo"),
        hold=asked.get("hold"),
        rest=asked.get("rest"),
        processed=is_processed(row),
    )


def is_processed(row: Recording) -> bool:
    """Whether the browser changed the sound, or did not say that it left it alone."""
    asked_off = ("echoCancellation", "noiseSuppression", "autoGainControl")
    return any(row.processing.get(name) is not False for name in asked_off)


def start() -> None:
    """Measure what waits beside the request that brought it; one at a time in each process."""
    if can_measure():
        threading.Thread(target=_measure_beside, name="measuring", daemon=True).start()


def _measure_beside() -> None:
    with _one_at_a_time:
        try:
            measure_waiting()
        except Exception:  # whatever it was, the row waits again, and the timer takes it
            log.exception("Measuring a recording failed.")
        finally:
            connection.close()


def _end(row: Recording, *, state: str, **values: object) -> str:
    """Write how it ended, unless the row went meanwhile or another process has taken it over."""
    mine = Recording.objects.filter(pk=row.pk, state="measuring", taken_at=row.taken_at)
    is_written = mine.update(state=state, **values)
    if (is_written and state == "refused") or not Recording.objects.filter(pk=row.pk).exists():
        recording_files.delete(row.file)
    return state if is_written else "refused"
