"""Many requests at once, to a server of the standard library (HTTP/1.1: RFC 9112)."""

import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from tests.bench.load import HOST, Ask, burst
from tests.ports import free_port

TOGETHER = 12


class Handler(BaseHTTPRequestHandler):
    """Answers once all have asked; /busy with an error, /gone not at all."""

    everybody = threading.Barrier(TOGETHER)

    def do_POST(self) -> None:
        said = self.rfile.read(int(self.headers["Content-Length"]))
        self.everybody.wait(60)
        if self.path == "/gone":
            return
        if self.path == "/slow":
            time.sleep(0.2)
        self.send_response(503 if self.path == "/busy" else 201)
        self.send_header("Content-Length", str(len(said)))
        self.send_header("Asked-As", self.headers["Name"])
        self.end_headers()
        self.wfile.write(said)

    def log_message(self, *_: object) -> None:
        """Say nothing."""


class Server(ThreadingHTTPServer):
    request_queue_size = TOGETHER


@pytest.fixture
def port() -> Iterator[int]:
    with Server((HOST, 0), Handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield server.server_address[1]
        server.shutdown()


def test_all_are_asked_before_the_first_has_answered(port):
    words = "note" * 10_000  # more than is read at once
    asks = [
        Ask(method="POST", path=path, headers={"Name": "horn"}, body=words)
        for path in ["/"] * (TOGETHER - 3) + ["/slow", "/busy", "/gone"]
    ]

    found = burst(port, [partial(replace, ask) for ask in asks])

    assert len(found.seconds) == TOGETHER - 2
    assert 0.2 <= max(found.seconds) <= found.took
    assert (found.length, found.headers["Asked-As"]) == (len(words), "horn")
    busy, gone = found.errors
    assert busy == "/busy: 503"
    assert gone.startswith("/gone: ")


def test_where_nobody_is_there_each_request_is_an_error():
    found = burst(free_port(), [partial(Ask, path="/", headers={})] * 3)

    assert found.seconds == []
    assert len(found.errors) == 3
    assert all("refused" in error for error in found.errors)
