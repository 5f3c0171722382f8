"""A small client: some threads, each with one connection at a time; for many at once, none.

A connection goes to one worker and stays with it. So each answer is asked for on one of its own, as
a reverse proxy does (deploy/nginx.conf): all workers share the work, and a round sways less.
"""

import http.client
import io
import selectors
import socket
import threading
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
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
    """Send one request on each connection, all at the same moment.

    What is sent is written down before and read afterwards: the askers share the processors with
    the server, and forty threads took as much of them as six of forty check-ins.
    """
    found, asked = Answers(), [_Pending(asker()) for asker in asks]
    pending = [each for each in asked if each.connect(port)]
    began = time.perf_counter()
    for each in pending:
        each.send()
    with selectors.DefaultSelector() as waiting:
        for each in pending:
            waiting.register(each.line, selectors.EVENT_READ, each)
        while waiting.get_map() and (come := waiting.select(PATIENCE_SECONDS)):
            for key, _ in come:
                if key.data.is_over():
                    waiting.unregister(key.fileobj)
    found.took = time.perf_counter() - began
    for each in asked:
        each.tell(found)
    return found


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
    _note(found, ask, answer, len(body), time.perf_counter() - began)


def _note(
    found: Answers, ask: Ask, answer: http.client.HTTPResponse, length: int, seconds: float
) -> None:
    if answer.status >= 300:
        found.errors.append(f"{ask.path}: {answer.status}")
        return
    found.seconds.append(seconds)
    found.length = length
    found.headers = dict(answer.headers)


class _Pending:
    """A request on a connection of its own, which is read while others are."""

    def __init__(self, ask: Ask) -> None:
        body = ask.body.encode()
        # The answer is over when the server hangs up.
        own = {
            "Host": HOST,
            "Content-Length": str(len(body)),
            "Connection": "close",
        }
        said = "".join(f"{name}: {value}\r\n" for name, value in (own | ask.headers).items())
        self._ask = ask
        self._sent = f"{ask.method} {ask.path} HTTP/1.1\r\n{said}\r\n".encode() + body
        self._came, self._began, self._seconds, self._error = bytearray(), 0.0, 0.0, "no answer"
        self.line = socket.socket()
        self.line.settimeout(PATIENCE_SECONDS)

    def connect(self, port: int) -> bool:
        """Say whether anybody is there."""
        try:
            self.line.connect((HOST, port))
        except OSError as error:
            self._error = repr(error)
            return False
        return True

    def send(self) -> None:
        """Ask; who has hung up meanwhile is met when it is read."""
        self._began = time.perf_counter()
        with suppress(OSError):
            self.line.sendall(self._sent)

    def is_over(self) -> bool:
        """Read what has come, and say whether that was the last of it."""
        try:
            part = self.line.recv(65_536)
        except OSError as error:
            part, self._error = b"", repr(error)
        self._came += part
        self._seconds = time.perf_counter() - self._began
        return not part

    def tell(self, found: Answers) -> None:
        """Hang up, and put with the others what came."""
        self.line.close()
        try:
            answer = http.client.HTTPResponse(_Read(self._came))  # type: ignore[arg-type]
            answer.begin()
            body = answer.read()
        except http.client.HTTPException as error:
            found.errors.append(f"{self._ask.path}: {error!r}, {self._error}")
            return
        _note(found, self._ask, answer, len(body), self._seconds)


class _Read(io.BytesIO):
    """What was read from a connection, for the library that reads from one."""

    def makefile(self, *_: object) -> io.BytesIO:
        """Be the file that the library asks a connection for."""
        return self
