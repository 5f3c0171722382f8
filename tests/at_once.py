"""Doings that begin at the same moment, each on a connection of its own."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any

from django.db import connection
from django_scopes import scope

from studio.models import Studio

# Four answers and the effort, as a service takes them.
ANSWERS: dict[str, Any] = {
    "attack": 4,
    "sound": 4,
    "evenness": 4,
    "release": 4,
    "effort": 4,
    "discomfort": "none",
}


def at_once(studio: Studio, *doings: Callable[[], Any]) -> None:
    """Do this in threads that begin together; what one of them raises is raised here."""
    start = Barrier(len(doings))

    def in_a_thread(doing: Callable[[], Any]) -> None:
        try:
            with scope(studio=studio):
                start.wait(timeout=10)
                doing()
        finally:
            connection.close()

    with ThreadPoolExecutor(len(doings)) as threads:
        list(threads.map(in_a_thread, doings))
