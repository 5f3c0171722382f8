"""Who gets what: every address, every role, against the table in docs/roles.md.

The table is the documentation and the expectation at once (ASVS 5.0.0, V8.1.1 and V8.2.1).
"""

import re
from dataclasses import dataclass
from http.cookies import SimpleCookie
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import transaction
from django.test import Client
from django.urls import resolve, reverse
from django_scopes import scopes_disabled

from studio.models import Tries
from studio.words import GrantKind, GrantState, Role
from tests import makers
from tests.progress import recording_makers
from tests.roles import OWNER, addresses, table

STRANGERS = ("anonymous", "other student", "ended phone", "other studio's teacher")
CANARY = "Quillfeather"
# What an address may ask for that is a word and names nothing.
WORDS = {"kind", "answer", "reason", "whose"}
# Here a mail program writes, which has seen no page (RFC 8058): the address itself is signed.
SIGNED = {"studio:stop_letters"}
UNSAFE = ("POST", "PUT", "PATCH", "DELETE")
# Pages that are a form and nothing to read; the first two carry no student's name.
ONLY_FORMS = {
    "routines:assign", "routines:add_student", "progress:rate", "progress:add_interruption",
    "routines:change_block", "routines:rename_template", "progress:fix_day",
}  # fmt: skip

pytestmark = pytest.mark.django_db


@dataclass(frozen=True, slots=True, kw_only=True)
class World:
    """A studio with one of everything, and a browser for each role."""

    objects: dict[str, str]
    cookies: dict[str, SimpleCookie]
    day: str

    @property
    def browsers(self) -> dict[str, Client]:
        """A new browser for each role: what one request does to its cookies ends with it."""
        found = {}
        for role, cookies in self.cookies.items():
            found[role] = Client()
            found[role].cookies.load(cookies)
        return found


@pytest.fixture
def world() -> World:
    return a_world()


def a_world() -> World:
    studio = makers.a_studio(name=f"Studio {CANARY}")
    teacher = makers.a_teacher(studio, name="Runa")
    nor = makers.a_student(studio, name=f"Nor {CANARY}", group=f"Group {CANARY}")
    sam = makers.a_student(studio, name="Sam")
    block = makers.a_block(nor, message=f"Message {CANARY}", by=teacher)
    makers.a_block(sam)
    makers.a_student(studio, name="Without a block")
    makers.a_student(studio, name="Off the lists", archived_on=makers.today(studio))
    phone = makers.a_grant(nor)
    check_in = makers.a_check_in(nor, block=block, grant=phone.grant, words=f"Words {CANARY}")
    recording_makers.leave(nor)
    elsewhere = makers.a_studio(name="South Street Brass")
    stranger = makers.a_teacher(elsewhere, name="Ivo", role=Role.OWNER)
    return World(
        objects={
            "student_id": nor.public_id,
            "grant_id": makers.a_grant(nor, state=GrantState.PROVISIONAL).grant.public_id,
            "discomfort_id": makers.a_discomfort(nor).public_id,
            "check_in_id": check_in.public_id,
            "interruption_id": makers.an_interruption(nor).public_id,
            "batch": block.batch,
            "block_id": block.public_id,
            "decision_id": makers.a_decision(block, by=teacher).public_id,
            "template_id": makers.a_template(
                studio, name=f"Template {CANARY}", by=teacher
            ).public_id,
            "recording_id": recording_makers.a_recording(nor, block=block).public_id,
            "kind": "sent",
            "answer": "confirm",
            "reason": "no-time",
            "member_id": makers.place_of(makers.a_teacher(studio, name="Bea")).public_id,
            "invitation_id": makers.an_invitation(studio, by=teacher).public_id,
            "studio_id": studio.public_id,
            "whose": "mine",
            "token": "not-signed-by-the-site",
        },
        cookies={
            "anonymous": SimpleCookie(),
            "student": makers.a_phone(phone).cookies,
            "other student": makers.a_phone(makers.a_grant(sam)).cookies,
            "provisional phone": makers.a_phone(
                makers.a_grant(nor, state=GrantState.PROVISIONAL)
            ).cookies,
            "ended phone": makers.a_phone(makers.a_grant(nor, state=GrantState.ENDED)).cookies,
            "teacher": makers.signed_in(teacher).cookies,
            OWNER: makers.signed_in(makers.a_teacher(studio, role=Role.OWNER)).cookies,
            "cover teacher": makers.signed_in(makers.a_teacher(studio, role=Role.COVER)).cookies,
            "other studio's teacher": makers.signed_in(stranger).cookies,
            "parent": makers.a_phone(makers.a_grant(nor, kind=GrantKind.PARENT)).cookies,
        },
        day=makers.today(studio).isoformat(),
    )


def a_body(name: str, world: World) -> dict[str, Any]:
    """Write what a page's own form would send, so that whoever may do it does it."""
    bodies: dict[str, dict[str, Any]] = {
        "progress:check_in": makers.the_answers(day=world.day),
        "progress:hurt": {"key": str(uuid4()), "step": "3"},
        "studio:close_discomfort": {"spoken_with_family": "on"},
        "studio:parents_see": {"see": "yes"},
        "studio:parent_phones": {"phone": world.objects["grant_id"]},
        "studio:settings": {
            "name": "Renamed", "time_zone": "Europe/Oslo", "day_ends_at": "04:00",
            "back_fill_days": "7", "link_hours": "72", "note_naming": "letters",
        },
        "studio:settings_assessment": {"caution": "strict"},
        "studio:settings_privacy": {"keep_months": "36"},
        "studio:settings_look": {"look": "dark"},
        "studio:sign_out_studio": {"sure": "on"},
        "studio:invite": {"role": "teacher"},
        "studio:join": {"token": "nothing"},
        "studio:teacher": {"role": "owner"},
        "routines:add_student": {
            "name": "New", "instrument": "horn_f", "grade": "open", "child": "no"
        },
        "routines:change_student": {
            "name": "New", "instrument": "horn_f", "grade": "open", "child": "no"
        },
        "account_change_password": {
            "oldpassword": makers.PASSWORD,
            "password1": "four quiet low notes",
            "password2": "four quiet low notes",
        },
    }  # fmt: skip
    return bodies.get(name, {})


def everything_stored() -> dict[str, list[dict[str, Any]]]:
    """Read every row of the three apps, but for what counts how often something was tried."""
    with scopes_disabled():
        return {
            model.__name__: list(model._default_manager.order_by("pk").values())
            for app in ("studio", "routines", "progress")
            for model in apps.get_app_config(app).get_models()
            if model is not Tries
        }


def test_every_address_and_method_stands_in_the_table_and_nothing_else():
    wanted = {(one.name, method) for one in addresses() for method in ("GET", "POST")}

    assert sorted(wanted ^ set(table())) == []


def test_an_address_without_a_row_is_found():
    wanted = {(one.name, "GET") for one in addresses()} | {("studio:planted", "GET")}

    assert wanted - set(table()) == {("studio:planted", "GET")}


@pytest.mark.parametrize("address", addresses(), ids=lambda one: one.name)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_each_role_gets_what_the_table_says(address, method, world):
    before, path = everything_stored(), address.path(world.objects)
    body = _as_a_form(a_body(address.name, world), method)
    got, seen, wrote = {}, [], []
    for role, browser in world.browsers.items():
        with transaction.atomic():
            answer = browser.generic(method, path, **body)
            got[role] = answer.status_code
            seen += [role] if CANARY in answer.content.decode(errors="replace") else []
            wrote += [role] if everything_stored() != before else []
            transaction.set_rollback(True)

    assert got == table()[address.name, method]
    assert set(seen).isdisjoint(STRANGERS)
    assert set(wrote) <= {role for role, status in got.items() if status in {200, 201, 302}}


def _as_a_form(body: dict[str, Any], method: str) -> dict[str, Any]:
    if method == "GET":
        return {}
    pairs = "&".join(f"{name}={value}" for name, value in body.items())
    return {"data": pairs, "content_type": "application/x-www-form-urlencoded"}


def _sends_and_links(answer: Any) -> tuple[set[str], set[str]]:
    """Name the addresses that a page's forms send to and its links lead to."""
    page = answer.content.decode(errors="replace")
    forms = re.findall(r'<form[^>]*method="post"[^>]*action="([^"?]*)', page)
    assert len(forms) == page.count('method="post"')
    links = re.findall(r'<a [^>]*href="(/[^"?#]*)', page)
    return {resolve(to).view_name for to in forms}, {resolve(to).view_name for to in links}


@pytest.mark.parametrize(
    "address",
    [one for one in addresses() if table()[one.name, "GET"]["cover teacher"] == 200],
    ids=lambda one: one.name,
)
def test_no_page_shows_a_cover_teacher_what_would_be_refused(address, world):
    answer = world.browsers["cover teacher"].get(address.path(world.objects))

    sends, links = _sends_and_links(answer)

    refused = {name for name in sends if table()[name, "POST"]["cover teacher"] == 403}
    assert refused == set()
    assert links.isdisjoint(ONLY_FORMS)
    if address.name in ONLY_FORMS:
        assert "you read this studio and change nothing" in answer.content.decode(errors="replace")


def test_the_teacher_sees_what_a_cover_teacher_does_not(world):
    student = reverse("progress:student", args=[world.objects["student_id"]])

    sends, links = _sends_and_links(world.browsers["teacher"].get(student))

    assert sends >= {
        "studio:answer_phone", "studio:offer", "studio:close_discomfort",
        "progress:end_interruption",
    }  # fmt: skip
    assert links >= ONLY_FORMS - {"routines:add_student", "routines:rename_template"}


@pytest.mark.parametrize("address", addresses(), ids=lambda one: one.name)
def test_a_write_without_its_token_is_refused(address, world):
    for role in ("teacher", "student"):
        strict = Client(enforce_csrf_checks=True)
        strict.cookies.load(world.cookies[role])
        for method in UNSAFE:
            answer = strict.generic(method, address.path(world.objects))
            refused = {403, 405, 410} if address.name in SIGNED else {403}
            assert (role, method, answer.status_code in refused) == (role, method, True)


@pytest.mark.parametrize("address", addresses(), ids=lambda one: one.name)
def test_other_unsafe_methods_are_not_taken(address, world):
    before = everything_stored()

    for role in ("student", "teacher", "other studio's teacher"):
        for method in ("PUT", "PATCH", "DELETE"):
            answer = world.browsers[role].generic(method, address.path(world.objects))
            # The library of the sign-in shows its form again instead of a 405.
            assert answer.status_code in {200, 302, 403, 404, 405}

    assert everything_stored() == before


@pytest.mark.parametrize("role", ["other studio's teacher", "other student"])
def test_a_foreign_name_answers_like_one_that_does_not_exist(role, world):
    missing = dict.fromkeys(world.objects, "0123456789abcdef") | {
        name: world.objects[name] for name in WORDS
    }
    browser = world.browsers[role]
    asked = [one for one in addresses() if set(one.asks) - WORDS]

    for one in asked:
        for method in ("get", "post"):
            foreign = getattr(browser, method)(one.path(world.objects))
            unknown = getattr(browser, method)(one.path(missing))
            assert (one.name, foreign.status_code) == (one.name, unknown.status_code)
            assert foreign.content == unknown.content, one.name


def test_a_signed_out_visitor_is_sent_to_the_sign_in_and_back(world):
    path = reverse("progress:student", args=[world.objects["student_id"]])

    answer = world.browsers["anonymous"].get(path)

    assert answer.headers["Location"] == f"{reverse('account_login')}?next={path}"
