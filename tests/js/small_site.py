"""A small loopback server for the player's page: no database, the headers of a real answer."""

import json
import mimetypes
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from hashlib import sha256
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs

mimetypes.add_type("text/javascript", ".js")

STATE = "/practice/phone"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; "
    "media-src 'self'; form-action 'self'; base-uri 'none'; object-src 'none'; "
    "frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Permissions-Policy": "screen-wake-lock=(self), autoplay=(self)",
    "Cache-Control": "no-store",
}


@dataclass
class Site:
    """What is served, and what was asked for. `hurt_status` is how a report is answered."""

    folder: Path
    pages: dict[str, str] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)
    reports: list[str] = field(default_factory=list)
    hurt_status: int = 200
    tokens: list[str] = field(default_factory=list)
    greeting: dict[str, object] = field(
        default_factory=lambda: {"token": "t" * 32, "students": ["s-7Qd2"]}
    )
    address: str = ""

    def answer(self, path: str) -> tuple[int, str, bytes]:
        """Status, type and body of a GET."""
        if path == STATE:
            return 200, "application/json", json.dumps(self.greeting).encode()
        if path in self.pages:
            return 200, "text/html; charset=utf-8", self.pages[path].encode()
        file = self.folder / path.removeprefix("/static/")
        if path.startswith("/static/") and file.is_file():
            return 200, mimetypes.guess_type(file.name)[0] or "", file.read_bytes()
        return 404, "text/plain; charset=utf-8", b"not here"


def echo_of(body: bytes) -> bytes:
    """Echo a report as the real site does: its key and the SHA-256 of what came."""
    key = parse_qs(body.decode()).get("key", [""])[0]
    return json.dumps({"key": key, "hash": sha256(body).hexdigest()}).encode()


def _handler(site: Site) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def reply(self, status: int, kind: str, body: bytes) -> None:
            self.send_response(status)
            for name, value in HEADERS.items():
                self.send_header(name, value)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            self.wfile.write(body)

        def do_GET(self) -> None:
            path = self.path.split("?")[0]
            site.asked.append(f"GET {path}")
            self.reply(*site.answer(path))

        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            site.asked.append(f"POST {self.path}")
            site.reports.append(body.decode())
            site.tokens.append(self.headers.get("X-CSRFToken", ""))
            self.reply(site.hurt_status, "application/json", echo_of(body))

        def log_message(self, *_: object) -> None:
            """Say nothing: pytest shows what failed."""

    return Handler


@contextmanager
def serving(site: Site) -> Iterator[Site]:
    """Serve on a spare loopback port until the test is over."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), _handler(site))
    site.address = f"http://127.0.0.1:{server.server_address[1]}"
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield site
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
