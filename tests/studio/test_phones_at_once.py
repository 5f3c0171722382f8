"""Two people at the same moment about the phones of one student."""

import pytest
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from studio.models import Grant, Offer
from studio.services import pairing
from studio.services.people import archive_student
from studio.words import GrantState, OfferKind
from tests import makers
from tests.at_once import at_once

pytestmark = pytest.mark.django_db(transaction=True)
RACES = 15


@pytest.fixture
def runa():
    return makers.a_teacher()


@pytest.fixture
def studio(runa):
    return makers.studio_of(runa)


def test_of_two_links_made_at_once_one_works(runa, studio):
    for number in range(RACES):
        student = makers.a_student(studio, name=f"Nor {number}")

        def makes(student=student):
            now = timezone.now()
            pairing.make_offer(student, kind=OfferKind.SENT, by=runa, moment=now)

        at_once(studio, makes, makes)

        with scopes_disabled():
            living = Offer.objects.filter(student=student, expires_at__gt=timezone.now())
            assert living.count() == 1


def test_no_phone_is_set_up_for_whoever_is_taken_off_the_lists_at_that_moment(runa, studio):
    for number in range(RACES):
        student = makers.a_student(studio, name=f"Nor {number}")
        with scope(studio=studio):
            made = pairing.make_offer(student, kind=OfferKind.SENT, by=runa, moment=timezone.now())

        def sets_up(token=made.token):
            pairing.redeem(token, label="phone", moment=timezone.now())

        def takes_off(student=student):
            archive_student(student, day=makers.today(studio), moment=timezone.now(), by=runa)

        at_once(studio, sets_up, takes_off)

        with scopes_disabled():
            assert not Grant.objects.filter(student=student, ended_at__isnull=True).exists()


def test_a_refusal_is_not_taken_back_for_whoever_was_taken_off_the_lists_meanwhile(runa, studio):
    student, now = makers.a_student(studio), timezone.now()
    grant = makers.a_grant(student).grant
    with scope(studio=studio):
        pairing.refuse_phone(grant, moment=now, by=runa)
        read_before = Grant.objects.select_related("student").get(pk=grant.pk)
        archive_student(student, day=makers.today(studio), moment=now, by=runa)

        assert not pairing.take_back_refusal(read_before, moment=now, by=runa)

        assert Grant.objects.get(pk=grant.pk).ended_at is not None


@pytest.mark.parametrize("other", ["confirm", "sign out"])
def test_a_refusal_is_not_written_over_at_that_moment(runa, studio, other):
    act = pairing.confirm_phone if other == "confirm" else pairing.sign_out_phone
    for number in range(RACES):
        student = makers.a_student(studio, name=f"Nor {number}")
        grant = makers.a_grant(student, state=GrantState.PROVISIONAL).grant
        # Each of the two pages was loaded before either of the answers.
        one, another = (Grant._base_manager.get(pk=grant.pk) for _ in range(2))

        def refuses(page=one):
            pairing.refuse_phone(page, moment=timezone.now(), by=runa)

        def acts(page=another):
            act(page, moment=timezone.now())

        at_once(studio, refuses, acts)

        grant.refresh_from_db()
        # Whichever came first, a "No" is the last word on a phone.
        assert (grant.state, grant.ended_at is None) == (GrantState.REFUSED, False)
