"""What is done to one phone, link or student leaves every other one as it is.

Source of the rules on links and secrets: ASVS 5.0.0 (V6.5, V7.2), from memory; that a link is used
once and a phone is ended at once are rules of this program, told in docs/security.md.
"""

from datetime import UTC, datetime, timedelta

import pytest
from django_scopes import scope, scopes_disabled

from studio import secrets
from studio.models import AuditLine, Grant, Offer
from studio.services import pairing, phone_use
from studio.words import AuditKind, GrantKind, GrantState, OfferKind
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


def test_a_new_link_ends_what_is_open_and_leaves_what_is_over_as_it_was(nor, in_scope):
    runa = makers.a_teacher(nor.studio)
    over = makers.an_offer(nor, made_at=NOW - 3 * HOUR, lasts=HOUR)
    waiting = makers.an_offer(nor, made_at=NOW - HOUR, lasts=3 * HOUR)

    made = pairing.make_offer(nor, kind=OfferKind.SENT, by=runa, moment=NOW)

    assert made.offer.made_by == runa
    assert (ends(over), ends(waiting)) == (NOW - 2 * HOUR, NOW)


@pytest.mark.parametrize("kind", [OfferKind.LESSON, OfferKind.SENT])
def test_a_phone_keeps_by_which_link_it_was_set_up(nor, kind):
    offer = makers.an_offer(nor, token="abc", kind=kind, made_at=NOW)

    made = pairing.redeem("abc", label="iPhone", moment=NOW)

    assert isinstance(made, pairing.Redeemed)
    assert made.grant.offer == offer
    # Beside the teacher nobody can have copied its secret; a sent link's is renewed after the yes.
    assert made.grant.secret_is_new is (kind is OfferKind.LESSON)


def test_the_students_phones_leave_room_for_the_parents(nor):
    for _ in range(pairing.MOST_PHONES):
        makers.a_grant(nor)
    makers.an_offer(nor, token="abc", kind=OfferKind.PARENT, made_at=NOW)

    made = pairing.redeem("abc", label="iPhone", moment=NOW, kind=GrantKind.PARENT)

    assert isinstance(made, pairing.Redeemed)


@pytest.mark.parametrize(("lasts", "stays_out"), [(HOUR, False), (timedelta(0), True)])
def test_a_phone_is_out_from_the_very_moment_at_which_its_time_is_over(nor, lasts, stays_out):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL, expires_at=NOW + lasts).grant

    pairing.refuse_phone(phone, moment=NOW)
    assert pairing.take_back_refusal(phone, moment=NOW) is True
    taken_back = phone.ended_at
    pairing.confirm_phone(phone, moment=NOW)

    assert taken_back == (NOW if stays_out else None)
    assert phone.state == (GrantState.ENDED if stays_out else GrantState.CONFIRMED)

    other = makers.a_grant(nor, state=GrantState.PROVISIONAL, expires_at=NOW + lasts).grant
    assert pairing.confirm_phone(other, moment=NOW).state == phone.state


@pytest.mark.parametrize("is_out", [True, False])
def test_a_phone_that_stays_out_takes_no_room_when_its_refusal_is_taken_back(nor, in_scope, is_out):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL).grant
    if is_out:
        pairing.sign_out_phone(phone, moment=NOW)
    pairing.refuse_phone(phone, moment=NOW)
    for _ in range(pairing.MOST_PHONES):
        makers.a_grant(nor)

    assert pairing.take_back_refusal(phone, moment=NOW) is is_out

    lines = AuditLine.objects.filter(kind=AuditKind.TAKEN_BACK, about=nor.public_id)
    assert lines.count() == int(is_out)


def test_the_day_of_use_is_noted_of_one_phone_alone(nor, in_scope):
    phones = [makers.a_grant(nor) for _ in range(2)]

    phone_use.note_use(phones[0].grant, day=NOW.date())

    assert [grant_of(phone).last_day for phone in phones] == [NOW.date(), None]


@pytest.mark.parametrize(("is_new", "shows"), [(True, "its own"), (False, "another's")])
def test_no_phone_gets_a_new_secret_that_has_one_or_shows_none_of_its_own(
    nor, in_scope, is_new, shows
):
    phone, other = makers.a_grant(nor, secret_is_new=is_new), makers.a_grant(nor)
    shown = (phone if shows == "its own" else other).cookie.partition(".")[2]

    phone_use.renew_secret(phone.grant, shown=shown)

    assert grant_of(phone).next_secret_hash == ""
