"""What several requests, several students and several minds do to one phone."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.utils import timezone
from django_scopes import scopes_disabled

from studio.models import Grant, Student, new_public_id
from studio.services import pairing, people
from studio.words import GrantState
from tests import makers

PAIR = "/pair"


@pytest.fixture
def studio():
    return makers.studio_of(makers.a_teacher())


@pytest.fixture
def nor(studio):
    student = makers.a_student(studio)
    makers.a_block(student)
    return student


def today_of(student) -> str:
    return f"/practice/{student.public_id}"


def paired(student, client: Client | None = None) -> Client:
    phone = client or Client()
    token = f"token {new_public_id()}"
    makers.an_offer(student, token=token)
    phone.post(PAIR, {"token": token})
    return phone


def get_today(student, cookie: str) -> tuple[int, str]:
    phone = Client()
    phone.cookies[settings.PHONE_COOKIE_NAME] = cookie
    try:
        answer = phone.get(today_of(student))
        given = answer.cookies.get(settings.PHONE_COOKIE_NAME)
        return answer.status_code, given.value if given else ""
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_twelve_requests_at_once_after_the_teachers_yes_lock_nobody_out(nor):
    phone = paired(nor)
    old = phone.cookies[settings.PHONE_COOKIE_NAME].value
    with scopes_disabled():
        pairing.confirm_phone(Grant.objects.get(), moment=timezone.now())

    with ThreadPoolExecutor(12) as pool:
        first = list(pool.map(lambda _: get_today(nor, old), range(12)))
        (new,) = {cookie for _, cookie in first}
        second = list(pool.map(lambda _: get_today(nor, new), range(12)))

    assert {status for status, _ in first + second} == {200}
    assert get_today(nor, new)[0] == 200
    assert get_today(nor, old)[0] == 404


@pytest.mark.django_db
def test_a_refused_phone_stays_refused_when_a_stale_page_signs_it_out(nor):
    paired(nor)
    with scopes_disabled():
        grant = Grant.objects.get()
        pairing.refuse_phone(grant, moment=timezone.now())

        pairing.sign_out_phone(Grant.objects.get(), moment=timezone.now())

        assert Grant.objects.get().state == GrantState.REFUSED


@pytest.mark.django_db
def test_a_childs_phone_stops_when_the_parents_yes_is_taken_back(studio):
    nor = makers.a_student(studio, child=True, consent_on=makers.today(studio))
    phone = paired(nor)
    assert phone.get(today_of(nor)).status_code == 200

    Student._base_manager.update(consent_on=None)

    assert phone.get(today_of(nor)).status_code == 404
    assert "This phone is not set up" in phone.get("/", follow=True).content.decode()


@pytest.mark.django_db
def test_a_phone_that_is_set_up_again_names_the_student_once(nor):
    phone = paired(nor)

    paired(nor, phone)

    assert phone.cookies[settings.PHONE_COOKIE_NAME].value.count(".") == 1
    with scopes_disabled():
        assert Grant.objects.filter(ended_at__isnull=True).count() == 1


@pytest.mark.django_db
def test_a_fifth_student_is_refused_and_pushes_nobody_out(studio):
    phone = Client()
    family = [makers.a_student(studio, name=name) for name in ("Ada", "Bo", "Cy", "Di", "Eli")]
    for student in family[:4]:
        paired(student, phone)

    makers.an_offer(family[4], token="fifth")
    answer = phone.post(PAIR, {"token": "fifth"})

    assert answer.status_code == 409
    assert [phone.get(today_of(student)).status_code for student in family] == [200] * 4 + [404]


@pytest.mark.django_db
def test_just_this_once_does_not_make_a_sister_go_with_the_browser(studio):
    ada, bo = makers.a_student(studio, name="Ada"), makers.a_student(studio, name="Bo")
    phone = paired(ada)

    makers.an_offer(bo, token="once")
    answer = phone.post(PAIR, {"token": "once", "once": "yes"})

    assert answer.cookies[settings.PHONE_COOKIE_NAME]["max-age"] == 400 * 24 * 60 * 60


@pytest.mark.django_db
def test_a_student_brought_back_needs_a_phone_set_up_anew(nor):
    phone = paired(nor)
    with scopes_disabled():
        people.archive_student(nor, day=makers.today(nor.studio), moment=timezone.now())
        people.bring_back_student(nor, moment=timezone.now())

    assert phone.get(today_of(nor)).status_code == 404
