"""A code for a phone without a camera: nine symbols, ten minutes, five wrong tries."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from django_scopes import scopes_disabled

from studio import limits
from studio.models import Offer
from studio.services import pairing, typed_code
from studio.words import GrantState, OfferKind
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def nor():
    return makers.a_student(makers.a_studio())


def a_code(student, *, moment=None) -> str:
    with scopes_disabled():
        made = pairing.make_offer(
            student, kind=OfferKind.LESSON, by=None, moment=moment or timezone.now()
        )
    return made.code


def typed(code: str) -> int:
    return Client().post("/pair", {"code": code}).status_code


def another(code: str) -> str:
    """Change the last symbol of a code."""
    return code[:-1] + ("2" if code[-1] != "2" else "3")


def test_a_code_has_no_vowel_and_nothing_that_looks_like_something_else():
    assert len(typed_code.SYMBOLS) == 28
    assert not set(typed_code.SYMBOLS) & set("AEIOU01L")
    assert set(typed_code.new_code()) <= set(typed_code.SYMBOLS)


def test_the_teachers_page_shows_it_and_typing_it_sets_a_confirmed_phone_up():
    teacher = makers.a_teacher()
    nor = makers.a_student(makers.studio_of(teacher))
    page = makers.signed_in(teacher).post(f"/students/{nor.public_id}/phones/code")
    shown = makers.code_on(page)

    answer = Client().post("/pair", {"code": f" {shown.lower().replace('-', ' ')} "})

    assert answer.headers["Location"] == f"/practice/{nor.public_id}"
    with scopes_disabled():
        assert nor.grant_set.get().state == GrantState.CONFIRMED


def test_a_code_works_once_and_ten_minutes(nor):
    code = a_code(nor)
    assert typed(code) == 302
    assert typed(code) == 410

    old = a_code(nor, moment=timezone.now() - timedelta(minutes=11))

    assert typed(old) == 410


def test_five_wrong_ones_end_the_code_but_not_the_picture_beside_it(nor):
    with scopes_disabled():
        made = pairing.make_offer(nor, kind=OfferKind.LESSON, by=None, moment=timezone.now())
    assert [typed(another(made.code)) for _ in range(5)] == [410] * 5

    assert typed(made.code) == 410
    assert Client().post("/pair", {"token": made.token}).status_code == 302


@pytest.mark.parametrize("nonsense", ["", "K7P", "K7P-M4X-9R", "ÄÖÜ-ÄÖÜ-ÄÖÜ", "0" * 40, "\0" * 9])
def test_nonsense_is_no_code(nor, nonsense):
    a_code(nor)

    assert typed_code.read(nonsense) == ""
    assert typed(nonsense) in {410}


def test_only_hashes_are_kept(nor):
    code = a_code(nor)

    with scopes_disabled():
        kept = Offer.objects.get()
    assert code[3:] not in f"{kept.code_hash} {kept.token_hash} {kept.code_finder}"


def test_a_sent_link_has_no_code(nor):
    with scopes_disabled():
        made = pairing.make_offer(nor, kind=OfferKind.SENT, by=None, moment=timezone.now())

    assert made.code == ""
    assert made.offer.code_hash == ""


def test_a_code_of_a_student_who_went_off_the_lists_opens_nothing(nor):
    code = a_code(nor)
    with scopes_disabled():
        type(nor).objects.filter(pk=nor.pk).update(archived_on=makers.today(nor.studio))

    assert typed(code) == 410


def test_a_studios_codes_have_a_hundred_wrong_tries_an_hour_between_them(monkeypatch):
    monkeypatch.setattr(typed_code, "check_password", lambda given, _kept: given == "right")
    nor = makers.a_student(makers.a_studio())
    moment = timezone.now()

    def wrong(number: int) -> bool:
        """Guess at codes of which a new one is made for every five tries."""
        if number % typed_code.MOST_TRIES == 0:
            with scopes_disabled():
                codes.append(pairing.make_offer(nor, kind=OfferKind.LESSON, by=None, moment=moment))
        guess = codes[-1].code[:3] + "222222"
        return pairing.offer_of_code(guess, moment=moment) is None

    codes: list[pairing.MadeOffer] = []

    assert all(wrong(number) for number in range(100))
    with pytest.raises(limits.TooManyError):
        wrong(100)


@pytest.fixture
def will_be_made(monkeypatch):
    """Say which codes are made, in turn."""

    def are(*given: str) -> None:
        made = iter(given)
        monkeypatch.setattr(typed_code, "new_code", lambda: next(made))

    return are


@pytest.mark.parametrize("at", range(0, 28, 7))
def test_every_symbol_is_read_as_itself(at):
    code = (typed_code.SYMBOLS * 2)[at : at + 9]

    assert typed_code.read(typed_code.shown(code)) == code


def tries() -> list[int]:
    with scopes_disabled():
        return list(Offer.objects.order_by("pk").values_list("code_tries", flat=True))


def test_a_wrong_try_counts_against_the_code_it_begins_like_and_no_other(nor, will_be_made):
    will_be_made("BCD222222", "FGH222222")
    a_code(nor)
    a_code(makers.a_student(nor.studio, name="Sam"))

    assert typed("BCD333333") == 410

    assert tries() == [1, 0]


def test_a_code_that_begins_like_one_used_up_by_tries_still_opens(nor, will_be_made):
    will_be_made("BCD222222", "BCD444444")
    a_code(nor)
    assert [typed("BCD333333") for _ in range(typed_code.MOST_TRIES)] == [410] * 5
    sam = makers.a_student(nor.studio, name="Sam")

    assert typed(a_code(sam)) == 302

    assert tries() == [5, 0], "a right one is no wrong try"


def test_a_guess_counts_though_a_studio_whose_code_begins_alike_has_had_too_many(nor, will_be_made):
    will_be_made("BCD222222", "BCD444444")
    a_code(nor)
    other = makers.a_student(makers.a_studio(), name="Sam")
    a_code(other)
    for _ in range(limits.CODE_BY_STUDIO.tries):
        limits.take(limits.CODE_BY_STUDIO, other.studio.public_id, moment=timezone.now())

    assert typed("BCD333333") == 429

    assert tries() == [1, 0]


def test_right_codes_are_not_counted_among_a_studios_wrong_ones(nor, monkeypatch):
    one = limits.Limit(name="one", tries=1, seconds=3600)
    monkeypatch.setattr(limits, "CODE_BY_STUDIO", one)

    assert [typed(a_code(nor)) for _ in range(2)] == [302, 302]


@pytest.mark.parametrize(
    "changed",
    [
        {"kind": OfferKind.SENT},
        {"used_at": timezone.now()},
        {"expires_at": timezone.now() - timedelta(minutes=1)},
    ],
    ids=lambda changed: next(iter(changed)),
)
def test_only_a_living_code_of_a_lesson_is_looked_at(nor, changed):
    code = a_code(nor)
    with scopes_disabled():
        Offer.objects.update(**changed)

        assert typed_code.find(code, moment=timezone.now()) is None
        assert tries() == [0]


def test_nothing_typed_is_no_try_at_an_offer_without_a_code(nor):
    makers.an_offer(nor, kind=OfferKind.LESSON)

    with scopes_disabled():
        assert typed_code.find("", moment=timezone.now()) is None

    assert tries() == [0]
