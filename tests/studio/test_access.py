"""The door: which day it is, who belongs to a studio, and whose rows can be reached."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from allauth.account.adapter import get_adapter
from allauth.mfa.totp.internal.auth import TOTP
from django.apps import apps
from django.contrib.messages import get_messages
from django.db import models
from django.http import Http404, HttpResponse
from django.utils import timezone
from django_scopes import scope, scopes_disabled
from django_scopes.exceptions import ScopeError

from progress.models import CheckIn
from routines.models import Block, BlockVersion
from studio import access, secrets
from studio.access import (
    MAY_BE_KEPT,
    let_be_kept,
    memberships_of,
    practice_day,
    student_of,
    students_of,
)
from studio.models import Discomfort, Grant, Membership, Student, Studio
from studio.queries import MOST_GRANTS_ON_A_PHONE
from studio.words import GrantKind, Role
from tests import makers


def moment(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


# Offsets from the IANA time zone database through zoneinfo: London +1 until 25 October 2026 at
# 01:00 UTC and from 29 March at 01:00 UTC; Auckland +13, Los Angeles -8 in November.
@pytest.mark.parametrize(
    ("zone", "now", "day"),
    [
        ("UTC", "2026-11-25T03:59:59", "2026-11-24"),
        ("UTC", "2026-11-25T04:00:00", "2026-11-25"),
        ("UTC", "2026-11-25T23:59:59", "2026-11-25"),
        ("Pacific/Auckland", "2026-11-24T14:59:59", "2026-11-24"),
        ("Pacific/Auckland", "2026-11-24T15:00:00", "2026-11-25"),
        ("America/Los_Angeles", "2026-11-25T11:59:59", "2026-11-24"),
        ("America/Los_Angeles", "2026-11-25T12:00:00", "2026-11-25"),
        ("Europe/London", "2026-10-25T02:30:00", "2026-10-24"),
        ("Europe/London", "2026-10-25T03:59:59", "2026-10-24"),
        ("Europe/London", "2026-10-25T04:00:00", "2026-10-25"),
        ("Europe/London", "2026-03-29T02:59:59", "2026-03-28"),
        ("Europe/London", "2026-03-29T03:00:00", "2026-03-29"),
    ],
)
def test_the_day_ends_at_four_by_the_studios_clock(zone, now, day):
    studio = Studio(time_zone=zone)

    assert practice_day(studio, moment(now)) == date.fromisoformat(day)


@pytest.mark.parametrize(
    ("ends", "day"), [(time(0), date(2026, 11, 25)), (time(2, 30), date(2026, 11, 24))]
)
def test_a_studio_may_end_its_day_at_another_hour(ends, day):
    studio = Studio(time_zone="UTC", day_ends_at=ends)

    assert practice_day(studio, moment("2026-11-25T02:29:00")) == day


STUDIO_MODELS = [
    model
    for app in ("studio", "routines", "progress")
    for model in apps.get_app_config(app).get_models()
    if model.__name__ not in {"User", "Studio", "SetupToken", "ErasedStudent", "Tries"}
]


@pytest.mark.parametrize("model", STUDIO_MODELS, ids=lambda model: model.__name__)
def test_what_belongs_to_a_studio_cannot_be_read_outside_a_scope(model, db):
    with pytest.raises(ScopeError):
        model.objects.count()


def paths_to_the_studio(model: type[models.Model]) -> set[str]:
    """Name the foreign keys that lead from a model to a studio, directly or not."""
    return {
        field.name
        for field in model._meta.get_fields()
        if isinstance(field, models.ForeignKey)
        and (field.related_model is Studio or paths_to_the_studio(field.related_model))
    }


def test_every_model_with_a_way_to_a_studio_is_among_the_guarded():
    everything = [model for model in apps.get_models() if model is not Studio]

    assert {model for model in everything if paths_to_the_studio(model)} == set(STUDIO_MODELS)


@pytest.fixture
def two_studios(db):
    here, there = makers.a_studio(name="Here"), makers.a_studio(name="There")
    for studio in (here, there):
        makers.a_teacher(studio)
        student = makers.a_student(studio, name=f"Nor {studio.name}")
        makers.a_check_in(student, grant=makers.a_grant(student).grant)
        makers.a_discomfort(student)
    return here, there


@pytest.mark.parametrize(
    "model", [Membership, Student, Block, BlockVersion, CheckIn, Grant, Discomfort]
)
def test_a_scope_shows_the_rows_of_one_studio(model, two_studios):
    here, there = two_studios

    with scope(studio=here):
        seen = set(model.objects.values_list("pk", flat=True))
    with scope(studio=there):
        others = set(model.objects.values_list("pk", flat=True))

    assert (len(seen), len(others)) == (1, 1)
    assert seen.isdisjoint(others)


def test_a_row_of_another_studio_is_not_changed_from_inside_a_scope(two_studios):
    here, there = two_studios

    with scope(studio=here):
        changed = Student.objects.filter(name="Nor There").update(name="Changed")

    with scope(studio=there):
        assert (changed, Student.objects.get().name) == (0, "Nor There")


@pytest.mark.parametrize(("days", "status"), [(0, 200), (1, 200), (-1, 404)])
def test_a_cover_teacher_is_in_up_to_the_last_day(db, days, status):
    studio = makers.a_studio()
    ends = makers.today(studio) + timedelta(days=days)
    cover = makers.a_teacher(studio, role=Role.COVER, ends_on=ends)

    assert makers.signed_in(cover).get("/students").status_code == status


def test_an_account_without_a_studio_sees_nothing(db):
    teacher = makers.a_teacher()
    with scope(studio=makers.studio_of(teacher)):
        Membership.objects.all().delete()

    assert makers.signed_in(teacher).get("/overview").status_code == 404


def test_an_account_that_was_closed_is_signed_out(db):
    teacher = makers.a_teacher()
    browser = makers.signed_in(teacher)
    teacher.is_active = False
    teacher.save(update_fields=["is_active"])

    assert browser.get("/overview").status_code == 302


LASTING, ONCE = Grant(kind=GrantKind.STUDENT), Grant(kind=GrantKind.ONCE)


@pytest.mark.parametrize(
    ("grants", "status", "is_kept"),
    [
        ([LASTING], 200, True),
        ([LASTING, LASTING], 200, True),
        ([ONCE], 200, False),
        ([LASTING, ONCE], 200, False),
        ([], 200, False),
        ([LASTING], 404, False),
        ([LASTING], 302, False),
    ],
)
def test_a_phone_keeps_what_it_was_shown_unless_it_is_set_up_just_this_once(
    grants, status, is_kept
):
    response = HttpResponse(status=status)

    let_be_kept(response, grants)

    assert response.headers.get(MAY_BE_KEPT) == ("yes" if is_kept else None)


def test_a_phone_keeps_pages_and_no_answers_to_what_it_sent(db):
    nor = makers.a_student(makers.studio_of(makers.a_teacher()))
    makers.a_block(nor)
    phone = makers.a_phone(makers.a_grant(nor))
    address = f"/practice/{nor.public_id}"

    page = phone.get(address)
    sent = phone.post(f"{address}/hurt", {"key": "none"})

    assert page.headers[MAY_BE_KEPT] == "yes"
    assert MAY_BE_KEPT not in sent.headers


def test_who_was_signed_out_is_told_so_only_where_something_was_sent(client, db):
    read = client.get("/students")
    sent = client.post("/students/new", {"name": "Nor"})

    assert read.headers["Location"].endswith("?next=/students")
    assert list(get_messages(read.wsgi_request)) == []
    assert [str(one) for one in get_messages(sent.wsgi_request)] == [
        "You were signed out, so nothing was saved."
    ]


def test_a_teacher_without_the_second_step_is_told_so_only_where_something_was_sent(db, settings):
    settings.SECOND_FACTOR = True
    browser = makers.signed_in(makers.a_teacher())

    read = browser.get("/students")
    sent = browser.post("/students/new", {"name": "Nor"})

    assert read.headers["Location"] == sent.headers["Location"]
    assert [str(one) for one in get_messages(read.wsgi_request)] == []
    assert [str(one) for one in get_messages(sent.wsgi_request)] == [
        "Nothing was saved. Set up the second step first."
    ]


def test_a_fifth_student_in_a_phones_cookie_is_not_looked_at(db):
    studio = makers.studio_of(makers.a_teacher())
    grants = [
        makers.a_grant(makers.a_student(studio, name=f"Nor {number}"))
        for number in range(MOST_GRANTS_ON_A_PHONE + 1)
    ]
    phone = makers.a_phone(*grants)

    found = [
        phone.get(f"/practice/{paired.grant.student.public_id}").status_code for paired in grants
    ]

    assert MOST_GRANTS_ON_A_PHONE == 4
    assert found == [200] * 4 + [404]


def test_students_are_those_of_the_teachers_studio_even_without_a_scope(two_studios):
    here, there = two_studios
    with scopes_disabled():
        place = Membership.objects.get(studio=here)
        foreign = Student.objects.get(studio=there)

        assert [student.name for student in students_of(place)] == ["Nor Here"]
        with pytest.raises(Http404):
            student_of(place, foreign.public_id)


def test_the_second_step_of_somebody_else_is_nobodys_own(db):
    mine, theirs = makers.a_teacher(email="runa@example.org"), makers.a_teacher()
    TOTP.activate(theirs, "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ")

    assert [place.has_second_factor for place in memberships_of(mine)] == [False]
    assert [place.has_second_factor for place in memberships_of(theirs)] == [True]


@pytest.mark.parametrize("kind", ["student", "parent"])
def test_what_a_phone_holds_opens_nothing_in_the_cookie_of_the_other_kind(db, settings, kind):
    nor = makers.a_student(makers.studio_of(makers.a_teacher()))
    paired = makers.a_grant(nor, kind=kind)
    own, other = settings.PHONE_COOKIE_NAME, settings.PARENT_COOKIE_NAME
    pages = {own: f"/practice/{nor.public_id}", other: f"/parent/{nor.public_id}"}
    if kind == "parent":
        own, other = other, own
    browser = makers.a_phone()

    browser.cookies[own] = paired.cookie
    assert browser.get(pages[own]).status_code == 200
    browser.cookies[other] = browser.cookies.pop(own).value
    assert browser.get(pages[other]).status_code == 404


def test_while_a_new_secret_waits_the_old_and_the_new_one_open_and_no_other(db):
    nor = makers.a_student(makers.studio_of(makers.a_teacher()))
    paired = makers.a_grant(nor, next_secret_hash=secrets.hashed("new"))
    old = paired.cookie.partition(".")[2]

    def status(secret: str) -> int:
        shown = makers.PairedPhone(grant=paired.grant, cookie=f"{paired.grant.public_id}.{secret}")
        with scopes_disabled():
            Grant.objects.update(
                secret_hash=secrets.hashed(old), next_secret_hash=secrets.hashed("new")
            )
        return makers.a_phone(shown).get(f"/practice/{nor.public_id}").status_code

    assert [status(secret) for secret in (old, "new", "other")] == [200, 200, 404]


def test_a_student_off_the_lists_is_on_no_phone_even_where_a_grant_was_left(db):
    nor = makers.a_student(makers.studio_of(makers.a_teacher()))
    phone = makers.a_phone(makers.a_grant(nor))
    with scopes_disabled():
        Student.objects.filter(pk=nor.pk).update(archived_on=makers.today(nor.studio))

    assert phone.get(f"/practice/{nor.public_id}").status_code == 404


def test_behind_the_door_times_are_those_of_the_studios_clocks(db):
    studio = makers.a_studio(time_zone="Pacific/Auckland")

    with access._inside(studio):
        assert timezone.get_current_timezone_name() == "Pacific/Auckland"
        assert Student.objects.count() == 0


def test_the_sign_in_library_is_told_that_no_stranger_makes_an_account(rf):
    assert get_adapter().is_open_for_signup(rf.get("/")) is False
