"""A studio, its students and their phones, for the tests without signal."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
from django_scopes import scopes_disabled
from playwright.sync_api import BrowserContext, Page
from pytest_django.live_server_helper import LiveServer

from studio.models import Student, Studio
from tests import makers
from tests.offline import phones


@dataclass(frozen=True, kw_only=True)
class Phone:
    """One student's phone: a page in a browser of its own, and where Today is."""

    student: Student
    paired: makers.PairedPhone
    page: Page
    today: str

    @property
    def context(self) -> BrowserContext:
        """The browser that the page lies in."""
        return self.page.context

    def open_check_in(self) -> None:
        """Open the form and wait until its script has it."""
        self.page.goto(f"{self.today}/check-in")
        phones.is_ready(self.page)


@pytest.fixture(autouse=True)
def every_row() -> Iterator[None]:
    """Let the tests read rows as nobody else may."""
    with scopes_disabled():
        yield


@pytest.fixture
def studio(transactional_db: None) -> Studio:
    """A studio whose clocks show UTC, as the browser of these tests does."""
    return makers.a_studio()


@pytest.fixture
def nor(studio: Studio) -> Student:
    """A student in the second week of a block."""
    student = makers.a_student(studio)
    makers.a_block(student, weekdays_off=[])
    return student


@pytest.fixture
def make_phone(
    live_server: LiveServer, new_context: Callable[..., BrowserContext], troubles: Any
) -> Callable[..., Phone]:
    """Set up a phone for a student; without signal is no trouble in these tests."""
    troubles.allow(phones.NO_SIGNAL)

    def made(student: Student, *, kind: str = "student", **browser: Any) -> Phone:
        paired = makers.a_grant(student, kind=kind)
        context = phones.a_browser(new_context, **{"timezone_id": "UTC", **browser})
        phones.paired(context, live_server.url, paired)
        today = f"{live_server.url}/practice/{student.public_id}"
        return Phone(student=student, paired=paired, page=context.new_page(), today=today)

    return made


@pytest.fixture
def nors(nor: Student, make_phone: Callable[..., Phone]) -> Phone:
    """Nor's phone after its first visit: the worker runs and has kept the pages."""
    phone = make_phone(nor)
    phones.keeps_everything(phone.page, phone.today)
    return phone
