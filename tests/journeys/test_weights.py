"""Every page keeps its byte budget: docs/roles.md says which pages there are.

The figures are bytes on the connection, counted by a relay between browser and server.
"""

import json
from dataclasses import replace
from io import StringIO
from operator import attrgetter

import pytest
from django.core.management import call_command
from django_scopes import scopes_disabled

from studio.models import Membership, Student
from tests import weights
from tests.opened import ROLES, opened
from tests.weights import Opened
from tests.wire import Wire, counted

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def demo(live_server) -> dict[str, Opened]:
    """The pages of the demo's studio, about one of its students."""
    out = StringIO()
    call_command("demo_studio", "--json", stdout=out)
    first = json.loads(out.getvalue())["students"][0]["name"]
    with scopes_disabled():
        student = Student.objects.select_related("studio").get(name=first)
        owner = Membership.objects.select_related("user").get(studio=student.studio).user
    return opened(student, owner)


def test_every_page_keeps_its_byte_budget(demo, live_server, new_context, figures):
    found: list[weights.Weight] = []
    # A page is weighed once, as whoever has the smallest budget opens it.
    for role in sorted(ROLES, key=lambda role: weights.BUDGETS[role].first):
        earlier = {weight.page for weight in found}
        with counted(live_server.url) as wire:
            mine = [
                weights.weigh(new_context, wire, role=role, opened=demo[role], page=page)
                for page in demo[role].pages
                if page not in earlier
            ]
        found += mine
        for what in ("first", "next", "scripts"):
            most = max(mine, key=attrgetter(what))
            figures.append(
                f"over the wire, {role}, {len(mine)} pages: most bytes of {what}: "
                f"{getattr(most, what):,} ({most.page})"
            )

    assert {weight.page for weight in found} == {
        page for role in ROLES for page in demo[role].pages
    }
    assert [breach for weight in found for breach in weight.breaches()] == []


def test_whatever_is_over_its_budget_is_said():
    light = weights.Weight(
        page="a page", role="student", first=150_000, next=20_000, scripts=40_000,
        asked_for_library=False,
    )  # fmt: skip
    assert light.breaches() == []
    assert replace(light, role="owner", first=250_000, next=30_000).breaches() == []

    heavy = weights.Weight(
        page="a page", role="student", first=150_001, next=20_001, scripts=40_001,
        asked_for_library=True,
    )  # fmt: skip
    assert heavy.breaches() == [
        "student, a page: first visit 150,001 bytes, at most 150,000",
        "student, a page: next visit 20,001 bytes, at most 20,000",
        "student, a page: JavaScript 40,001 bytes, at most 40,000",
        "student, a page: the library of the charts, not asked for",
    ]


def test_the_relay_tells_scripts_from_pages_and_bodies_from_headers():
    page = b"HTTP/1.1 200 OK\r\nContent-Type: text/html; charset=utf-8\r\nContent-Length: 4\r\n\r\n"
    script = b"HTTP/1.1 200 OK\r\ncontent-length: 9\r\ncontent-type: text/javascript\r\n\r\n"
    kept = b"HTTP/1.1 304 Not Modified\r\nContent-Length: 700\r\n\r\n"
    wire = Wire("http://127.0.0.1:1")
    wire.door.close()
    wire.streams = [bytearray(page + b"\r\n\r\n" + kept), bytearray(script + b"let a = 1")]

    assert (wire.bodies, wire.scripts) == (4 + 9, 9)
    assert wire.received == len(page + kept + script) + 4 + 9
