"""No other site sends a form in somebody's name, and no link leads off to one.

ASVS 5.0.0, V3.5.1 to V3.5.3, V3.7.2 and V8.2.3.
"""

import json
import re
from urllib.parse import urljoin, urlsplit

import pytest
from django.db import models, transaction
from django.test import Client
from django.urls import resolve, reverse

from progress.models import CheckIn
from studio import crossings
from studio.models import Grant, Student, Studio, User
from studio.words import OfferKind
from tests import makers
from tests.roles import addresses
from tests.test_roles import SIGNED, a_world, everything_stored
from tests.walls import odd
from tests.walls.test_fuzz import forms_of
from tests.walls.two_studios import a_browser

pytestmark = pytest.mark.django_db

VISITORS = ("owner", "student", "parent", "anonymous")
UNSAFE = ("POST", "PUT", "PATCH", "DELETE")
# What a form reads although its page has no field for it: the phone's outbox sends it.
READ_BESIDES = {"progress:not_today": {"key", "day"}}
# A phone's row says when it was last used, and takes its new secret, whatever it reads.
NOTED_OF_A_PHONE = {"last_day", "secret_hash", "next_secret_hash", "secret_is_new"}


@pytest.fixture
def world():
    return a_world()


def strict(cookies):
    client = Client(enforce_csrf_checks=True)
    client.cookies.load(cookies)
    return client


def with_token(cookies):
    """A browser that has seen a form of ours, and the token of it."""
    client = strict(cookies)
    token = client.get(reverse("studio:pair")).context["csrf_token"]
    return client, str(token)


FORGED = {
    "no token": ({}, None, "application/x-www-form-urlencoded", False),
    "another site's page": ({"Origin": "https://evil.example"}, True, None, False),
    "a page of no site": ({"Origin": "null"}, True, None, False),
    "another site's link": ({"Referer": "https://evil.example/x"}, True, None, True),
    "no page at all, encrypted": ({}, True, None, True),
    "plain text that looks like JSON": ({}, None, "text/plain", False),
    "JSON": ({}, None, "application/json", False),
}


@pytest.mark.parametrize("how", FORGED)
def test_a_forged_form_is_refused_everywhere(how, world):
    headers, has_token, content_type, secure = FORGED[how]
    client, token = with_token(world.cookies["owner"])
    client.cookies.load(world.cookies["student"])
    before, taken = everything_stored(), []
    body = f"csrfmiddlewaretoken={token}" if has_token else json.dumps({"key": "x"})
    for one in addresses():
        for method in UNSAFE:
            answer = client.generic(
                method, one.path(world.objects), body,
                content_type or "application/x-www-form-urlencoded", secure=secure,
                headers=headers,
            )  # fmt: skip
            if answer.status_code != 403 and one.name not in SIGNED:
                taken.append((one.name, method, answer.status_code))

    assert taken == []
    assert everything_stored() == before


def test_an_address_that_asks_for_no_token_would_be_seen(world, monkeypatch):
    path = reverse("studio:settings_look")
    monkeypatch.setattr(resolve(path).func, "csrf_exempt", True, raising=False)

    answer = strict(world.cookies["owner"]).post(path, {"look": "dark"})

    assert answer.status_code == 302


def test_our_own_form_is_taken_by_the_same_client(world):
    client, token = with_token(world.cookies["owner"])
    body = {"look": "dark", "csrfmiddlewaretoken": token}

    answer = client.post(
        reverse("studio:settings_look"), body, headers={"Origin": "http://testserver"}
    )

    assert answer.status_code == 302


def stored_but_for_use():
    found = everything_stored()
    found[Grant.__name__] = [
        {name: value for name, value in row.items() if name not in NOTED_OF_A_PHONE}
        for row in found[Grant.__name__]
    ]
    return found


@pytest.mark.battery(only=True)
@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_reading_changes_nothing(method, world):
    before, changed = stored_but_for_use(), []
    for one in addresses():
        for cookies in world.cookies.values():
            a_browser(cookies).generic(method, one.path(world.objects))
        if stored_but_for_use() != before:
            changed.append(one.name)

    assert changed == []
    assert stored_but_for_use() == before


def where_a_browser_goes(to):
    """Name the host that a browser goes to: it drops tabs and takes \\ for / (URL Standard)."""
    read = re.sub(r"[\t\r\n]", "", to.strip()).replace("\\", "/")
    return urlsplit(urljoin("http://testserver/sign-in", read)).netloc


@pytest.mark.parametrize("elsewhere", odd.ELSEWHERE)
def test_no_way_back_leads_to_another_site(elsewhere, world):
    teacher = makers.a_teacher(email="back@example.org")
    signing = {"login": teacher.email, "password": makers.PASSWORD, "next": elsewhere}
    signed, again = world.browsers["anonymous"], {"password": makers.PASSWORD, "next": elsewhere}
    answers = [
        signed.post(reverse("account_login"), signing),
        signed.get(reverse("account_login"), {"next": elsewhere}),
        makers.signed_in(teacher).post(reverse("account_reauthenticate"), again),
        makers.signed_in(teacher).post(reverse("account_logout"), {"next": elsewhere}),
        makers.signed_in(teacher).get(reverse("account_logout"), {"next": elsewhere}),
        world.browsers["teacher"].post(
            reverse("studio:answer_phone", args=[world.objects["grant_id"], "confirm"]),
            {"from": elsewhere, "next": elsewhere},
        ),
        world.browsers["teacher"].post(
            reverse("studio:whose_students", args=["mine"]), {"next": elsewhere},
            headers={"Referer": "https://evil.example/"},
        ),
    ]  # fmt: skip

    for answer in answers:
        assert answer.status_code < 500
        assert where_a_browser_goes(answer.headers.get("Location", "/")) == "testserver"


def test_these_ways_back_would_lead_to_another_site():
    led = [one for one in odd.ELSEWHERE if where_a_browser_goes(one) != "testserver"]

    assert len(odd.ELSEWHERE) >= 30
    assert len(led) >= 20


WAYS_BACK = ("next", "from", "to", "url", "back", "return", "return_to", "redirect_to", "page")


def test_no_page_and_no_form_sends_anybody_to_another_site(world):
    make_doors()
    asked: list[tuple[str, str, str, dict[str, str]]] = [
        (one.path(world.objects), role, "GET", {}) for one in addresses() for role in VISITORS
    ]
    asked += [
        (path, role_of(path), "POST", typed(path, found))
        for path, found in sorted(forms_of(world).items())
    ]
    led, sent_on = [], 0
    for path, role, method, fields in asked:
        for elsewhere in ("https://evil.example/x", "//evil.example"):
            query = dict.fromkeys(WAYS_BACK, elsewhere)
            how = {"data": query | fields} if method == "POST" else {}
            headers = {"Referer": "https://evil.example/"}
            with transaction.atomic():
                answer = getattr(a_browser(world.cookies[role]), method.lower())(
                    path, query_params=query, headers=headers, **how
                )
                transaction.set_rollback(True)
            to = answer.headers.get("Location", "") + answer.headers.get("HX-Redirect", "")
            sent_on += bool(to)
            if where_a_browser_goes(to or "/") != "testserver":
                led.append((resolve(path).view_name, role, method, to))

    assert led == []
    assert sent_on > 150


def test_the_way_back_to_a_page_of_ours_is_kept():
    teacher = makers.a_teacher(email="back@example.org")
    signing = {"login": teacher.email, "password": makers.PASSWORD, "next": "/students"}

    answer = Client().post(reverse("account_login"), signing)

    assert answer.headers["Location"] == "/students"


def every_column():
    """Every column of every model, with something else to write into it."""
    other = makers.a_student(makers.a_studio(name="Elsewhere"), name="Somebody else")
    found = {}
    kinds: list[type[models.Model]] = [Studio, User, *crossings.owned_models()]
    for model in kinds:
        for field in model._meta.concrete_fields:
            value = "1"
            if isinstance(field, models.ForeignKey | models.AutoField):
                value = str(other.pk)
            elif isinstance(field, models.BooleanField):
                value = "on"
            elif isinstance(field, models.DateField):
                value = "2020-02-02"
            elif isinstance(field, models.CharField | models.TextField):
                value = "Poisoned"
            found[field.name], found[field.attname] = value, value
    return found | {"role": "owner", "is_staff": "on", "is_superuser": "on", "user": "1", "pk": "1"}


def as_it_ended(client, path, body):
    """Send a form and read the rows after it, without what is drawn or timed anew each time."""
    with transaction.atomic():
        answer = client.post(path, body)
        stored = everything_stored()
        transaction.set_rollback(True)
    rows = {
        name: [{key: value for key, value in row.items() if not is_drawn(key)} for row in some]
        for name, some in stored.items()
    }
    return answer.status_code, rows


def is_drawn(key):
    """Whether a column is drawn or timed anew each time, or counts rows."""
    if key in {"studio_id", "student_id"}:
        return False
    anew = ("_hash", "_at", "_id", "batch", "moment")
    return key.endswith(anew) or key in {"id", "key", "about", "code_finder"}


# What somebody types where a page alone would not be taken; None is a button that is not pressed.
TYPED: dict[str, dict[str, str | None]] = {
    "routines:add_student": {
        "name": "Ada", "instrument": "horn_f", "child": "no", "f_attachment": "",
        "remind_parent": "",
    },
    "routines:change_student": {"f_attachment": "", "remind_parent": ""},
    "routines:add_list": {"text": "name,instrument\nAda,horn\n", "look": None, "add": "yes"},
    "routines:change_block": {"hold": "9", "preview": None},
    "routines:assign": {"apply": None, "tick": None, "again": None, "save": None},
    "studio:pair": {"token": "for-a-phone", "code": ""},
    "studio:parent": {"token": "for-a-parent"},
    "studio:join": {"token": "for-a-teacher"},
    "account_reauthenticate": {"password": makers.PASSWORD},
}  # fmt: skip
# What is taken and answered with a page of its own, not with the way to one.
SHOWN = {
    "studio:invite", "studio:offer", "studio:move_phone", "progress:student_copy",
    "progress:keep_recording",
}  # fmt: skip
# The library's own forms, which read their fields by name.
OF_THE_LIBRARY = {"account_change_password"}


def typed(path, fields):
    """Fill a form in, so that it is taken."""
    name = resolve(path).view_name
    changes = dict(TYPED.get(name, {}))
    if name == "routines:assign":
        changes["students"] = Student._base_manager.get(name="Without a block").public_id
    if name == "progress:enter_paper":
        changes[min(one for one in fields if one.startswith("day-"))] = "44344"
    return {one: value for one, value in (fields | changes).items() if value is not None}


def role_of(path):
    """Name who sends a form."""
    if resolve(path).view_name in {"studio:pair", "studio:parent"}:
        return "anonymous"
    return {"practice": "student", "parent": "parent"}.get(path.split("/")[1], "owner")


def make_doors():
    """Links that are to be used up, of a student who has no phone yet."""
    student = Student._base_manager.get(name="Without a block")
    makers.an_offer(student, token="for-a-phone")
    makers.an_offer(student, token="for-a-parent", kind=OfferKind.PARENT)
    makers.an_invitation(student.studio, token="for-a-teacher")


def test_a_form_writes_only_what_it_asks_for(world):
    make_doors()
    poison, forms, differ, not_taken = every_column(), forms_of(world), [], []
    for path, found in sorted(forms.items()):
        name, fields = resolve(path).view_name, typed(path, found)
        role = role_of(path)
        read = READ_BESIDES.get(name, set()) | set(found) | set(fields)
        others = {one: value for one, value in poison.items() if one not in read}
        plain = as_it_ended(a_browser(world.cookies[role]), path, fields)
        poisoned = as_it_ended(a_browser(world.cookies[role]), path, fields | others)
        if plain != poisoned:
            tables = [one for one in plain[1] if plain[1][one] != poisoned[1][one]]
            differ.append((name, plain[0], poisoned[0], tables))
        if plain[0] != 302 and not (plain[0] == 200 and name in SHOWN | OF_THE_LIBRARY):
            not_taken.append((name, plain[0]))

    assert len(forms) > 25
    assert not_taken == []
    assert differ == [], differ


def test_a_form_that_took_a_column_too_many_would_be_seen(world):
    path = reverse("progress:check_in", args=[world.objects["student_id"]])
    fields = makers.the_answers(day=world.day)

    plain = as_it_ended(world.browsers["student"], path, fields)
    more = as_it_ended(world.browsers["student"], path, fields | {"high_note": "60", "sound": "1"})

    assert CheckIn.__name__ in plain[1]
    assert plain != more
