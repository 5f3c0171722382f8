"""What opens a door is nowhere afterwards: in no request but its own body, in no log, in no copy.

That a fragment is neither sent nor written into Referer is RFC 9110, sections 4.1 and 10.1.3.
"""

import json
import logging
import zipfile
from base64 import b64decode
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from django.core import mail
from django.core.signals import request_started
from django.db import connection
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page

from studio.models import Student
from studio.services import backups
from studio.words import Role
from tests import browser as chromium
from tests import makers
from tests.journeys.test_every_page import sign_in
from tests.test_roles import everything_stored
from tests.walls.test_log import Written

pytestmark = pytest.mark.django_db(transaction=True)

KEPT_IN_BROWSER = """async () => {
  const found = [JSON.stringify(localStorage), JSON.stringify(sessionStorage), document.cookie];
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const one of await cache.keys()) {
      found.push(one.url, await (await cache.match(one)).text());
    }
  }
  return found.join("\\n") + location.href + document.referrer;
}"""


@dataclass
class Heard:
    """What the server was told, and what it wrote down of that at its most talkative."""

    told: list[str]
    log: Written


@pytest.fixture
def heard() -> Iterator[Heard]:
    """The addresses and headers of every request, as the server has them, and its log."""
    found, root = Heard([], Written()), logging.getLogger()

    def note(environ: dict[str, Any], **_others: Any) -> None:
        found.told.extend(
            f"{name}: {value}"
            for name, value in environ.items()
            if name in {"PATH_INFO", "QUERY_STRING"} or name.startswith("HTTP_")
        )

    usual = root.level
    root.addHandler(found.log.handler)
    root.setLevel("DEBUG")
    request_started.connect(note)
    yield found
    request_started.disconnect(note)
    root.setLevel(usual)
    root.removeHandler(found.log.handler)


@pytest.fixture
def nor() -> Student:
    """A student of a studio whose owner signs in."""
    teacher = makers.a_teacher(email="runa@example.org", role=Role.OWNER)
    student = makers.a_student(makers.studio_of(teacher))
    makers.a_block(student)
    return student


def a_link(laptop: Page, page: str, button: str) -> str:
    laptop.goto(page)
    laptop.get_by_role("button", name=button).click()
    return laptop.locator("#link").inner_text()


def by_link(link: str, button: str) -> Callable[[Page, str], str]:
    """Open a link on a phone and use it up; give its secret."""

    def use(phone: Page, _address: str) -> str:
        phone.goto(link)
        phone.get_by_role("button", name=button).click()
        return link.partition("#")[2]

    return use


def by_code(code: str) -> Callable[[Page, str], str]:
    """Type a code on a phone; give the code."""

    def use(phone: Page, address: str) -> str:
        phone.goto(f"{address}/pair")
        phone.get_by_label("Code").fill(code)
        phone.get_by_role("button", name="Use this phone").click()
        return code

    return use


def doors(laptop: Page, address: str, nor: Student) -> Iterator[tuple[str, Callable[..., str]]]:
    """Every kind of door: where the phone is led, and how it is opened."""
    student = f"{address}/students/{nor.public_id}"
    own, parents = f"**/practice/{nor.public_id}", f"**/parent/{nor.public_id}"
    sent = a_link(laptop, student, "Make a link to send")
    yield own, by_link(sent, "Use this phone")
    yield parents, by_link(a_link(laptop, student, "Make a link for a parent"), "Open the page")
    a_link(laptop, student, "Show a QR code here")
    yield own, by_code(laptop.locator(".code-to-read").inner_text())
    invited = a_link(laptop, f"{address}/settings/teachers/invite", "Make the link")
    yield "**/join/studio", by_link(invited, "Go on")


def history_of(page: Page) -> list[str]:
    """The addresses that the browser's own back button knows."""
    asked = page.context.new_cdp_session(page).send("Page.getNavigationHistory")
    return [entry["url"] for entry in asked["entries"]]


def kept_by_the_server() -> str:
    """All that lies in the database, in the cache beside it, and in a backup."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT cache_key, value FROM filar_cache")
        cached = [(key, b64decode(value)) for key, value in cursor.fetchall()]
    sessions = [one.get_decoded() for one in Session.objects.all()]
    folder = Path(settings.VAR_DIR) / "traces"
    file = backups.make(folder, moment=timezone.now(), say=lambda _words: None)
    with zipfile.ZipFile(file) as archive:
        copied = b"".join(archive.read(name) for name in archive.namelist())
    letters = [f"{one.subject} {one.body}" for one in mail.outbox]
    return f"{cached} {sessions} {everything_stored()} {copied.decode(errors='replace')} {letters}"


def test_what_opens_a_door_is_found_nowhere_afterwards(
    laptop: Page, new_context: Callable[..., BrowserContext], live_server, nor, heard, figures
):
    teacher = {"email": "runa@example.org", "password": makers.PASSWORD}
    sign_in(laptop, {"url": live_server.url, "teacher": teacher})
    opened: list[str] = []
    secrets: list[str] = []
    for led_to, use in doors(laptop, live_server.url, nor):
        context = new_context(**{**chromium.PHONE, "service_workers": "allow"})
        phone = context.new_page()
        opened.append(use(phone, live_server.url))
        phone.wait_for_url(led_to)
        phone.goto(f"{live_server.url}/help")
        left = phone.evaluate(KEPT_IN_BROWSER) + json.dumps(history_of(phone))
        cookies = {one["name"]: one["value"] for one in context.cookies()}
        assert opened[-1] not in left + str(cookies)
        held = cookies.get(settings.PHONE_COOKIE_NAME) or cookies.get(settings.PARENT_COOKIE_NAME)
        if held:
            secrets.append(held.partition(".")[2])
            assert secrets[-1] not in left

    cookies_told = [one for one in heard.told if one.startswith("HTTP_COOKIE")]
    told = [one for one in heard.told if one not in cookies_told]
    everywhere = f"{told} {heard.log.stream.getvalue()} {kept_by_the_server()}"
    assert [one for one in [*opened, *secrets] if one in everywhere] == []
    assert [one for one in opened if one in str(cookies_told)] == []
    assert {"PATH_INFO: /pair", "PATH_INFO: /parent", "PATH_INFO: /join"} <= set(told)
    assert (len(opened), len(secrets)) == (4, 3)
    figures.append(f"doors: {len(opened)} opened, 0 traces in {len(told)} lines of requests")
