"""Calls of a request do not take memory from the system and give it back all the time.

What they are held against is the system's own count of pages that a thread touched for the first
time (`ru_minflt` in getrusage(2)): a block that was given back is touched anew.
"""

import resource
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from config.room import FRAME_SLOTS, Application, with_room

CALLS = 1000
# Frames of such a call are 100 to 200 bytes: this is more than a block of 16 kB.
DEPTHS = range(200)


def small(number: int) -> int:
    return number


def loop() -> None:
    for number in range(CALLS):
        small(number)


def at_depth(depth: int, work: Callable[[], None]) -> None:
    if depth:
        at_depth(depth - 1, work)
    else:
        work()


def most_pages_touched(*_of_a_request: object) -> list[bytes]:
    """Say how many pages a loop of calls touched anew, at the depth where they were most."""
    found = []
    for depth in DEPTHS:
        before = resource.getrusage(resource.RUSAGE_THREAD).ru_minflt
        at_depth(depth, loop)
        found.append(resource.getrusage(resource.RUSAGE_THREAD).ru_minflt - before)
    return [str(max(found)).encode()]


def in_a_thread(application: Application) -> int:
    with ThreadPoolExecutor(max_workers=1) as threads:
        (found,) = threads.submit(application, {}, None).result()
    return int(found)


def test_a_loop_of_calls_takes_no_memory_of_its_own_at_any_depth():
    without = in_a_thread(most_pages_touched)
    if without < CALLS:
        pytest.skip("This Python keeps a block for the next call: config/room.py can go.")

    assert in_a_thread(with_room(most_pages_touched)) < CALLS / 10


def test_the_door_of_the_server_gives_each_request_room():
    from config.wsgi import application  # noqa: PLC0415 - it sets the framework up

    inner: Any = application.application
    assert inner.__code__.co_stacksize == FRAME_SLOTS
