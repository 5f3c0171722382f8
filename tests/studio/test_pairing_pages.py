"""Setting up a phone as a browser sees it."""

import re
from datetime import timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_scopes import scopes_disabled

from studio.models import Grant, Offer
from studio.words import GrantState
from tests import makers

pytestmark = pytest.mark.django_db
ANDROID = "Mozilla/5.0 (Linux; Android 15; Pixel 8) AppleWebKit/537.36 Chrome/140.0 Mobile"
PAIR = "/pair"


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


def today_of(student) -> str:
    return reverse("progress:today", args=[student.public_id])


def month_of(student) -> str:
    return reverse("progress:month", args=[student.public_id])


def without_its_token(answer) -> bytes:
    return re.sub(rb'name="csrfmiddlewaretoken" value="\w+"', b"", answer.content)


def token_on(page) -> str:
    found = re.search(r"/pair#([\w-]{43})", page.content.decode())
    assert found is not None
    return found[1]


def test_looking_at_the_pairing_page_uses_nothing_up_and_names_nobody(nor):
    offer = makers.an_offer(nor, token="abc")

    page = Client().get(PAIR)

    assert page.status_code == 200
    assert "Nor" not in page.content.decode()
    assert page.headers["Referrer-Policy"] == "no-referrer"
    with scopes_disabled():
        assert Offer.objects.get(pk=offer.pk).used_at is None
        assert Grant.objects.count() == 0


def test_the_teachers_link_carries_its_token_behind_the_hash_and_the_button_uses_it(teacher, nor):
    page = makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/link")
    phone = Client(headers={"User-Agent": ANDROID})

    answer = phone.post(PAIR, {"token": token_on(page)})

    assert f"{settings.ADDRESS}/pair#" in page.content.decode()
    assert (answer.status_code, answer.headers["Location"]) == (302, today_of(nor))
    assert phone.get(today_of(nor)).status_code == 200
    with scopes_disabled():
        assert Grant.objects.get().label == "Android phone"


def key_beside(button: str, page) -> str:
    found = re.search(
        rf'name="key" value="(\w{{16}})">\s*(<p[^>]*>)?<button[^>]*>{button}', words(page)
    )
    assert found is not None
    return found[1]


def words(page) -> str:
    return " ".join(page.content.decode().split())


@pytest.mark.parametrize(
    ("kind", "button", "again"),
    [
        ("link", "Make a link to send", "Make a new link"),
        ("code", "Show a QR code here", "Show a new QR code"),
    ],
)
def test_loading_the_page_with_the_link_again_makes_no_new_link(teacher, nor, kind, button, again):
    desk, path = makers.signed_in(teacher), f"/students/{nor.public_id}/phones/{kind}"
    key = key_beside(button, desk.get(f"/students/{nor.public_id}"))
    first = desk.post(path, {"key": key})

    reloaded = desk.post(path, {"key": key})

    with scopes_disabled():
        assert Offer.objects.count() == 1
    assert f"This {kind} is shown once. Make a new one." in words(reloaded)
    assert "/pair#" not in words(reloaded)
    assert Client().post(PAIR, {"token": token_on(first)}).status_code == 302
    newer = desk.post(path, {"key": key_beside(again, reloaded)})
    assert token_on(newer) != token_on(first)


def test_a_reload_leaves_the_link_that_was_sent_alone(teacher, nor):
    desk, path = makers.signed_in(teacher), f"/students/{nor.public_id}/phones/link"
    desk.post(path, {"key": "0123456789abcdef"})
    with scopes_disabled():
        before = Offer.objects.get().expires_at

    desk.post(path, {"key": "0123456789abcdef"})

    with scopes_disabled():
        assert Offer.objects.get().expires_at == before


@pytest.mark.parametrize("key", ["", "x", "0123456789ABCDEF", "0123456789abcdef0", "\x00"])
def test_a_key_that_is_none_makes_a_link_as_without_one(teacher, nor, key):
    page = makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/link", {"key": key})

    assert token_on(page)
    with scopes_disabled():
        assert Offer.objects.get().public_id != key


@pytest.mark.parametrize(
    ("child", "words"),
    [(True, "Send this link to Nor’s family."), (False, "Send this link to Nor.")],
)
def test_the_link_is_sent_to_a_childs_family_and_to_a_grown_up(teacher, nor, child, words):
    nor.child = child
    if child:
        nor.consent_on, nor.consent_how = timezone.localdate(), "on paper"
    nor.save()

    page = makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/link")

    assert words in page.content.decode()


def test_the_phones_cookie_is_out_of_reach_of_scripts_and_of_other_sites(nor):
    makers.an_offer(nor, token="abc")

    cookie = Client().post(PAIR, {"token": "abc"}).cookies[settings.PHONE_COOKIE_NAME]

    assert (cookie["httponly"], cookie["samesite"], cookie["path"]) == (True, "Lax", "/")
    assert cookie["max-age"] == 400 * 24 * 60 * 60


def test_just_this_once_leaves_a_cookie_that_ends_with_the_browser(nor):
    makers.an_offer(nor, token="abc")

    answer = Client().post(PAIR, {"token": "abc", "once": "yes"})

    assert answer.cookies[settings.PHONE_COOKIE_NAME]["max-age"] == ""


def test_a_used_an_expired_and_an_unknown_link_look_the_same(nor):
    makers.an_offer(nor, token="used", used_at=timezone.now())
    makers.an_offer(nor, token="expired", made_at=timezone.now() - timedelta(days=8))

    answers = [Client().post(PAIR, {"token": token}) for token in ("used", "expired", "unknown")]

    assert [answer.status_code for answer in answers] == [410, 410, 410]
    assert len({without_its_token(answer) for answer in answers}) == 1
    assert settings.PHONE_COOKIE_NAME not in answers[0].cookies


def test_a_phone_without_a_yes_plays_today_and_does_not_see_the_month(nor):
    makers.a_block(nor)
    phone = makers.a_phone(makers.a_grant(nor, state=GrantState.PROVISIONAL))

    assert phone.get(today_of(nor)).status_code == 200
    assert phone.get(month_of(nor)).status_code == 404


def test_the_teachers_yes_opens_the_month(teacher, nor):
    makers.a_block(nor)
    paired = makers.a_grant(nor, state=GrantState.PROVISIONAL)

    makers.signed_in(teacher).post(f"/phones/{paired.grant.public_id}/confirm")

    assert makers.a_phone(paired).get(month_of(nor)).status_code == 200


@pytest.mark.parametrize("answer", ["refuse", "sign-out"])
def test_a_phone_that_is_sent_away_is_out_at_its_next_request(teacher, nor, answer):
    makers.a_block(nor)
    paired = makers.a_grant(nor)
    phone = makers.a_phone(paired)
    before = phone.get(today_of(nor)).status_code

    makers.signed_in(teacher).post(f"/phones/{paired.grant.public_id}/{answer}")

    assert (before, phone.get(today_of(nor)).status_code) == (200, 404)


def test_a_refusal_by_mistake_is_taken_back_from_the_students_page(teacher, nor):
    makers.a_block(nor)
    paired = makers.a_grant(nor, state=GrantState.PROVISIONAL)
    desk, page = makers.signed_in(teacher), f"/students/{nor.public_id}"
    desk.post(f"/phones/{paired.grant.public_id}/refuse")
    shut_out = makers.a_phone(paired).get(today_of(nor)).status_code
    offered = f'action="/phones/{paired.grant.public_id}/take-back"' in words(desk.get(page))

    answer = desk.post(f"/phones/{paired.grant.public_id}/take-back", follow=True)

    assert (shut_out, offered) == (404, True)
    assert "Taken back: the Android phone goes on" in words(answer)
    assert "take-back" not in words(answer)
    assert makers.a_phone(paired).get(today_of(nor)).status_code == 200


def test_a_refusal_of_yesterday_is_neither_offered_nor_taken_back(teacher, nor):
    ended = timezone.now() - timedelta(days=1)
    paired = makers.a_grant(nor, state=GrantState.REFUSED, ended_at=ended)
    desk = makers.signed_in(teacher)

    before = desk.get(f"/students/{nor.public_id}")
    answer = desk.post(f"/phones/{paired.grant.public_id}/take-back", follow=True)

    assert "take-back" not in words(before)
    assert "Not taken back." in words(answer)


def test_signing_out_all_phones_leaves_other_students_alone(teacher, nor):
    sam = makers.a_student(nor.studio, name="Sam")
    shared = makers.a_phone(makers.a_grant(nor), makers.a_grant(sam))

    makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/sign-out")

    assert shared.get(today_of(nor)).status_code == 404
    assert shared.get(today_of(sam)).status_code == 200


def test_a_confirmed_phone_gets_a_new_secret_and_the_old_one_dies_once_it_is_shown(nor):
    old = makers.a_grant(nor, secret_is_new=False)
    phone = makers.a_phone(old)

    handed_out = phone.get(today_of(nor)).cookies[settings.PHONE_COOKIE_NAME].value
    still_held = makers.a_phone(old).get(month_of(nor)).status_code
    phone.get(today_of(nor))

    assert handed_out != old.cookie
    assert phone.cookies[settings.PHONE_COOKIE_NAME].value == handed_out
    assert (still_held, makers.a_phone(old).get(today_of(nor)).status_code) == (200, 404)
    assert phone.get(today_of(nor)).status_code == 200


def test_a_wrong_secret_opens_nothing(nor):
    paired = makers.a_grant(nor)
    guessed = makers.PairedPhone(grant=paired.grant, cookie=f"{paired.grant.public_id}.guess")

    assert makers.a_phone(guessed).get(today_of(nor)).status_code == 404


@pytest.mark.parametrize("cookie", ["", ".", "~", "a.b.c", "x" * 5000, "a.b~" * 50, "\x00.\x00"])
def test_a_cookie_that_is_none_is_nobody(nor, cookie):
    browser = Client()
    browser.cookies[settings.PHONE_COOKIE_NAME] = cookie

    assert browser.get(today_of(nor)).status_code == 404


def test_a_child_without_a_parents_yes_gets_no_link(teacher):
    kim = makers.a_student(makers.studio_of(teacher), name="Kim", consent_on=None)

    page = makers.signed_in(teacher).post(f"/students/{kim.public_id}/phones/link", follow=True)

    assert "No link made. Kim is a child" in page.content.decode()
    with scopes_disabled():
        assert Offer.objects.count() == 0


def test_a_student_who_is_off_the_lists_gets_no_link_and_the_list_says_why(teacher, nor):
    nor.archived_on = makers.today(nor.studio)
    nor.save()

    page = makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/link", follow=True)

    assert page.redirect_chain == [(reverse("routines:students"), 302)]
    assert "No link made. Nor is off the lists: bring Nor back first." in page.content.decode()
    with scopes_disabled():
        assert Offer.objects.count() == 0


def test_a_fourth_phone_is_refused_at_the_door(nor):
    for _ in range(3):
        makers.a_grant(nor)
    makers.an_offer(nor, token="abc")

    answer = Client().post(PAIR, {"token": "abc"})

    assert answer.status_code == 409
    assert settings.PHONE_COOKIE_NAME not in answer.cookies


def test_a_shared_phone_asks_who_is_practising(nor):
    sam = makers.a_student(nor.studio, name="Sam")
    shared = makers.a_phone(makers.a_grant(nor), makers.a_grant(sam))

    page = shared.get("/practice").content.decode()

    assert today_of(nor) in page
    assert today_of(sam) in page


def test_a_second_student_on_a_phone_does_not_push_the_first_out(nor):
    sam = makers.a_student(nor.studio, name="Sam")
    makers.an_offer(sam, token="abc")
    phone = makers.a_phone(makers.a_grant(nor))

    phone.post(PAIR, {"token": "abc"})

    assert phone.get(today_of(nor)).status_code == 200
    assert phone.get(today_of(sam)).status_code == 200


def test_a_phone_of_a_student_who_has_left_is_out(teacher, nor):
    phone = makers.a_phone(makers.a_grant(nor))

    makers.signed_in(teacher).post(f"/students/{nor.public_id}/archive")

    assert phone.get(today_of(nor)).status_code == 404


def test_a_phone_is_out_when_its_time_is_over(nor):
    paired = makers.a_grant(nor, expires_at=timezone.now() - timedelta(seconds=1))

    assert makers.a_phone(paired).get(today_of(nor)).status_code == 404


def test_the_day_a_phone_was_last_used_is_noted(nor):
    paired = makers.a_grant(nor)

    makers.a_phone(paired).get(today_of(nor))

    with scopes_disabled():
        assert Grant.objects.get().last_day == makers.today(nor.studio)
