"""That the quick requests of a process take turns, and slow ones hold up nobody.

How a WSGI application is called, and what its environment holds: PEP 3333.
"""

import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest

from config import databases, turns
from config.turns import LARGE_BYTES, Turns

LONG_SECONDS = 60
# Longer than a turn takes on the slowest computer, and short enough to see one that is never over.
A_WHILE_SECONDS = 3


class Counting:
    """An application that notes how many of its requests run beside each other."""

    def __init__(self) -> None:
        self.running = self.most = 0
        self.lock = threading.Lock()

    def __call__(self, _environ, _start_response) -> list[bytes]:
        with self.lock:
            self.running += 1
            self.most = max(self.most, self.running)
        time.sleep(0.002)
        with self.lock:
            self.running -= 1
        return [b"ok"]


class Held:
    """An application in which whoever asks for /slow stays until it is let go."""

    def __init__(self) -> None:
        self.begun, self.let_go = threading.Event(), threading.Event()

    def __call__(self, environ, _start_response) -> list[bytes]:
        if environ["PATH_INFO"] == "/slow":
            self.begun.set()
            assert self.let_go.wait(LONG_SECONDS)
        return [environ["PATH_INFO"].encode()]


@pytest.fixture
def held() -> Iterator[Held]:
    found = Held()
    yield found
    found.let_go.set()


def asked(path: str = "/", **environ: str) -> dict[str, str]:
    return {"REQUEST_METHOD": "POST", "PATH_INFO": path, **environ}


def a_turn_is_free(application: Turns) -> bool:
    found = application._free.acquire(blocking=False)
    if found:
        application._free.release()
    return found


@pytest.mark.parametrize("at_once", [1, 2])
def test_no_more_quick_requests_than_that_are_answered_at_once(monkeypatch, at_once):
    monkeypatch.setattr(turns, "PATIENCE_SECONDS", A_WHILE_SECONDS)
    counting = Counting()
    application = Turns(counting, at_once=at_once)

    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(lambda _: application(asked(), None), range(40)))

    assert answers == [[b"ok"]] * 40
    assert counting.most == at_once


def test_behind_a_slow_one_the_others_go_on_beside_it(held):
    application = Turns(held, at_once=1)

    with ThreadPoolExecutor(2) as threads:
        slow = threads.submit(application, asked("/slow"), None)
        assert held.begun.wait(LONG_SECONDS)
        beside = application(asked("/beside"), None)
        assert not slow.done()
        held.let_go.set()

    assert beside == [b"/beside"]
    assert slow.result() == [b"/slow"]


def test_behind_a_slow_one_only_the_first_waits(monkeypatch, held):
    application, waits = Turns(held, at_once=1), []
    takes = application._free.acquire

    def noted(*, timeout: float) -> bool:
        waits.append(timeout)
        return takes(timeout=timeout)

    monkeypatch.setattr(application._free, "acquire", noted)
    with ThreadPoolExecutor(1) as threads:
        slow = threads.submit(application, asked("/slow"), None)
        assert held.begun.wait(LONG_SECONDS)
        for _ in range(3):
            application(asked("/beside"), None)
        held.let_go.set()
    slow.result()
    application(asked("/after"), None)

    long = turns.PATIENCE_SECONDS
    assert waits == [long, long, 0, 0, long]


def test_one_that_went_on_beside_another_does_not_end_its_turn(held):
    application = Turns(held, at_once=1)

    with ThreadPoolExecutor(2) as threads:
        threads.submit(application, asked("/slow"), None)
        assert held.begun.wait(LONG_SECONDS)
        application(asked("/beside"), None)
        is_free = a_turn_is_free(application)
        held.let_go.set()

    assert not is_free


@pytest.mark.parametrize(
    ("environ", "waits"),
    [
        ({}, True),
        ({"REQUEST_METHOD": "DELETE"}, True),
        *(({"REQUEST_METHOD": method}, False) for method in ("GET", "HEAD", "OPTIONS", "TRACE")),
        ({"CONTENT_LENGTH": ""}, True),
        ({"CONTENT_LENGTH": "0"}, True),
        ({"CONTENT_LENGTH": str(LARGE_BYTES)}, True),
        ({"CONTENT_LENGTH": str(LARGE_BYTES + 1)}, False),
        ({"CONTENT_LENGTH": "-1"}, False),
        ({"CONTENT_LENGTH": "much"}, False),
        ({"HTTP_TRANSFER_ENCODING": "chunked"}, False),
    ],
)
def test_what_reads_or_takes_long_to_arrive_neither_waits_nor_is_waited_for(environ, waits):
    def says(_environ, _start_response) -> list[bytes]:
        return [b"at once" if a_turn_is_free(application) else b"waited"]

    application = Turns(says, at_once=1)

    assert application(asked(**environ), None) == [b"waited" if waits else b"at once"]


def test_a_fault_ends_the_turn():
    def fails(_environ, _start_response) -> list[bytes]:
        raise RuntimeError("no horn")

    application = Turns(fails, at_once=1)

    for _ in range(2):
        with pytest.raises(RuntimeError, match="no horn"):
            application(asked(), None)
    assert a_turn_is_free(application)


def test_what_is_sent_bit_by_bit_is_made_after_the_turn():
    def in_bits(_environ, _start_response) -> Iterator[bytes]:
        yield b"free" if a_turn_is_free(application) else b"held"

    application = Turns(in_bits, at_once=1)

    assert list(application(asked(), None)) == [b"free"]


@pytest.mark.parametrize(
    ("address", "expected"), [("", 1), ("postgres://filar@localhost/filar", 2)]
)
def test_sqlite_works_within_the_process_and_postgresql_beside_it(tmp_path, address, expected):
    assert turns.at_once(databases.read(address, tmp_path)["ENGINE"]) == expected


def test_the_door_of_the_server_takes_turns():
    from config.wsgi import application  # noqa: PLC0415 - it sets the framework up

    assert isinstance(application, Turns)
