"""A relay between browser and server that counts what goes over the wire.

Bytes are counted where they are: on the connection, headers and all, whoever asks (page or worker).
"""

import re
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from urllib.parse import urlsplit

from playwright.sync_api import Page

PIECE = 65_536
# Answers without a body, whatever their headers say (RFC 9110, sections 15.3.5 and 15.4.5).
BODILESS = {b"204", b"304"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One answer of the server: its kind, and its bytes as they came over the wire."""

    kind: str
    headers: int
    body: int


class Wire:
    """A relay on a spare loopback port that remembers what came from the server."""

    def __init__(self, address: str) -> None:
        parts = urlsplit(address)
        self.server = (parts.hostname or "127.0.0.1", parts.port or 80)
        self.door = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self.door.getsockname()[1]}"
        self.streams: list[bytearray] = []

    @property
    def received(self) -> int:
        """Count the bytes that came, headers and bodies."""
        return sum(map(len, self.streams))

    @property
    def bodies(self) -> int:
        """Count the bytes of the bodies: HTTP/1.1 repeats its headers in full with every file."""
        return self.received - sum(answer.headers for answer in self.answers())

    @property
    def scripts(self) -> int:
        """Count the bytes of JavaScript that came, without headers."""
        return sum(answer.body for answer in self.answers() if "javascript" in answer.kind)

    def answers(self) -> list[Answer]:
        """List what the server answered, connection by connection."""
        return [answer for stream in self.streams for answer in _answers(bytes(stream))]

    def until_quiet(self, page: Page) -> int:
        """Wait until nothing has come for a second; say how much came in all."""
        last = -1
        while last != self.received:
            last = self.received
            page.wait_for_timeout(1000)
        return self.received

    def serve(self) -> None:
        """Relay every connection until the door is closed."""
        while True:
            try:
                browser, _ = self.door.accept()
            except OSError:
                return
            server = socket.create_connection(self.server)
            self.streams.append(bytearray())
            for source, target, seen in (
                (browser, server, bytearray()),
                (server, browser, self.streams[-1]),
            ):
                relay = threading.Thread(target=_relay, args=(source, target, seen), daemon=True)
                relay.start()


def _relay(source: socket.socket, target: socket.socket, seen: bytearray) -> None:
    try:
        while piece := source.recv(PIECE):
            seen.extend(piece)
            target.sendall(piece)
        target.shutdown(socket.SHUT_WR)
    except OSError:
        source.close()
        target.close()


def _answers(stream: bytes) -> Iterator[Answer]:
    """Take the answers of a connection apart (RFC 9112, sections 2.1 and 6.2)."""
    at = 0
    while (end := stream.find(b"\r\n\r\n", at)) >= 0:
        head = stream[at : end + 4]
        length = re.search(rb"(?i)\r\ncontent-length: *(\d+)", head)
        kind = re.search(rb"(?i)\r\ncontent-type: *([^\r;]+)", head)
        body = int(length[1]) if length and head[9:12] not in BODILESS else 0
        yield Answer(kind=kind[1].decode() if kind else "", headers=len(head), body=body)
        at = end + 4 + body


@contextmanager
def counted(address: str) -> Iterator[Wire]:
    """Relay to a server while the test runs."""
    wire = Wire(address)
    thread = threading.Thread(target=wire.serve, daemon=True)
    thread.start()
    try:
        yield wire
    finally:
        wire.door.shutdown(socket.SHUT_RDWR)
        wire.door.close()
        thread.join()
