"""How long doors stay open: a sign-in, a phone, a code; a second before the limit and one after.

The times are those of docs/limits.md; that there are such limits is ASVS 5.0.0, V7.1 to V7.3, from
memory.
"""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from allauth.usersessions.models import UserSession
from django.core.exceptions import ValidationError
from django.test import Client
from django_scopes import scopes_disabled

from routines.engine import instruments
from studio import sessions
from studio.forms import FirstRunForm
from studio.models import Grant
from studio.passwords import WordsOfThisPlaceValidator
from studio.queries import IDLE_DAYS
from studio.services import pairing
from studio.services.pairing import GRANT_DAYS
from studio.words import OfferKind
from tests import makers

NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)
SECOND, HOUR, DAY = timedelta(seconds=1), timedelta(hours=1), timedelta(days=1)

pytestmark = pytest.mark.django_db


def signed_in(teacher) -> Client:
    browser = Client()
    right = {"login": teacher.email, "password": makers.PASSWORD}
    assert browser.post("/sign-in", right).status_code == 302
    return browser


def is_in(browser: Client) -> bool:
    return browser.get("/overview").status_code == 200


@pytest.mark.parametrize(("late", "opens"), [(-SECOND, True), (SECOND, False)])
def test_a_teacher_is_signed_out_after_twelve_hours_without_use(late, opens):
    with time_machine.travel(NOON, tick=False) as clock:
        browser = signed_in(makers.a_teacher())
        clock.move_to(NOON + 12 * HOUR + late)

        assert is_in(browser) is opens


@pytest.mark.parametrize(("late", "opens"), [(-SECOND, True), (SECOND, False)])
def test_use_puts_the_twelve_hours_off(late, opens):
    with time_machine.travel(NOON, tick=False) as clock:
        browser = signed_in(makers.a_teacher())
        clock.move_to(NOON + 11 * HOUR)
        assert is_in(browser)
        clock.move_to(NOON + 23 * HOUR + late)

        assert is_in(browser) is opens


@pytest.mark.parametrize(("late", "opens"), [(-SECOND, True), (SECOND, False)])
def test_a_sign_in_ends_after_thirty_days_whatever_its_use(late, opens):
    with time_machine.travel(NOON, tick=False) as clock:
        browser = signed_in(makers.a_teacher())
        while clock_is_before(end := NOON + sessions.LONGEST + late):
            clock.move_to(min(datetime.now(UTC) + 11 * HOUR, end))
            answer = browser.get("/overview")

        assert (answer.status_code == 200) is opens


def clock_is_before(moment: datetime) -> bool:
    return datetime.now(UTC) < moment


def test_reading_pages_writes_the_use_down_every_ten_minutes_at_most():
    with time_machine.travel(NOON, tick=False) as clock:
        browser = signed_in(makers.a_teacher())
        is_in(browser)  # the greeting is shown, and is gone from the session
        before = browser.session.get_expiry_date()
        clock.move_to(NOON + timedelta(minutes=9, seconds=59))
        is_in(browser)
        assert browser.session[sessions.SEEN] == NOON.isoformat()
        clock.move_to(NOON + timedelta(minutes=10))
        is_in(browser)

        assert browser.session[sessions.SEEN] == (NOON + timedelta(minutes=10)).isoformat()
        assert browser.session.get_expiry_date() > before


def test_a_sign_in_from_before_the_times_were_noted_goes_on_from_now():
    browser = makers.signed_in(makers.a_teacher())
    session = browser.session
    del session[sessions.BEGAN], session[sessions.SEEN]
    session.save()

    assert is_in(browser)
    assert {sessions.BEGAN, sessions.SEEN} <= set(browser.session.keys())


def test_the_sixth_sign_in_ends_the_oldest_and_says_so():
    teacher = makers.a_teacher()
    with time_machine.travel(NOON, tick=False) as clock:
        browsers = []
        for _ in range(6):
            clock.shift(60)
            browsers.append(signed_in(teacher))

        page = browsers[-1].get("/overview").content.decode()

        assert "You were signed in at five places already" in page
        assert [is_in(browser) for browser in browsers] == [False, *[True] * 5]
        assert UserSession.objects.count() == sessions.MOST_PLACES


def test_five_sign_ins_stay_and_one_that_has_ended_does_not_count():
    teacher = makers.a_teacher()
    first = signed_in(teacher)
    first.post("/sign-out")
    browsers = [signed_in(teacher) for _ in range(5)]

    assert "five places" not in browsers[-1].get("/overview").content.decode()
    assert all(map(is_in, browsers))


@pytest.fixture
def nor():
    student = makers.a_student(makers.studio_of(makers.a_teacher()))
    with time_machine.travel(NOON - 7 * DAY, tick=False):
        makers.a_block(student)
    return student


def opens_today(paired: makers.PairedPhone, nor) -> bool:
    return makers.a_phone(paired).get(f"/practice/{nor.public_id}").status_code == 200


@pytest.mark.parametrize(("late", "opens"), [(-SECOND, True), (SECOND, False)])
def test_a_phone_that_was_never_used_stops_after_two_hundred_days(nor, late, opens):
    paired = makers.a_grant(nor, made_at=NOON, expires_at=NOON + GRANT_DAYS * DAY)

    with time_machine.travel(NOON + IDLE_DAYS * DAY + late, tick=False):
        assert opens_today(paired, nor) is opens


@pytest.mark.parametrize(("days", "opens"), [(IDLE_DAYS, True), (IDLE_DAYS + 1, False)])
def test_a_phone_stops_when_a_summer_and_more_has_passed_without_use(nor, days, opens):
    paired = makers.a_grant(
        nor, made_at=NOON - DAY, last_day=NOON.date(), expires_at=NOON + GRANT_DAYS * DAY
    )

    with time_machine.travel(NOON + days * DAY, tick=False):
        assert opens_today(paired, nor) is opens


@pytest.mark.parametrize(("late", "opens"), [(-SECOND, True), (SECOND, False)])
def test_a_phone_stops_after_four_hundred_days_whatever_its_use(nor, late, opens):
    end = NOON + GRANT_DAYS * DAY
    paired = makers.a_grant(nor, made_at=NOON, last_day=end.date(), expires_at=end)

    with time_machine.travel(end + late, tick=False):
        assert opens_today(paired, nor) is opens


def test_a_phone_that_has_stopped_by_itself_takes_nobodys_place(nor):
    for _ in range(3):
        makers.a_grant(nor, made_at=NOON, expires_at=NOON + GRANT_DAYS * DAY)
    late = NOON + (IDLE_DAYS + 1) * DAY
    makers.an_offer(nor, token="abc", made_at=late)

    made = pairing.redeem("abc", label="iPhone", moment=late)

    assert isinstance(made, pairing.Redeemed)


@pytest.mark.parametrize(
    ("kind", "lasts"), [(OfferKind.LESSON, timedelta(minutes=10)), (OfferKind.SENT, 72 * HOUR)]
)
@pytest.mark.parametrize(("late", "opens"), [(-SECOND, True), (SECOND, False)])
def test_an_offer_opens_until_its_last_second(nor, kind, lasts, late, opens):
    with scopes_disabled():
        made = pairing.make_offer(nor, kind=kind, by=None, moment=NOON)

    redeemed = pairing.redeem(made.token, label="iPhone", moment=NOON + lasts + late)

    assert isinstance(redeemed, pairing.Redeemed) is opens


@pytest.mark.parametrize(("late", "opens"), [(-SECOND, True), (SECOND, False)])
def test_just_this_once_lasts_two_hours(nor, late, opens):
    makers.an_offer(nor, token="abc", made_at=NOON)
    browser = Client()
    with time_machine.travel(NOON, tick=False) as clock:
        browser.post("/pair", {"token": "abc", "once": "yes"})
        clock.move_to(NOON + 2 * HOUR + late)

        assert (browser.get(f"/practice/{nor.public_id}").status_code == 200) is opens
    with scopes_disabled():
        assert Grant.objects.count() == 1


@pytest.mark.parametrize(
    "password",
    [
        "Trumpet12345",
        "filar-filar-filar",
        "brass studio horn 1",
        "northstreetbrass",
        "North 1234567",
    ],
)
def test_a_password_made_of_the_words_of_this_place_is_refused(password):
    teacher = makers.a_teacher(makers.a_studio(name="North Street Brass"))

    with pytest.raises(ValidationError, match="add a few words of your own"):
        WordsOfThisPlaceValidator().validate(password, teacher)


@pytest.mark.parametrize("password", [makers.PASSWORD, "my trumpet sleeps in the kitchen"])
def test_a_sentence_may_hold_a_word_of_this_place(password):
    WordsOfThisPlaceValidator().validate(password, makers.a_teacher())
    WordsOfThisPlaceValidator().validate(password)


def test_the_name_of_every_instrument_is_among_the_words():
    for name in map(str, (instruments.by_id(one).name for one in instruments.ids())):
        with pytest.raises(ValidationError):
            WordsOfThisPlaceValidator().validate(name)


def test_the_first_run_page_refuses_the_studios_own_name_as_a_password():
    form = FirstRunForm(
        {
            "token": "x", "name": "Runa", "email": "runa@example.org", "time_zone": "UTC",
            "studio_name": "Seven Lakes", "password": "seven lakes 1", "note_naming": "letters",
        }
    )  # fmt: skip

    assert "mostly the name" in str(form.errors["password"])
