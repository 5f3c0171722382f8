"""A relay between browser and server that counts what goes over the wire.

Bytes are counted where they are: on the connection, headers and all, whoever asks (page or worker).
"""

import re
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import urlsplit

PIECE = 65_536


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
        return self.received - sum(sum(_headers(bytes(stream))) for stream in self.streams)

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


def _headers(stream: bytes) -> Iterator[int]:
    """Measure the headers of each answer on a connection (RFC 9112, sections 2.1 and 6.2)."""
    at = 0
    while (end := stream.find(b"\r\n\r\n", at)) >= 0:
        head = stream[at : end + 4]
        yield len(head)
        length = re.search(rb"(?i)\r\ncontent-length: *(\d+)", head)
        at = end + 4 + (int(length[1]) if length else 0)


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
