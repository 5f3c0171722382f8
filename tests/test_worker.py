"""That a connection is closed by the thread that answered on it, and counted once.

How a connection is closed without cutting off an answer: RFC 9112, section 9.6.
"""

import socket
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing
from types import SimpleNamespace

import pytest
from gunicorn.util import load_class  # type: ignore[import-untyped]
from gunicorn.workers.gthread import TConn, ThreadWorker  # type: ignore[import-untyped]

from config import gunicorn
from config.worker import Worker

LONG_SECONDS = 20


@pytest.fixture
def both_ends() -> Iterator[tuple[TConn, socket.socket]]:
    here, there = socket.socketpair()
    there.settimeout(LONG_SECONDS)
    with closing(here), closing(there):
        yield TConn(SimpleNamespace(), here, None, None), there


def a_process(monkeypatch, *, goes_on: object) -> Worker:
    """Make a process that holds one connection, and whose answers end so."""
    monkeypatch.setattr(ThreadWorker, "handle", lambda _self, _conn: goes_on)
    made = Worker.__new__(Worker)
    made.nr_conns = 1
    return made


def test_the_thread_that_answered_waits_until_the_other_end_is_closed(monkeypatch, both_ends):
    conn, there = both_ends
    process = a_process(monkeypatch, goes_on=False)

    with ThreadPoolExecutor(1) as threads:
        answered = threads.submit(process.handle, conn)
        assert there.recv(1) == b""
        there.close()
        answered.result(LONG_SECONDS)

    assert conn.sock.fileno() == -1
    process.finish_request(conn, answered)
    assert process.nr_conns == 0


def test_one_that_broke_off_is_counted_once(monkeypatch, both_ends):
    conn, _there = both_ends
    process = a_process(monkeypatch, goes_on=False)
    conn.sock.close()
    answered: Future[object] = Future()

    answered.set_result(process.handle(conn))
    process.finish_request(conn, answered)

    assert process.nr_conns == 0


def test_one_that_has_asked_nothing_yet_stays_open(monkeypatch, both_ends):
    conn, there = both_ends
    waits = object()

    assert a_process(monkeypatch, goes_on=waits).handle(conn) is waits

    conn.sock.sendall(b"still here")
    assert there.recv(10) == b"still here"


def test_the_server_runs_such_processes():
    assert load_class(gunicorn.worker_class) is Worker


def test_a_process_takes_up_no_more_connections_than_it_has_threads_for():
    # What it takes up beyond that waits in it while another process may be free; one that is kept
    # open after its answer counts as taken up.
    assert gunicorn.worker_connections == gunicorn.threads
    assert gunicorn.keepalive == 0
