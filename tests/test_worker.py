"""That a connection is closed by the thread that answered on it, and counted once.

How a connection is closed without cutting off an answer: RFC 9112, section 9.6.
"""

import socket
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing

import pytest
from gunicorn.config import Config  # type: ignore[import-untyped]
from gunicorn.util import load_class  # type: ignore[import-untyped]
from gunicorn.workers.gthread import TConn, ThreadWorker  # type: ignore[import-untyped]

from config import gunicorn
from config.worker import Worker

LONG_SECONDS = 20


ASKED = b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 4\r\n\r\nhorn"


@pytest.fixture
def both_ends() -> Iterator[tuple[TConn, socket.socket]]:
    here, there = socket.socketpair()
    there.settimeout(LONG_SECONDS)
    with closing(here), closing(there):
        yield TConn(Config(), here, ("127.0.0.1", 0), None), there


def a_process(monkeypatch, *, goes_on: object) -> Worker:
    """Make a process that holds one connection, reads what is asked, and whose answers end so."""

    def answer(_self: object, conn: TConn) -> object:
        if conn.sock.fileno() != -1 and goes_on is False:
            conn.init()
            next(conn.parser)
            conn.sock.sendall(b"tuba")
        return goes_on

    monkeypatch.setattr(ThreadWorker, "handle", answer)
    made = Worker.__new__(Worker)
    made.nr_conns = 1
    return made


def test_whoever_has_been_read_is_hung_up_on_without_waiting(monkeypatch, both_ends):
    conn, there = both_ends
    monkeypatch.setattr("gunicorn.util.close_graceful", pytest.fail)
    there.sendall(ASKED)

    process = a_process(monkeypatch, goes_on=False)
    answered: Future[object] = Future()
    answered.set_result(process.handle(conn))
    process.finish_request(conn, answered)

    assert conn.sock.fileno() == -1
    assert process.nr_conns == 0
    # To the end and no further: a connection that is reset says so instead.
    assert (there.recv(10), there.recv(10)) == (b"tuba", b"")


@pytest.mark.parametrize("sent", [ASKED[:-1], ASKED + b"more" * 5000])
def test_where_something_is_unread_the_thread_that_answered_waits(monkeypatch, both_ends, sent):
    conn, there = both_ends
    there.sendall(sent)

    with ThreadPoolExecutor(1) as threads:
        answered = threads.submit(a_process(monkeypatch, goes_on=False).handle, conn)
        assert (there.recv(10), there.recv(10)) == (b"tuba", b"")
        with pytest.raises(TimeoutError):
            answered.result(0.1)
        there.close()
        answered.result(LONG_SECONDS)

    assert conn.sock.fileno() == -1


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
