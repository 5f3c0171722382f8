"""A parent's way in: a link of its own kind, a phone that reads, and how it ends."""

import re
from datetime import timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone
from django_scopes import scopes_disabled

from studio.models import Grant, Offer
from studio.queries import IDLE_DAYS
from studio.services.pairing import GRANT_DAYS
from studio.words import GrantKind, GrantState, OfferKind
from tests import makers

pytestmark = pytest.mark.django_db
LINK = "/parent"


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


@pytest.fixture
def grant(nor):
    return makers.a_grant(nor, kind=GrantKind.PARENT)


def page_of(student) -> str:
    return f"/parent/{student.public_id}"


def a_link(nor, **values) -> Offer:
    return makers.an_offer(nor, kind=OfferKind.PARENT, **({"token": "abc"} | values))


def status(browser, path):
    return browser.get(path).status_code


def test_the_teachers_link_carries_its_token_behind_the_hash(teacher, nor):
    page = makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/parent")

    found = re.search(r"/parent#([\w-]{43})</code>", page.content.decode())
    assert found is not None
    with scopes_disabled():
        offer = Offer.objects.get()
    assert (offer.kind, offer.student) == (OfferKind.PARENT, nor)
    assert found[1] not in offer.token_hash
    assert f"after {IDLE_DAYS} days without use" in page.content.decode()
    assert f"after {GRANT_DAYS} days" in page.content.decode()


def test_looking_at_the_page_of_the_link_uses_nothing_up_and_names_nobody(nor):
    offer = a_link(nor)

    page = Client().get(LINK)

    assert "Nor" not in page.content.decode()
    assert page.headers["Referrer-Policy"] == "no-referrer"
    assert "no-store" in page.headers["Cache-Control"]
    with scopes_disabled():
        offer.refresh_from_db()
        assert (offer.used_at, Grant.objects.count()) == (None, 0)


def test_a_parents_phone_waits_for_the_teachers_yes_and_reads_after_it(teacher, nor):
    makers.a_block(nor, message="Breathe low.")
    a_link(nor)
    phone = Client()

    welcome = phone.post(LINK, {"token": "abc"})
    waiting = phone.get(page_of(nor)).content.decode()
    with scopes_disabled():
        made = Grant.objects.get()
    makers.signed_in(teacher).post(f"/phones/{made.public_id}/confirm")

    assert welcome.headers["Location"] == page_of(nor)
    assert "The teacher has to say yes" in waiting
    assert "Nor" not in waiting
    assert "Breathe low." in phone.get(page_of(nor)).content.decode()


def test_a_link_opens_one_phone_once(nor):
    a_link(nor)

    first, second = (Client().post(LINK, {"token": "abc"}).status_code for _ in range(2))

    assert (first, second) == (302, 410)


def test_a_link_for_a_parent_sets_no_students_phone_up_nor_the_other_way_round(nor):
    a_link(nor, token="parents")
    makers.an_offer(nor, token="students")

    wrong = Client().post("/pair", {"token": "parents"}), Client().post(LINK, {"token": "students"})

    assert [answer.status_code for answer in wrong] == [410, 410]
    assert Client().post(LINK, {"token": "parents"}).status_code == 302
    assert Client().post("/pair", {"token": "students"}).status_code == 302


def test_what_a_parents_phone_holds_opens_no_page_of_the_students(nor, grant):
    makers.a_block(nor)
    forged = Client()
    forged.cookies[settings.PHONE_COOKIE_NAME] = grant.cookie

    assert status(makers.a_phone(grant), f"/practice/{nor.public_id}") == 404
    assert status(forged, f"/practice/{nor.public_id}") == 404
    assert status(forged, f"/practice/{nor.public_id}/month") == 404
    assert forged.post(f"/practice/{nor.public_id}/hurt").status_code == 404


def test_what_a_students_phone_holds_opens_no_page_for_parents(nor):
    student = makers.a_grant(nor)
    forged = Client()
    forged.cookies[settings.PARENT_COOKIE_NAME] = student.cookie

    assert status(forged, page_of(nor)) == 404
    assert status(forged, f"{page_of(nor)}/phones") == 404


def test_a_parent_reads_of_no_other_child(nor, grant):
    sam = makers.a_student(nor.studio, name="Sam")

    assert status(makers.a_phone(grant), page_of(sam)) == 404


def test_a_guessed_secret_opens_nothing(nor, grant):
    browser = Client()
    browser.cookies[settings.PARENT_COOKIE_NAME] = f"{grant.grant.public_id}.{'a' * 43}"

    assert status(browser, page_of(nor)) == 404


def test_the_teacher_ends_it_at_the_next_request_and_the_students_phone_goes_on(
    teacher, nor, grant
):
    makers.a_block(nor)
    parents, students = makers.a_phone(grant), makers.a_phone(makers.a_grant(nor))
    assert status(parents, page_of(nor)) == 200

    makers.signed_in(teacher).post(f"/phones/{grant.grant.public_id}/sign-out")

    ended = parents.get(page_of(nor))
    assert ended.status_code == 404
    assert "A link for parents may have ended. Ask the teacher." in ended.content.decode()
    assert status(students, f"/practice/{nor.public_id}") == 200


@pytest.mark.parametrize(("days", "opens"), [(0, 200), (1, 404)])
def test_it_ends_by_itself_after_two_hundred_days_without_use(nor, days, opens):
    used = (timezone.now() - timedelta(days=IDLE_DAYS + days)).date()
    idle = makers.a_grant(nor, kind=GrantKind.PARENT, last_day=used)

    assert status(makers.a_phone(idle), page_of(nor)) == opens


def test_it_ends_by_itself_after_four_hundred_days_whatever_its_use(nor):
    a_link(nor)
    phone = Client()
    phone.post(LINK, {"token": "abc"})
    with scopes_disabled():
        made = Grant.objects.get()
        assert made.expires_at - made.made_at == timedelta(days=GRANT_DAYS)
        Grant.objects.update(expires_at=timezone.now())

    assert status(phone, page_of(nor)) == 404


def test_it_ends_where_the_student_leaves_or_the_parents_yes_is_taken_back(nor, grant):
    phone = makers.a_phone(grant)

    nor.consent_on = None
    nor.save()

    assert status(phone, page_of(nor)) == 404


def test_signing_out_all_of_a_students_phones_leaves_the_parents_alone(teacher, nor, grant):
    makers.a_grant(nor)

    makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/sign-out")

    assert status(makers.a_phone(grant), page_of(nor)) == 200


def test_a_new_link_for_a_parent_ends_the_older_one_and_not_the_students(teacher, nor):
    a_link(nor, token="old")
    makers.an_offer(nor, token="students")

    makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/parent")

    assert Client().post(LINK, {"token": "old"}).status_code == 410
    assert Client().post("/pair", {"token": "students"}).status_code == 302


def test_three_phones_read_and_a_fourth_does_not_and_the_students_are_not_counted(nor):
    for _ in range(3):
        makers.a_grant(nor, kind=GrantKind.PARENT)
    a_link(nor)

    answer = Client().post(LINK, {"token": "abc"})

    assert answer.status_code == 409
    assert "Three phones read this page" in answer.content.decode()
    makers.an_offer(nor, token="students")
    assert Client().post("/pair", {"token": "students"}).status_code == 302


def test_a_phone_that_reads_of_four_children_takes_no_fifth_and_the_link_stays_good(nor):
    children = [makers.a_student(nor.studio, name=name) for name in ("Ada", "Bo", "Cai", "Di")]
    full = makers.a_phone(*(makers.a_grant(child, kind=GrantKind.PARENT) for child in children))
    offer = a_link(nor)

    answer = full.post(LINK, {"token": "abc"})

    assert answer.status_code == 409
    assert status(full, page_of(nor)) == 404
    assert all(status(full, page_of(child)) == 200 for child in children)
    with scopes_disabled():
        assert Offer.objects.get(pk=offer.pk).used_at is None


def test_one_phone_may_read_of_two_children_and_practise_too(nor, grant):
    sam = makers.a_grant(makers.a_student(nor.studio, name="Sam"), kind=GrantKind.PARENT)
    own = makers.a_grant(nor)
    makers.a_block(nor)
    phone = makers.a_phone(grant, sam, own)

    listed = phone.get(LINK).content.decode()

    assert {page_of(nor), page_of(sam.grant.student)} <= set(re.findall(r'href="(/[^"]+)"', listed))
    assert status(phone, f"/practice/{nor.public_id}") == 200


def test_the_cookie_is_out_of_reach_of_scripts_and_renewed_after_the_yes(nor):
    a_link(nor)
    phone = Client()
    first = phone.post(LINK, {"token": "abc"}).cookies[settings.PARENT_COOKIE_NAME]
    with scopes_disabled():
        Grant.objects.update(state=GrantState.CONFIRMED)

    second = phone.get(page_of(nor)).cookies[settings.PARENT_COOKIE_NAME]

    assert (first["httponly"], first["samesite"], first["path"]) == (True, "Lax", "/")
    assert first.value != second.value
    assert status(phone, page_of(nor)) == 200


def test_the_first_page_leads_a_parents_phone_to_its_pages(grant):
    assert makers.a_phone(grant).get("/").headers["Location"] == LINK


def test_a_parent_signs_a_lost_phone_out_and_no_other_childs(nor, grant):
    lost = makers.a_grant(nor)
    sams = makers.a_grant(makers.a_student(nor.studio, name="Sam"))
    parents = makers.a_phone(grant)

    for one in (lost, sams, grant):
        parents.post(f"{page_of(nor)}/phones", {"phone": one.grant.public_id})

    with scopes_disabled():
        ended = {row.pk for row in Grant.objects.filter(ended_at__isnull=False)}
    assert ended == {lost.grant.pk}


def test_a_phone_that_waits_signs_nothing_out(nor):
    waiting = makers.a_grant(nor, kind=GrantKind.PARENT, state=GrantState.PROVISIONAL)
    lost = makers.a_grant(nor)

    answer = makers.a_phone(waiting).post(f"{page_of(nor)}/phones", {"phone": lost.grant.public_id})

    assert answer.status_code == 404


def test_the_teacher_is_asked_about_a_parents_phone_on_the_overview_and_the_students_page(
    teacher, nor
):
    makers.a_grant(nor, kind=GrantKind.PARENT, state=GrantState.PROVISIONAL)
    desk = makers.signed_in(teacher)

    assert "Yes, it is a parent’s" in desk.get("/overview").content.decode()
    page = desk.get(f"/students/{nor.public_id}").content.decode()
    assert "Yes, a parent’s" in page
    assert page.index("No phone yet.") < page.index("For a parent")


@pytest.mark.parametrize("answer", ["refuse", "sign-out"])
def test_the_message_of_a_parents_phone_speaks_of_no_check_ins(teacher, nor, grant, answer):
    page = makers.signed_in(teacher).post(f"/phones/{grant.grant.public_id}/{answer}", follow=True)

    said = str(next(iter(page.context["messages"])))
    assert said.startswith(("Refused: ", "Signed out: a parent’s "))
    assert "filed" not in said
    assert "check-ins" not in said
