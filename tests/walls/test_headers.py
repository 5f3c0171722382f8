"""Every kind of answer has the headers of docs/security.md, and every cookie its name and marks.

ASVS 5.0.0, V3.3 and V3.4; cookie prefixes: RFC 6265bis, section 4.1.3.
"""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.db import OperationalError, transaction
from django.test import Client
from django.urls import reverse

from studio.words import OfferKind
from tests import makers, tree
from tests.roles import addresses
from tests.test_roles import a_world
from tests.walls.two_studios import a_browser

pytestmark = pytest.mark.django_db

PAGE = (tree.TOP / "docs" / "security.md").read_text()
PUBLIC_COOKIES = re.findall(r"^\| `(__Host-\w+)` \|[^|]*\| (yes|no) \| `(\w+)` \|$", PAGE, re.M)


def wanted():
    """The table of headers, as (name, value)."""
    return dict(re.findall(r"^\| `([A-Z][\w-]+)` \| `([^`]+)` \|$", PAGE, re.MULTILINE))


def directives(value):
    return {part.strip() for part in value.split(";")}


def missing(answer, *, referrer="same-origin"):
    """Name the headers of the table that an answer lacks or has otherwise."""
    found = {name: answer.headers.get(name, "") for name in wanted()}
    asked = wanted() | {"Referrer-Policy": referrer}
    return {name for name in asked if directives(found[name]) != directives(asked[name])}


@pytest.fixture
def world():
    return a_world()


@pytest.fixture
def public(settings):
    """A site with an https address."""
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    for name in ("SESSION", "CSRF", "PHONE", "PARENT", "KNOWN", "NOTICE"):
        key = f"{name}_COOKIE_NAME"
        setattr(settings, key, f"__Host-{getattr(settings, key)}")
    settings.SECURE_HSTS_SECONDS = 31_536_000
    settings.SECURE_HSTS_INCLUDE_SUBDOMAINS = settings.SECURE_HSTS_PRELOAD = True
    return settings


def held_up():
    client = Client()
    for _ in range(21):
        answer = client.post(reverse("studio:pair"), {"token": "x"})
    return answer


def not_modified():
    path = static_file()
    first = Client().get(path)
    return Client().get(path, headers={"If-Modified-Since": first["Last-Modified"]})


def static_file():
    found = next(Path(settings.STATIC_ROOT).glob("css/tokens.*.css"))
    return settings.STATIC_URL + found.relative_to(settings.STATIC_ROOT).as_posix()


KINDS = {
    "a page": (200, lambda w: w.browsers["teacher"].get(reverse("progress:overview"))),
    "a page of a phone": (200, lambda w: w.browsers["student"].get(
        reverse("progress:today", args=[w.objects["student_id"]]))),
    "a part of a page": (200, lambda w: w.browsers["teacher"].post(
        reverse("routines:preview"), headers={"HX-Request": "true"})),
    "a redirect": (302, lambda _w: Client().get("/")),
    "not changed since": (304, lambda _w: not_modified()),
    "not understood": (400, lambda _w: Client().get("/help", headers={"Host": "evil.example"})),
    "refused": (403, lambda w: w.browsers["cover teacher"].post(reverse("studio:settings"))),
    "a form without its token": (403, lambda _w: Client(enforce_csrf_checks=True).post("/pair")),
    "not there": (404, lambda _w: Client().get("/none")),
    "not for that": (405, lambda _w: Client().post("/help")),
    "too large": (413, lambda _w: Client().post(
        "/pair", b"x=" + b"x" * 1_100_000, content_type="application/x-www-form-urlencoded")),
    "held up": (429, lambda _w: held_up()),
    "a static file": (200, lambda _w: Client().get(static_file())),
    "the phone's worker": (200, lambda _w: Client().get("/sw.js")),
    "words for a program": (200, lambda _w: Client().get(reverse("progress:phone_state"))),
    "a download": (200, lambda w: w.browsers["teacher"].get(
        reverse("progress:table", args=[w.objects["student_id"]]))),
    "a copy of a student": (200, lambda w: w.browsers["teacher"].post(
        reverse("progress:student_copy", args=[w.objects["student_id"]]))),
}  # fmt: skip


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_answer_has_the_headers(kind, world):
    status, ask = KINDS[kind]

    answer = ask(world)

    assert answer.status_code == status
    opens_a_link = answer.request["PATH_INFO"] == "/pair"
    given = answer.headers.get("Referrer-Policy")
    referrer = "no-referrer" if opens_a_link and given == "no-referrer" else "same-origin"
    assert missing(answer, referrer=referrer) == set()
    assert not [name for name in answer.headers if name.lower().startswith("access-control")]


def test_the_microphone_opens_on_the_one_page_that_records(world):
    path = reverse("progress:recording", args=[world.objects["student_id"]])

    answer = world.browsers["student"].get(path)

    assert answer.status_code == 200
    assert missing(answer) == {"Permissions-Policy", "Content-Security-Policy"}
    assert "microphone=(self)" in answer.headers["Permissions-Policy"]
    said = directives(answer.headers["Content-Security-Policy"])
    assert said ^ directives(wanted()["Content-Security-Policy"]) == {
        "media-src 'self'", "media-src 'self' blob:",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("error", "status"), [(ValueError("?"), 500), (OperationalError("database is locked"), 503)]
)
def test_a_fault_has_the_headers_too(monkeypatch, error, status):
    def fails():
        raise error

    monkeypatch.setattr("studio.views.front.hearing.table", fails)
    answer = Client(raise_request_exception=False).get(reverse("studio:help_hearing"))

    assert answer.status_code == status
    assert missing(answer) == set()
    assert answer.headers["Cache-Control"] == "no-store"


def test_a_missing_header_would_be_seen(settings):
    settings.MIDDLEWARE = [name for name in settings.MIDDLEWARE if "csp" not in name]

    assert missing(Client().get("/help")) == {"Content-Security-Policy"}


@pytest.mark.parametrize("kind", ["a page", "a redirect", "not there", "a part of a page"])
def test_what_people_read_is_kept_by_no_browser(kind, world):
    answer = KINDS[kind][1](world)

    if answer.headers.get("Content-Type", "").startswith("text/html") and answer.content:
        assert "no-store" in answer.headers["Cache-Control"]


@pytest.mark.parametrize("path", ["/pair", "/parent"])
def test_a_page_on_which_a_link_is_opened_tells_nobody_where_from(path):
    assert Client().get(path).headers["Referrer-Policy"] == "no-referrer"


def test_a_site_with_an_https_address_asks_for_https_for_a_year(public):
    said = Client().get("/help", secure=True).headers["Strict-Transport-Security"]

    assert said == "max-age=31536000; includeSubDomains; preload"


def test_every_cookie_has_its_name_and_its_marks(public):
    set_up = makers.a_student(makers.a_studio())
    teacher = makers.a_teacher()
    makers.an_offer(set_up, token="s" * 43)
    makers.an_offer(set_up, token="p" * 43, kind=OfferKind.PARENT)
    signing = {"login": teacher.email, "password": makers.PASSWORD}
    answers = [
        Client().get("/pair", secure=True),
        Client().post("/pair", {"token": "s" * 43}, secure=True),
        Client().post("/parent", {"token": "p" * 43}, secure=True),
        Client().post(reverse("account_login"), signing, secure=True),
        makers.signed_in(teacher).post(reverse("studio:settings_look"), {}, secure=True),
    ]

    seen = {name: cookie for answer in answers for name, cookie in answer.cookies.items()}
    assert set(seen) == {name for name, _script, _site in PUBLIC_COOKIES}
    for name, script, site in PUBLIC_COOKIES:
        cookie = seen[name]
        assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", "")
        assert (bool(cookie["httponly"]), cookie["samesite"]) == (script == "no", site)


def test_no_address_sets_a_cookie_that_is_not_in_the_table(world):
    named = {name.removeprefix("__Host-") for name, _script, _site in PUBLIC_COOKIES}
    set_by: dict[str, tuple[str, str, str]] = {}
    for one in addresses():
        for role in ("owner", "student", "parent", "anonymous"):
            for method in ("GET", "POST"):
                # What one request changes ends with it, so that every address is really there.
                with transaction.atomic():
                    answer = a_browser(world.cookies[role]).generic(
                        method, one.path(world.objects), b""
                    )
                    transaction.set_rollback(True)
                set_by |= dict.fromkeys(answer.cookies, (one.name, role, method))

    assert {name: how for name, how in set_by.items() if name not in named} == {}
    assert {"filar_session", "filar_said", "filar_csrf"} <= set(set_by)


def test_the_tables_were_read():
    assert len(wanted()) == 8
    assert len(PUBLIC_COOKIES) == 6


def test_every_test_named_on_the_page_is_there():
    named = set(re.findall(r"`(tests/[\w/]+\.py)`", PAGE))

    assert len(named) > 8
    assert [name for name in named if not (tree.TOP / name).exists()] == []


@pytest.mark.parametrize("code", [400, 403, 404, 405, 413, 429, 500, 503])
def test_every_error_has_a_page_of_our_own(code):
    page = (tree.TOP / "templates" / f"{code}.html").read_text()

    assert 'extends "components/error_page.html"' in page
