"""Two server processes on two ports, one database: what one knows, the other knows as well."""

import http.client
from collections.abc import Iterator
from contextlib import closing
from urllib.parse import urlencode
from uuid import uuid4

import pytest

from studio import limits
from tests.keeping.people import TEACHER
from tests.keeping.served import HOST, Served
from tests.makers import PASSWORD

pytestmark = pytest.mark.battery(only=True)  # it starts PostgreSQL and two servers


@pytest.fixture
def two(serve, cluster) -> Iterator[tuple[Served, Served]]:
    """Two servers that know nothing of each other but the database and the key."""
    first = serve(cluster.address, students=4)
    done = first.command("manage.py", "collectstatic", "--noinput", "-v", "0")
    assert done.returncode == 0, done.stderr
    first.kill()
    first.start()
    second = first.beside()
    yield first, second
    second.kill()


def ask(served: Served, path: str, cookies: dict[str, str], body: str = "") -> int:
    with closing(http.client.HTTPConnection(HOST, served.port, timeout=20)) as line:
        headers = {
            "Cookie": "; ".join(f"{name}={value}" for name, value in cookies.items()),
            "Content-Type": "application/x-www-form-urlencoded",
            "X-CSRFToken": cookies.get("filar_csrf", ""),
        }
        line.request("POST" if body else "GET", path, body or None, headers)
        answer = line.getresponse()
        answer.read()
        for header in answer.headers.get_all("Set-Cookie") or ():
            name, value = header.split(";")[0].split("=", 1)
            cookies[name] = value
        return answer.status


def test_a_sign_in_a_phone_a_limit_and_a_key_hold_across_both(two, figures):
    first, second = two
    cookies: dict[str, str] = {}
    ask(first, "/sign-in", cookies)
    typed = urlencode({"login": TEACHER, "password": PASSWORD})
    assert ask(first, "/sign-in", cookies, typed) == 302
    assert ask(second, "/overview", cookies) == 200

    phone, other = first.phone(0), second.phone(0)
    key, status = phone.check_in(str(uuid4()))
    assert status == 201
    assert other.check_in(key)[1] in {200, 409}

    stranger: dict[str, str] = {}
    ask(first, "/pair", stranger)
    statuses = [
        ask((first, second)[number % 2], "/pair", stranger, "token=guess")
        for number in range(limits.LINK_BY_ADDRESS.tries + 6)
    ]
    assert 20 <= statuses.count(410) <= 21
    assert statuses[-1] == 429
    figures.append(f"two processes: {statuses.count(410)} guesses of 26 looked at, over both")
