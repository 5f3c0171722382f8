"""A small client: some threads, each with one connection at a time.

A connection goes to one worker and stays with it. So each answer is asked for on one of its own, as
a reverse proxy does (deploy/nginx.conf): all workers share the work, and a round sways less.
"""

import http.client
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

HOST = "127.0.0.1"
PATIENCE_SECONDS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One request: method, path, headers and body."""

    path: str
    headers: dict[str, str]
    method: str = "GET"
    body: str = ""


@dataclass(slots=True)
class Answers:
    """What came back within a time: the seconds each took, the bytes of the last, and errors."""

    seconds: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    length: int = 0
    headers: dict[str, str] = field(default_factory=dict)
    took: float = 0.0

    @property
    def per_second(self) -> float:
        """Answers in a second."""
        return len(self.seconds) / self.took if self.took else 0.0


def once(port: int, ask: Ask) -> Answers:
    """Send one request on a connection of its own."""
    line, found = _line(port), Answers()
    _send(line, ask, found)
    line.close()
    return found


def sustained(port: int, asks: Sequence[Callable[[], Ask]], seconds: float) -> Answers:
    """Send one request after the other on as many connections as there are askers."""
    until = time.perf_counter() + seconds
    return _together(port, asks, lambda _count: time.perf_counter() < until)


def burst(port: int, asks: Sequence[Callable[[], Ask]]) -> Answers:
    """Send one request on each connection, all at the same moment."""
    return _together(port, asks, lambda count: count == 0)


def _together(
    port: int, asks: Sequence[Callable[[], Ask]], goes_on: Callable[[int], bool]
) -> Answers:
    each = [Answers() for _ in asks]
    start = threading.Barrier(len(asks))

    def run(asker: Callable[[], Ask], found: Answers) -> None:
        line, count = _line(port), 0
        line.connect()
        start.wait()
        while goes_on(count):
            _send(line, asker(), found)
            count += 1
            line.close()

    threads = [threading.Thread(target=run, args=pair) for pair in zip(asks, each, strict=True)]
    began = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    took = time.perf_counter() - began
    return Answers(
        seconds=[one for found in each for one in found.seconds],
        errors=[one for found in each for one in found.errors],
        length=each[0].length,
        headers=each[0].headers,
        took=took,
    )


def _line(port: int) -> http.client.HTTPConnection:
    return http.client.HTTPConnection(HOST, port, timeout=PATIENCE_SECONDS)


def _send(line: http.client.HTTPConnection, ask: Ask, found: Answers) -> None:
    began = time.perf_counter()
    try:
        line.request(ask.method, ask.path, ask.body or None, ask.headers)
        answer = line.getresponse()
        body = answer.read()
    except (OSError, http.client.HTTPException) as error:
        found.errors.append(repr(error))
        line.close()
        return
    if answer.status >= 300:
        found.errors.append(f"{ask.path}: {answer.status}")
        return
    found.seconds.append(time.perf_counter() - began)
    found.length = len(body)
    found.headers = dict(answer.headers)
