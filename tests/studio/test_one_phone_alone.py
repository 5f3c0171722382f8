"""What is done to one phone, link or student leaves every other one as it is.

Source of the rules on links and secrets: ASVS 5.0.0 (V6.5, V7.2), from memory; that a link is used
once and a phone is ended at once are rules of this program, told in docs/security.md.
"""

from datetime import UTC, datetime, timedelta

import pytest
from django_scopes import scope, scopes_disabled

from studio import secrets
from studio.models import Grant, Offer
from studio.services import pairing, phone_use
from studio.words import GrantState, OfferKind
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def nor(db):
    return makers.a_student(makers.a_studio())


@pytest.fixture
def in_scope(nor):
    with scope(studio=nor.studio):
        yield


def grant_of(paired: makers.PairedPhone) -> Grant:
    """Read a phone anew."""
    with scopes_disabled():
        found: Grant = Grant.objects.get(pk=paired.grant.pk)
    return found


def ends(offer: Offer) -> datetime:
    with scopes_disabled():
        offer.refresh_from_db()
    return offer.expires_at


@pytest.mark.parametrize(("used_at", "lasts"), [(NOW - HOUR, 3 * HOUR), (None, HOUR)])
def test_a_link_that_is_over_opens_nothing_even_where_no_more_phones_fit(nor, used_at, lasts):
    for _ in range(pairing.MOST_PHONES):
        makers.a_grant(nor)
    makers.an_offer(nor, token="abc", made_at=NOW - HOUR, lasts=lasts, used_at=used_at)

    assert pairing.redeem("abc", label="iPhone", moment=NOW) is None


@pytest.mark.parametrize(("kind", "since"), [(OfferKind.LESSON, NOW), (OfferKind.SENT, None)])
def test_only_a_phone_set_up_beside_the_teacher_has_its_yes_from_the_start(nor, kind, since):
    makers.an_offer(nor, token="abc", kind=kind, made_at=NOW)

    made = pairing.redeem("abc", label="iPhone", moment=NOW)

    assert isinstance(made, pairing.Redeemed)
    assert made.grant.confirmed_at == since


@pytest.mark.parametrize(
    "way", [pairing.confirm_phone, pairing.refuse_phone, pairing.sign_out_phone]
)
def test_what_is_said_of_a_phone_and_its_line_in_the_record_stand_or_fall_together(
    nor, monkeypatch, way
):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL)

    with monkeypatch.context() as broken:
        broken.setattr(pairing, "record", lambda *_, **__: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            way(phone.grant, moment=NOW)
    kept = grant_of(phone)

    assert (kept.state, kept.ended_at) == (GrantState.PROVISIONAL, None)
    assert way(kept, moment=NOW) is kept
    found = grant_of(phone)
    assert (found.state, found.ended_at) != (GrantState.PROVISIONAL, None)


def test_of_two_refused_phones_one_is_taken_back(nor, in_scope):
    one, other = (makers.a_grant(nor, state=GrantState.PROVISIONAL) for _ in range(2))
    for phone in (one, other):
        pairing.refuse_phone(phone.grant, moment=NOW)

    assert pairing.take_back_refusal(one.grant, moment=NOW)

    states = [grant_of(phone).state for phone in (one, other)]
    assert states == [GrantState.PROVISIONAL, GrantState.REFUSED]


def test_a_new_secret_settles_on_the_phone_that_shows_it_and_on_no_other(nor, in_scope):
    phones = [makers.a_grant(nor, secret_is_new=False) for _ in range(2)]
    old = [phone.cookie.partition(".")[2] for phone in phones]
    new = [
        phone_use.renew_secret(phone.grant, shown=secret)
        for phone, secret in zip(phones, old, strict=True)
    ]

    phone_use.settle_secret(phones[0].grant, shown=old[1])
    before = [grant_of(phone).secret_hash for phone in phones]
    phone_use.settle_secret(phones[0].grant, shown=new[0])

    settled, waits = (grant_of(phone) for phone in phones)
    assert before == [secrets.hashed(secret) for secret in old]
    assert (settled.secret_hash, settled.next_secret_hash) == (secrets.hashed(new[0]), "")
    assert (waits.secret_hash, waits.next_secret_hash) == tuple(
        secrets.hashed(secret) for secret in (old[1], new[1])
    )
    assert (settled.secret_is_new, waits.secret_is_new) == (True, False)


def test_ending_all_of_one_student_leaves_the_others_and_what_was_over_already(nor, in_scope):
    sam = makers.a_student(nor.studio, name="Sam")
    mine, theirs = makers.a_grant(nor), makers.a_grant(sam)
    open_link, other_link = (
        makers.an_offer(student, made_at=NOW, lasts=5 * HOUR) for student in (nor, sam)
    )
    used = makers.an_offer(nor, made_at=NOW, lasts=5 * HOUR, used_at=NOW)
    old = makers.an_offer(nor, made_at=NOW - 3 * HOUR, lasts=HOUR)

    pairing.end_all(nor, moment=NOW)

    assert (grant_of(mine).state, grant_of(mine).ended_at) == (GrantState.ENDED, NOW)
    assert (grant_of(theirs).state, grant_of(theirs).ended_at) == (GrantState.CONFIRMED, None)
    assert [ends(offer) - NOW for offer in (open_link, other_link, used, old)] == [
        timedelta(0),
        5 * HOUR,
        5 * HOUR,
        -2 * HOUR,
    ]
