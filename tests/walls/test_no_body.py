"""An answer that has no body on the wire has none before, so that no server complains of it.

Which these are: RFC 9110, sections 9.3.2 (HEAD) and 15.4.5 (304). Django's own test client takes
bodies off itself, so here the program is called as a server calls it (PEP 3333).
"""

from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.handlers.wsgi import WSGIHandler
from django.test import RequestFactory
from django.test.client import FakePayload

pytestmark = pytest.mark.django_db


def asked(path: str, method: str = "GET", **headers: str) -> tuple[str, dict[str, str], bytes]:
    """Ask as a browser does, that unpacks what is compressed."""
    said: dict[str, Any] = {}

    def start(status, given, _error=None):
        said.update(status=status, headers=dict(given))

    environ = RequestFactory(headers={"Accept-Encoding": "gzip"} | headers).get(path).environ
    environ |= {"REQUEST_METHOD": method, "wsgi.input": FakePayload(b"")}
    answer = WSGIHandler()(environ, start)
    try:
        return said["status"][:3], said["headers"], b"".join(answer)
    finally:
        answer.close()


def static_file() -> str:
    found = next(Path(settings.STATIC_ROOT).glob("css/tokens.*.css"))
    return settings.STATIC_URL + found.relative_to(settings.STATIC_ROOT).as_posix()


def test_a_file_that_has_not_changed_comes_without_a_byte():
    _, first, whole = asked(static_file())

    status, headers, body = asked(static_file(), **{"If-Modified-Since": first["Last-Modified"]})

    assert whole
    assert (status, body) == ("304", b"")
    assert "Content-Encoding" not in headers


@pytest.mark.parametrize("path", ["/healthz", "/none", None])
def test_whoever_asks_for_the_headers_alone_gets_them_alone(path):
    path = path or static_file()
    status, headers, whole = asked(path)

    alone, told, body = asked(path, "HEAD")

    assert whole
    assert (alone, body) == (status, b"")
    assert told.get("Content-Type") == headers.get("Content-Type")
