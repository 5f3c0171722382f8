"""The log says when, who by an id, where by a name of ours and how it ended, and no more.

ASVS 5.0.0, V16.2.1 to V16.2.5, V16.3 and V16.4.1.
"""

import io
import json
import logging
import sys

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from config.gunicorn import without_the_request
from config.logs import JsonLine
from studio import log
from studio.words import Role
from tests import makers
from tests.walls import two_studios
from tests.walls.test_canaries import browser, plans, untouched
from tests.walls.two_studios import CANARY

pytestmark = pytest.mark.django_db


class Written:
    """What a handler of the real form has written, in memory."""

    def __init__(self):
        self.stream = io.StringIO()
        self.handler = logging.StreamHandler(self.stream)
        self.handler.setFormatter(JsonLine())

    @property
    def lines(self):
        return [json.loads(line) for line in self.stream.getvalue().splitlines()]


@pytest.fixture
def written():
    found = Written()
    root = logging.getLogger()
    root.addHandler(found.handler)
    yield found
    root.removeHandler(found.handler)


def test_a_line_says_when_who_where_and_how_it_ended(written):
    studio = makers.a_studio()
    cover = makers.a_teacher(studio, role=Role.COVER)

    makers.signed_in(cover).post(reverse("studio:settings"))

    line = written.lines[-1]
    assert line["event"] == "refused"
    assert line["who"] == f"teacher {cover.pk}"
    assert (line["where"], line["method"], line["status"]) == ("studio:settings", "POST", 403)
    assert line["when"].endswith("+00:00")


@pytest.mark.parametrize(
    ("method", "path", "status", "event"),
    [
        ("GET", "/students/0123456789abcdef/none", 404, "not found"),
        ("POST", "/help", 405, "method not taken"),
        ("POST", "/pair", 410, "link used or unknown"),
        ("GET", "/practice/0123456789abcdef", 404, "not found"),
    ],
)
def test_what_is_refused_leaves_a_line(method, path, status, event, written):
    answer = Client().generic(method, path)

    line = written.lines[-1]
    assert (answer.status_code, line["status"], line["event"]) == (status, status, event)


def test_whoever_is_held_up_leaves_a_line(written):
    for _ in range(21):
        answer = Client().post(reverse("studio:pair"), {"token": "x"})

    assert answer.status_code == 429
    assert written.lines[-1]["event"] == "held up"


def test_sign_ins_and_those_not_taken_leave_a_line_without_the_account(written):
    teacher = makers.a_teacher(email="runa@example.org")
    for password in ("not the password", makers.PASSWORD):
        Client().post(reverse("account_login"), {"login": teacher.email, "password": password})

    events = [(line["event"], line["who"]) for line in written.lines]
    assert ("sign-in not taken", "nobody known") in events
    assert ("signed in", f"teacher {teacher.pk}") in events
    assert "runa" not in written.stream.getvalue()


def test_a_phone_that_is_set_up_leaves_a_line_without_the_token(written):
    student = makers.a_student(makers.a_studio(), name="Nor Quillfeather")
    makers.an_offer(student, token="t" * 43)

    answer = Client().post(reverse("studio:pair"), {"token": "t" * 43})

    assert answer.status_code in {200, 302}
    assert "phone set up" in [line["event"] for line in written.lines]
    assert "ttttt" not in written.stream.getvalue()
    assert "Quillfeather" not in written.stream.getvalue()


def test_a_fault_is_written_by_its_lines_and_not_by_its_words(written, monkeypatch):
    def broken(*_given):
        message = "qv1234zk could not be divided"
        raise ZeroDivisionError(message)

    monkeypatch.setattr("studio.views.front.hearing.table", broken)
    client = Client(raise_request_exception=False)

    page = client.get(reverse("studio:help_hearing"))

    line = next(line for line in written.lines if line["event"] == "a fault of ours")
    assert line["error"] == "builtins.ZeroDivisionError"
    assert any(at.startswith("studio/views/front.py:") for at in line["at"])
    assert line["error_id"] in page.content.decode()
    assert CANARY.search(written.stream.getvalue()) is None


def test_the_page_of_a_fault_asks_the_database_nothing(monkeypatch):
    broken, asked = [], []

    def break_now():
        broken.append(True)
        raise ZeroDivisionError

    def watch(execute, sql, *given):
        asked.extend([sql] if broken else [])
        return execute(sql, *given)

    monkeypatch.setattr("studio.views.front.hearing.table", break_now)
    client = makers.signed_in(makers.a_teacher())
    client.raise_request_exception = False
    with connection.execute_wrapper(watch):
        answer = client.get(reverse("studio:help_hearing"))

    assert (answer.status_code, broken, asked) == (500, [True], [])


@pytest.mark.parametrize(
    "nasty", ["a\nb", "a\r\nb", "\x1b[31mred", "a\u2028b", "a\x00b", '"}\n{"x']
)
def test_what_would_break_a_line_stays_in_one(nasty, written):
    logging.getLogger("filar").warning("typed: %s", nasty)

    text = written.stream.getvalue()
    assert len(text.splitlines()) == 1
    assert text.isprintable() or text.rstrip("\n").isprintable()
    assert json.loads(text)["event"] == f"typed: {nasty}"


def test_a_path_with_a_secret_is_named_and_not_written(written):
    Client().get("/letters/stop/qv4321zk")
    Client().get("/qv4321zk/%0d%0aInjected", headers={"Host": "qv4321zk.example"})

    assert CANARY.search(written.stream.getvalue()) is None
    assert written.lines != []


def test_a_crawl_leaves_no_name_in_the_log(written):
    mine = two_studios.a_whole_studio("Alder")
    forms = untouched(mine)
    two_studios.fill_with_canaries(mine)
    for _name, path, _foreign, who, method in list(plans(mine, mine))[::23]:
        client = browser(mine, who)
        client.generic(
            method, path, "&".join(f"{name}=qv0000zk" for name in forms.get(path, {})),
            content_type="application/x-www-form-urlencoded",
        )  # fmt: skip

    text = written.stream.getvalue()
    assert len(written.lines) > 20
    assert CANARY.search(text) is None
    for cookies in mine.cookies.values():
        for cookie in cookies.values():
            assert cookie.value not in text


def test_every_name_of_what_is_written_is_an_address_of_ours():
    for name in log.DONE:
        assert reverse(name, kwargs=_anything(name)).startswith("/")


def _anything(name):
    given = {
        "studio:answer_phone": {"grant_id": "x", "answer": "confirm"},
        "studio:sign_out_all": {"student_id": "x"},
    }
    return given.get(name, {})


@pytest.mark.parametrize(
    ("said", "left"),
    [
        ("Invalid request from ip=198.51.100.7: Invalid HTTP request line: 'GET /qv1234zk'",
         "Invalid request"),
        ("Error handling request /letters/stop/qv1234zk", "Error handling request: {'error': "),
        ("Worker exiting (pid: 7)", "Worker exiting (pid: 7)"),
    ],
)  # fmt: skip
def test_the_servers_own_lines_say_nothing_of_who_asked_for_what(said, left):
    try:
        raise ValueError("qv4321zk")
    except ValueError:
        record = logging.makeLogRecord({"msg": said, "exc_info": sys.exc_info()})

    assert without_the_request(record)

    written = logging.Formatter().format(record) if said[0] != "W" else record.getMessage()
    assert written.startswith(left)
    assert CANARY.search(written) is None
    assert "198.51.100.7" not in written
