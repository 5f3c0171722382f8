"""A student is erased while a page about them is being made: it answers as it would a moment later.

What was read of the student leads nowhere by then, so a write or the next reading fails. That is
no fault of the program's and no trouble of the database's: there is nobody of that name any more.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta

from django.core.exceptions import ObjectDoesNotExist
from django.db import DatabaseError, IntegrityError
from django.http import Http404
from django.utils import timezone

from studio.models import ErasedStudent, Studio

# Erasing waits for whoever writes just then, and is noted with the moment it was asked for.
LATELY = timedelta(minutes=1)
# A key that leads nowhere; a row that was there; a block without any of its versions.
ROWS_ARE_GONE = (IntegrityError, ObjectDoesNotExist, IndexError)


@contextmanager
def answered_as_later(is_gone: Callable[[], bool]) -> Iterator[None]:
    """Turn what comes of rows that are gone into a 404, if whoever is asked says that they are."""
    try:
        yield
    except Exception as error:
        if _may_come_of_it(error) and is_gone():
            raise Http404 from error
        raise


def somebody_was_erased(studio: Studio) -> bool:
    """Whether a student of the studio was erased within the last minute."""
    since = timezone.now() - LATELY
    return ErasedStudent.objects.filter(studio=studio.public_id, at__gte=since).exists()


def _may_come_of_it(error: Exception) -> bool:
    # Of an update that finds no row Django says so with the bare kind, which no database raises.
    return isinstance(error, ROWS_ARE_GONE) or type(error) is DatabaseError
