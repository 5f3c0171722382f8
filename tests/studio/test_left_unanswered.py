"""A phone that signs itself out before the teacher has said whose it is: it is asked about."""

from datetime import timedelta

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.queries.news import standing_check_ins
from studio.models import Grant
from studio.services import pairing
from studio.words import GrantKind, GrantState
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def runa():
    return makers.a_teacher()


@pytest.fixture
def nor(runa):
    return makers.a_student(makers.studio_of(runa))


@pytest.fixture
def left(nor):
    """A phone that filed something and signed itself out, with the button on its own page."""
    paired = makers.a_grant(nor, state=GrantState.PROVISIONAL)
    makers.a_check_in(nor, grant=paired.grant)
    assert (
        makers.a_phone(paired).post(f"/practice/{nor.public_id}/this-phone/sign-out").status_code
        == 302
    )
    return paired


def answer(runa, grant: Grant, word: str) -> str:
    page = makers.signed_in(runa).post(f"/phones/{grant.public_id}/{word}", follow=True)
    grant.refresh_from_db()
    return page.content.decode()


def standing() -> int:
    with scopes_disabled():
        return standing_check_ins().count()


def test_it_is_out_and_still_asked_about(runa, nor, left):
    desk = makers.signed_in(runa)

    assert makers.a_phone(left).get(f"/practice/{nor.public_id}").status_code != 200
    assert "out by now" in desk.get("/overview").content.decode()
    page = desk.get(f"/students/{nor.public_id}").content.decode()
    assert "and out by now. Was it Nor’s?" in page
    assert standing() == 1


def test_no_sets_aside_what_it_filed(runa, left):
    said = answer(runa, left.grant, "refuse")

    assert "what it filed is set aside" in said
    assert left.grant.state == GrantState.REFUSED
    assert standing() == 0


def test_yes_keeps_what_it_filed_and_opens_nothing(runa, nor, left):
    said = answer(runa, left.grant, "confirm")

    assert "Noted: the Android phone was Nor’s." in said
    assert (left.grant.state, left.grant.ended_at is None) == (GrantState.ENDED, False)
    assert standing() == 1
    assert makers.a_phone(left).get(f"/practice/{nor.public_id}").status_code != 200
    assert "by itself" not in makers.signed_in(runa).get("/overview").content.decode()


@pytest.mark.parametrize("word", ["confirm", "refuse"])
def test_of_one_that_a_teacher_signed_out_nothing_is_said_that_is_not_so(runa, nor, word):
    grant = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    makers.a_check_in(nor, grant=grant)
    pairing.sign_out_phone(grant, moment=timezone.now(), by=runa)

    said = answer(runa, grant, word)

    assert "Nothing changed: the Android phone was signed out or refused before." in said
    assert grant.state == GrantState.ENDED
    assert standing() == 1


@pytest.mark.parametrize("where", ["students/{}/phones/sign-out", "settings/phones/sign-out"])
def test_one_that_is_shut_out_with_all_others_is_still_asked_about(runa, nor, where):
    strangers = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    own = makers.a_grant(nor).grant
    makers.a_check_in(nor, grant=strangers)
    makers.signed_in(runa).post(f"/{where.format(nor.public_id)}", {"sure": "on"})
    for grant in (strangers, own):
        grant.refresh_from_db()

    assert (own.state, own.ended_at is None) == (GrantState.ENDED, False)
    assert (strangers.state, strangers.ended_at is None) == (GrantState.PROVISIONAL, False)
    assert "what it filed is set aside" in answer(runa, strangers, "refuse")
    assert standing() == 0


def test_one_of_a_student_who_was_off_the_lists_for_a_while_is_still_asked_about(runa, nor):
    strangers = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    parents = makers.a_grant(nor, kind=GrantKind.PARENT, state=GrantState.PROVISIONAL).grant
    desk = makers.signed_in(runa)
    for _ in ("off", "back"):
        desk.post(f"/students/{nor.public_id}/archive")

    assert "Yes, it was Nor’s" in desk.get("/overview").content.decode()
    parents.refresh_from_db()
    assert parents.state == GrantState.ENDED
    assert "what it filed is set aside" in answer(runa, strangers, "refuse")


def test_of_a_parents_nothing_is_asked(runa, nor):
    grant = makers.a_grant(nor, kind=GrantKind.PARENT, state=GrantState.PROVISIONAL).grant

    pairing.sign_out_phone(grant, moment=timezone.now())

    assert grant.state == GrantState.ENDED
    assert "by itself" not in makers.signed_in(runa).get("/overview").content.decode()


@pytest.mark.parametrize("word", ["confirm", "sign out"])
def test_an_old_page_takes_no_refusal_back(nor, word):
    grant = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    stale = Grant._base_manager.get(pk=grant.pk)
    pairing.refuse_phone(grant, moment=timezone.now())

    act = pairing.confirm_phone if word == "confirm" else pairing.sign_out_phone
    act(stale, moment=timezone.now() + timedelta(minutes=1))

    grant.refresh_from_db()
    assert grant.state == GrantState.REFUSED
    assert grant.confirmed_at is None


@pytest.mark.parametrize("minutes", [1, 60])
def test_to_take_its_refusal_back_asks_again_and_opens_nothing(runa, nor, left, minutes):
    """A parent may have signed out a phone that was lost: a mistaken "No" must not open it."""
    signed_out = timezone.now() - timedelta(minutes=minutes)
    Grant._base_manager.filter(pk=left.grant.pk).update(ended_at=signed_out)
    answer(runa, left.grant, "refuse")

    said = answer(runa, left.grant, "take-back")

    assert "filed counts again. It stays out." in said
    assert "Was it Nor’s?" in said
    assert (left.grant.state, left.grant.ended_at) == (GrantState.PROVISIONAL, signed_out)
    assert standing() == 1
    assert makers.a_phone(left).get(f"/practice/{nor.public_id}").status_code != 200


def run_out(nor):
    """Set a phone up for an hour or two, use it, and let its time run out."""
    once = makers.a_grant(nor, kind=GrantKind.ONCE, state=GrantState.PROVISIONAL)
    makers.a_phone(once).get(f"/practice/{nor.public_id}")
    makers.a_check_in(nor, grant=once.grant)
    over = timezone.now() - timedelta(minutes=30)
    Grant._base_manager.filter(pk=once.grant.pk).update(expires_at=over)
    return once


def test_one_whose_time_ran_out_before_anybody_answered_is_asked_about(runa, nor):
    once = run_out(nor)
    desk = makers.signed_in(runa)

    assert "Yes, it was Nor’s" in desk.get("/overview").content.decode()
    assert "Was it Nor’s?" in desk.get(f"/students/{nor.public_id}").content.decode()
    assert "what it filed is set aside" in answer(runa, once.grant, "refuse")
    assert standing() == 0


def test_yes_to_one_whose_time_ran_out_is_said_once(runa, nor):
    once = run_out(nor)

    assert "Noted: the Android phone was Nor’s." in answer(runa, once.grant, "confirm")

    assert (once.grant.state, once.grant.ended_at) == (GrantState.ENDED, once.grant.expires_at)
    assert standing() == 1
    assert "it was Nor" not in makers.signed_in(runa).get("/overview").content.decode()


def test_one_that_nobody_used_is_not_asked_about_once_its_time_is_over(runa, nor):
    over = timezone.now() - timedelta(minutes=1)
    makers.a_grant(nor, kind=GrantKind.ONCE, state=GrantState.PROVISIONAL, expires_at=over)

    assert "Was it" not in makers.signed_in(runa).get(f"/students/{nor.public_id}").content.decode()


def test_a_refusal_taken_back_after_the_phones_time_is_over_asks_again(runa, nor):
    once = makers.a_grant(nor, kind=GrantKind.ONCE, state=GrantState.PROVISIONAL)
    answer(runa, once.grant, "refuse")
    over = timezone.now()
    Grant._base_manager.filter(pk=once.grant.pk).update(expires_at=over)

    answer(runa, once.grant, "take-back")

    assert (once.grant.state, once.grant.ended_at) == (GrantState.PROVISIONAL, over)
