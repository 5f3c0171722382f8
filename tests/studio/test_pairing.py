"""Setting up a phone: one link, one phone, and nothing that opens a door kept in clear.

Source of the rules on links and secrets: ASVS 5.0.0 (V6.5, V7.2, V11.4) and NIST SP 800-63B 5.1.4
on out-of-band secrets, both from memory; the limits of three phones and four students are ours.
"""

import threading
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection, connections
from django_scopes import scope, scopes_disabled

from progress.queries.news import standing_check_ins
from studio import secrets
from studio.models import Grant, Offer
from studio.services import pairing, people, phone_use
from studio.services.pairing import Redeemed
from studio.words import GrantKind, GrantState, OfferKind
from tests import makers

NOW = datetime(2026, 11, 25, 16, 0, tzinfo=UTC)


@pytest.fixture
def nor(db):
    return makers.a_student(makers.a_studio(link_hours=5))


@pytest.fixture
def in_scope(nor):
    with scope(studio=nor.studio):
        yield


def redeemed(token: str, *, moment: datetime = NOW, **more: GrantKind) -> Redeemed:
    made = pairing.redeem(token, label="iPhone", moment=moment, **more)
    assert isinstance(made, Redeemed)
    return made


def test_a_token_is_used_up_by_the_first_phone(nor):
    makers.an_offer(nor, token="abc", made_at=NOW)

    first = pairing.redeem("abc", label="iPhone", moment=NOW)
    second = pairing.redeem("abc", label="Android phone", moment=NOW)

    assert isinstance(first, Redeemed)
    assert second is None


@pytest.mark.parametrize("late", [timedelta(hours=5), timedelta(hours=6)])
def test_a_token_is_worth_nothing_from_the_moment_it_expires(nor, late):
    makers.an_offer(nor, token="abc", made_at=NOW, lasts=timedelta(hours=5))

    assert pairing.redeem("abc", label="iPhone", moment=NOW + late) is None


def test_an_unknown_token_opens_nothing(nor):
    makers.an_offer(nor, token="abc", made_at=NOW)

    assert pairing.redeem("", label="iPhone", moment=NOW) is None
    assert pairing.redeem("abd", label="iPhone", moment=NOW) is None


@pytest.mark.parametrize(
    ("kind", "lasts"),
    [(OfferKind.LESSON, timedelta(minutes=10)), (OfferKind.SENT, timedelta(hours=5))],
)
def test_a_code_lasts_ten_minutes_and_a_link_the_studios_hours(nor, in_scope, kind, lasts):
    made = pairing.make_offer(nor, kind=kind, by=makers.a_teacher(nor.studio), moment=NOW)

    assert made.offer.expires_at - made.offer.made_at == lasts


def test_a_new_link_ends_the_one_before(nor, in_scope):
    teacher = makers.a_teacher(nor.studio)
    old = pairing.make_offer(nor, kind=OfferKind.SENT, by=teacher, moment=NOW)

    new = pairing.make_offer(nor, kind=OfferKind.SENT, by=teacher, moment=NOW)

    assert pairing.redeem(old.token, label="iPhone", moment=NOW) is None
    assert isinstance(pairing.redeem(new.token, label="iPhone", moment=NOW), Redeemed)


@pytest.mark.parametrize(
    ("kind", "state"),
    [(OfferKind.LESSON, GrantState.CONFIRMED), (OfferKind.SENT, GrantState.PROVISIONAL)],
)
def test_a_phone_set_up_beside_the_teacher_needs_no_yes(nor, kind, state):
    makers.an_offer(nor, token="abc", kind=kind, made_at=NOW)

    assert redeemed("abc").grant.state == state


def test_a_fourth_phone_is_refused_and_its_link_is_not_used_up(nor):
    for _ in range(3):
        makers.a_grant(nor)
    offer = makers.an_offer(nor, token="abc", made_at=NOW)

    answer = pairing.redeem("abc", label="iPhone", moment=NOW)

    assert answer == "full"
    with scopes_disabled():
        assert Offer.objects.get(pk=offer.pk).used_at is None


def test_a_signed_out_phone_makes_room_for_another(nor):
    for state in (GrantState.CONFIRMED, GrantState.CONFIRMED, GrantState.ENDED):
        makers.a_grant(nor, state=state)
    makers.an_offer(nor, token="abc", made_at=NOW)

    assert isinstance(pairing.redeem("abc", label="iPhone", moment=NOW), Redeemed)


def test_a_child_whose_parents_took_their_yes_back_cannot_use_a_link_sent_before(nor):
    makers.an_offer(nor, token="abc", made_at=NOW)
    people.change_student(nor, consent_on=None)

    assert pairing.redeem("abc", label="iPhone", moment=NOW) is None


def test_an_adult_needs_nobodys_yes(db):
    ada = makers.a_student(makers.a_studio(), child=False, consent_on=None)
    makers.an_offer(ada, token="abc", made_at=NOW)

    assert isinstance(pairing.redeem("abc", label="iPhone", moment=NOW), Redeemed)


def test_a_student_who_has_left_gets_no_new_phone(nor):
    makers.an_offer(nor, token="abc", made_at=NOW)
    with scope(studio=nor.studio):
        people.archive_student(nor, day=date(2026, 11, 25), moment=NOW)

    assert pairing.redeem("abc", label="iPhone", moment=NOW) is None


def test_just_this_once_is_two_hours(nor):
    makers.an_offer(nor, token="abc", made_at=NOW)

    grant = redeemed("abc", kind=GrantKind.ONCE).grant

    assert (grant.kind, grant.expires_at - NOW) == ("once", timedelta(hours=2))


@pytest.mark.django_db(transaction=True)
def test_of_eight_phones_at_the_same_moment_one_wins():
    makers.an_offer(makers.a_student(makers.a_studio()), token="abc", made_at=NOW)
    together, won = threading.Barrier(8), []

    def press() -> None:
        together.wait()
        try:
            won.append(pairing.redeem("abc", label="iPhone", moment=NOW))
        finally:
            connections.close_all()

    pressing = [threading.Thread(target=press) for _ in range(8)]
    for thread in pressing:
        thread.start()
    for thread in pressing:
        thread.join()

    assert [isinstance(one, Redeemed) for one in won].count(True) == 1
    assert won.count(None) == 7
    with scopes_disabled():
        assert Grant.objects.count() == 1


def test_refusing_a_phone_sets_aside_what_it_filed_and_deletes_nothing(nor, in_scope):
    block, theirs = makers.a_block(nor), makers.a_grant(nor, state=GrantState.PROVISIONAL)
    hers = makers.a_check_in(nor, block=block, grant=makers.a_grant(nor).grant)
    makers.a_check_in(nor, block=block, grant=theirs.grant)
    on_paper = makers.a_check_in(nor, block=block, grant=None)

    pairing.refuse_phone(theirs.grant, moment=NOW)

    assert set(standing_check_ins()) == {hers, on_paper}
    assert nor.checkin_set.count() == 3


@pytest.mark.parametrize(
    ("confirmed_at", "state"), [(None, GrantState.PROVISIONAL), (NOW, GrantState.CONFIRMED)]
)
def test_a_refusal_taken_back_leaves_the_phone_as_it_was(nor, in_scope, confirmed_at, state):
    phone = makers.a_grant(nor, state=state, confirmed_at=confirmed_at)
    check_in = makers.a_check_in(nor, grant=phone.grant)
    pairing.refuse_phone(phone.grant, moment=NOW)

    assert pairing.take_back_refusal(phone.grant, moment=NOW + timedelta(minutes=9, seconds=59))

    phone.grant.refresh_from_db()
    assert (phone.grant.state, phone.grant.ended_at) == (state, None)
    assert list(standing_check_ins()) == [check_in]


@pytest.mark.parametrize("later", [timedelta(minutes=10), timedelta(days=1)])
def test_a_refusal_stays_from_ten_minutes_on(nor, in_scope, later):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL)
    pairing.refuse_phone(phone.grant, moment=NOW)

    assert not pairing.take_back_refusal(phone.grant, moment=NOW + later)

    phone.grant.refresh_from_db()
    assert (phone.grant.state, phone.grant.ended_at) == (GrantState.REFUSED, NOW)


def test_a_sign_out_is_no_refusal_to_take_back(nor, in_scope):
    phone = makers.a_grant(nor)
    pairing.sign_out_phone(phone.grant, moment=NOW)

    assert not pairing.take_back_refusal(phone.grant, moment=NOW)


def test_a_refusal_is_not_taken_back_where_three_others_are_in_use_by_now(nor, in_scope):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL)
    pairing.refuse_phone(phone.grant, moment=NOW)
    for _ in range(3):
        makers.a_grant(nor)

    assert not pairing.take_back_refusal(phone.grant, moment=NOW)


def test_a_refusal_is_not_taken_back_for_a_student_who_has_left(nor, in_scope):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL)
    pairing.refuse_phone(phone.grant, moment=NOW)
    people.archive_student(nor, day=date(2026, 11, 25), moment=NOW)

    assert not pairing.take_back_refusal(phone.grant, moment=NOW)


def test_what_a_signed_out_phone_filed_stays(nor, in_scope):
    phone = makers.a_grant(nor)
    check_in = makers.a_check_in(nor, grant=phone.grant)

    pairing.sign_out_phone(phone.grant, moment=NOW)

    assert list(standing_check_ins()) == [check_in]


def test_confirming_twice_keeps_the_first_moment(nor):
    phone = makers.a_grant(nor, state=GrantState.PROVISIONAL)

    pairing.confirm_phone(phone.grant, moment=NOW)
    pairing.confirm_phone(phone.grant, moment=NOW + timedelta(days=1))

    assert phone.grant.confirmed_at == NOW


def test_a_refused_phone_cannot_be_confirmed_afterwards(nor):
    phone = makers.a_grant(nor, state=GrantState.REFUSED)

    pairing.confirm_phone(phone.grant, moment=NOW)

    assert phone.grant.state == GrantState.REFUSED


def test_a_secret_has_256_bits_and_is_stored_as_its_sha_256():
    # FIPS 180-4, the one-block example "abc".
    digest = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

    assert secrets.hashed("abc") == f"sha256${digest}"
    assert len(secrets.new_secret()) == 43  # 32 bytes in base64url without padding, RFC 4648
    assert secrets.matches("abc", f"sha256${digest}")
    assert not secrets.matches("abd", f"sha256${digest}")


def every_text_in_the_database() -> str:
    """Read every column of every table as text."""
    with connection.cursor() as cursor:
        parts = []
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608 - our tables
            parts += [str(value) for row in cursor.fetchall() for value in row]
    return "\n".join(parts)


def test_neither_token_nor_secret_stands_in_any_column_of_any_table(nor, in_scope):
    teacher = makers.a_teacher(nor.studio)
    made = pairing.make_offer(nor, kind=OfferKind.SENT, by=teacher, moment=NOW)
    used = redeemed(made.token)
    newer = phone_use.renew_secret(used.grant, shown=used.secret)

    stored = every_text_in_the_database()

    assert used.grant.public_id in stored
    for secret in (made.token, used.secret, newer):
        assert secret not in stored
