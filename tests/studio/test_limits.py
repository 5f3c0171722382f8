"""How often something may be tried: counted in the database, by address, account, phone or teacher.

The figures are our own; that limits are buckets that drip is common practice (RFC 2697 describes
one for traffic), and who is believed about a forwarded address follows RFC 7239, section 8.1.
"""

import os
import time
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection, connections
from django.test import Client, RequestFactory
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.engine.check_in import NoSession
from progress.models import NotToday
from progress.queries.months import student_month
from studio import limits
from studio.addresses import address_of
from studio.limits import Limit
from studio.models import Interruption, Tries
from studio.services import pairing
from studio.words import GrantState, InterruptionKind
from tests import makers

NOON = datetime(2026, 3, 4, 12, tzinfo=UTC)
TEN = Limit(name="ten a minute", tries=10, seconds=60)


def taken(limit, *, times, moment=NOON, who="somebody") -> int:
    """Say how many of so many tries at one moment are let through."""
    return sum(limits.take(limit, who, moment=moment) == 0 for _ in range(times))


@pytest.mark.django_db
def test_as_many_as_the_limit_says_and_not_one_more():
    assert taken(TEN, times=30) == 10
    assert limits.take(TEN, "somebody else", moment=NOON) == 0


@pytest.mark.django_db
def test_it_says_how_long_to_wait_and_that_is_enough():
    taken(TEN, times=10)

    seconds = limits.take(TEN, "somebody", moment=NOON)

    assert seconds == 6
    assert limits.take(TEN, "somebody", moment=NOON + timedelta(seconds=seconds)) == 0
    assert limits.take(TEN, "somebody", moment=NOON + timedelta(seconds=seconds)) > 0


@pytest.mark.django_db
def test_what_went_well_is_given_back():
    for _ in range(30):
        assert limits.take(TEN, "somebody", moment=NOON) == 0
        limits.give_back(TEN, "somebody")


@pytest.mark.django_db
@pytest.mark.parametrize("is_given_back", [False, True])
def test_who_starts_anew_has_as_many_tries_as_everybody_and_no_more(is_given_back):
    limits.take(TEN, "somebody", moment=NOON)
    later = NOON if is_given_back else NOON + timedelta(hours=1)
    if is_given_back:
        for _ in range(2):
            limits.give_back(TEN, "somebody")

    assert taken(TEN, times=30, moment=later) == 10


@pytest.mark.django_db
def test_what_is_given_back_to_one_is_not_given_to_another():
    for who in ("one", "other"):
        taken(TEN, times=10, who=who)

    limits.give_back(TEN, "one")

    assert taken(TEN, times=10, who="other") == 0
    assert taken(TEN, times=10, who="one") == 1


@pytest.mark.django_db
def test_what_is_given_back_of_one_limit_is_not_given_of_another():
    other = Limit(name="ten others a minute", tries=10, seconds=60)
    for limit in (TEN, other):
        taken(limit, times=10)

    limits.give_back(TEN, "somebody")

    assert taken(other, times=10) == 0
    assert taken(TEN, times=10) == 1


@pytest.mark.django_db
def test_who_need_wait_no_longer_than_a_second_waits_one():
    taken(TEN, times=10)

    assert limits.take(TEN, "somebody", moment=NOON + timedelta(seconds=5.5)) == 1


@pytest.mark.django_db
def test_a_clock_that_is_set_back_neither_opens_nor_locks_for_ever():
    taken(TEN, times=10)

    assert limits.take(TEN, "somebody", moment=NOON - timedelta(days=1)) > 0
    assert limits.take(TEN, "somebody", moment=NOON + timedelta(minutes=1)) == 0


@pytest.mark.django_db
def test_a_try_by_a_clock_that_is_behind_gives_none_of_the_others_back():
    """Two hosts may differ; what the one counts does not drip away sooner for the other."""
    taken(TEN, times=9)

    assert limits.take(TEN, "somebody", moment=NOON - timedelta(days=1)) == 0
    assert limits.take(TEN, "somebody", moment=NOON) > 0


@pytest.mark.django_db
def test_nobody_is_named_and_what_has_dripped_away_is_forgotten():
    limits.take(TEN, "runa@example.org", moment=NOON)

    assert "runa" not in Tries.objects.get().who
    assert limits.forget_old(moment=NOON + timedelta(minutes=30)) == 0
    assert limits.forget_old(moment=NOON + timedelta(hours=2)) == 1


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(10))
def test_over_any_time_no_more_passes_than_the_limit_and_what_drips_away(seed):
    random, at, passed = Random(seed), 0, []  # noqa: S311 - seeded on purpose
    for _ in range(60):
        at += random.choice([0, 0, 0, 1, 3, 9])
        if limits.take(TEN, "one", moment=NOON + timedelta(seconds=at)) == 0:
            passed.append(at)

    for number, begins in enumerate(passed):
        for count, ends in enumerate(passed[number:], start=1):
            assert count <= TEN.tries + (ends - begins) / TEN.seconds_each


@pytest.mark.django_db(transaction=True)
def test_a_limit_holds_across_processes(figures):
    children = [_child(times=10) for _ in range(4)]

    let_through = sum(_answer(pid, end) for pid, end in children)

    assert let_through == TEN.tries
    figures.append(f"limits: 40 tries in 4 processes on {connection.vendor}: {let_through} of 10")


def _child(*, times: int) -> tuple[int, int]:
    connections.close_all()
    end, begin = os.pipe()
    pid = os.fork()
    if pid == 0:
        count = 255
        try:
            count = taken(TEN, times=times)
        finally:
            os.write(begin, bytes([count]))
            os._exit(0)
    os.close(begin)
    return pid, end


def _answer(pid: int, end: int) -> int:
    found = os.read(end, 1)
    os.close(end)
    os.waitpid(pid, 0)
    return found[0]


def asked_from(peer: str, forwarded: str = "") -> str:
    extra: dict[str, Any] = {"HTTP_X_FORWARDED_FOR": forwarded} if forwarded else {}
    return address_of(RequestFactory().get("/", REMOTE_ADDR=peer, **extra))


@pytest.mark.parametrize(
    ("peer", "forwarded", "found"),
    [
        ("203.0.113.9", "", "203.0.113.9"),
        ("203.0.113.9", "198.51.100.1", "203.0.113.9"),  # nobody we know says so
        ("127.0.0.1", "198.51.100.1", "198.51.100.1"),
        ("127.0.0.1", "192.0.2.7, 198.51.100.1", "198.51.100.1"),  # the left one can be invented
        ("127.0.0.1", "198.51.100.1, 127.0.0.1", "198.51.100.1"),
        ("127.0.0.1", "", "127.0.0.1"),
        ("127.0.0.1", "nonsense", "unknown"),
        ("", "198.51.100.1", "198.51.100.1"),  # over a socket of the same computer
        ("2001:db8:1:2:aaaa::1", "", "2001:db8:1:2::/64"),
        ("::ffff:203.0.113.9", "", "203.0.113.9"),
    ],
)
def test_only_a_listed_proxy_is_believed(peer, forwarded, found):
    assert asked_from(peer, forwarded) == found


def test_a_proxy_is_one_that_the_settings_list(settings):
    settings.PROXIES = ["10.0.0.0/8"]

    assert asked_from("10.1.2.3", "198.51.100.1") == "198.51.100.1"
    assert asked_from("127.0.0.1", "198.51.100.1") == "127.0.0.1"


@pytest.mark.django_db
def test_a_stranger_who_says_https_of_themselves_is_not_believed(settings):
    settings.SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    settings.SECURE_SSL_REDIRECT = True
    said: dict[str, Any] = {"HTTP_X_FORWARDED_PROTO": "https"}

    assert Client().get("/help", REMOTE_ADDR="203.0.113.9", **said).status_code == 301
    assert Client().get("/help", REMOTE_ADDR="127.0.0.1", **said).status_code == 200


@pytest.mark.django_db
@pytest.mark.battery
def test_guesses_from_changing_addresses_open_nothing_and_dodge_nothing(is_battery, figures):
    cases = 1000 if is_battery else 100
    nor = makers.a_student(makers.a_studio())
    makers.an_offer(nor, token="the-real-one")
    statuses, began = [], time.monotonic()

    for number in range(cases):
        invented = f"198.51.{number // 250}.{number % 250}"
        answer = Client().post(
            "/pair",
            {"token": f"guess-{number}"},
            HTTP_X_FORWARDED_FOR=invented,
            REMOTE_ADDR="203.0.113.9",
        )
        statuses.append(answer.status_code)

    dripped = (time.monotonic() - began) / limits.LINK_BY_ADDRESS.seconds_each
    looked_at = statuses.count(410)
    assert limits.LINK_BY_ADDRESS.tries <= looked_at <= limits.LINK_BY_ADDRESS.tries + dripped
    assert statuses.count(429) == cases - looked_at
    honest = Client().post("/pair", {"token": "the-real-one"}, REMOTE_ADDR="203.0.113.10")
    assert honest.status_code == 302
    figures.append(
        f"guesses at pairing: {cases}, 0 accepted, {looked_at} looked at, the honest phone pairs"
    )


@pytest.mark.django_db
def test_who_has_to_wait_reads_when_to_come_back(settings):
    for _ in range(20):
        Client().post("/pair", {"token": "x"})

    page = Client().post("/pair", {"token": "x"})

    assert page.status_code == 429
    assert 20 < int(page.headers["Retry-After"]) <= 30
    assert "Wait 1 minute, then try again." in page.content.decode()


@pytest.mark.django_db
def test_a_phone_that_files_too_much_keeps_what_it_has():
    nor = makers.a_student(makers.a_studio())
    makers.a_block(nor)
    grant = makers.a_grant(nor)
    phone = makers.a_phone(grant)
    for _ in range(limits.CHECK_IN_BY_PHONE.tries):
        limits.hold(limits.CHECK_IN_BY_PHONE, grant.grant.public_id, moment=timezone.now())

    answer = phone.post(
        f"/practice/{nor.public_id}/check-in",
        makers.the_answers(day=makers.today(nor.studio)),
        headers={"Accept": "application/json"},
    )

    assert answer.status_code == 429
    assert "Wait" in answer.json()["words"]


@pytest.mark.django_db
def test_a_stranger_can_neither_guess_a_password_nor_lock_the_teacher_out():
    teacher = makers.a_teacher(makers.a_studio(), email="runa@example.org")
    desk = Client()
    right = {"login": teacher.email, "password": makers.PASSWORD}
    assert desk.post("/sign-in", right).status_code == 302
    desk.post("/sign-out")

    for number in range(40):
        stranger: dict[str, Any] = {"REMOTE_ADDR": f"203.0.113.{number}"}
        answer = Client().post("/sign-in", right | {"password": "wrong wrong wrong"}, **stranger)
    refused = Client().post("/sign-in", right, REMOTE_ADDR="203.0.113.200")

    assert "Too many tries" in answer.content.decode()
    assert refused.status_code == 200  # even the right password, from a browser nobody knows
    assert desk.post("/sign-in", right).status_code == 302  # the teacher's own browser


@pytest.mark.django_db
def test_one_address_gets_twenty_wrong_sign_ins_an_hour_whatever_the_accounts():
    for number in range(20):
        Client().post("/sign-in", {"login": f"x{number}@example.org", "password": "wrong"})

    page = Client().post("/sign-in", {"login": "y@example.org", "password": "wrong"})

    assert "Too many tries. Wait 3 minutes" in page.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("sent_from", "status"), [("cross-site", 403), ("same-site", 403), ("same-origin", 201)]
)
def test_what_another_sites_page_sends_is_refused(sent_from, status):
    nor = makers.a_student(makers.a_studio())
    makers.a_block(nor, weekdays_off=[])
    phone = makers.a_phone(makers.a_grant(nor))

    answer = phone.post(
        f"/practice/{nor.public_id}/check-in",
        makers.the_answers(day=makers.today(nor.studio)),
        headers={"Accept": "application/json", "Sec-Fetch-Site": sent_from},
    )

    assert answer.status_code == status


@pytest.mark.django_db
def test_what_hurts_is_held_up_only_far_beyond_what_a_person_tells():
    nor = makers.a_student(makers.a_studio())
    phone = makers.a_phone(makers.a_grant(nor))

    statuses = [
        phone.post(f"/practice/{nor.public_id}/hurt", {"key": str(uuid4())}).status_code
        for _ in range(62)
    ]

    assert statuses == [201] * 60 + [429] * 2


@pytest.mark.django_db
def test_a_phone_nobody_has_confirmed_sees_no_days_but_its_own():
    nor = makers.a_student(makers.a_studio())
    block = makers.a_block(nor, weekdays_off=[])
    makers.a_check_in(nor, block=block, day=makers.today(nor.studio) - timedelta(days=1))
    mine = makers.a_grant(nor, state=GrantState.PROVISIONAL)
    makers.a_check_in(nor, block=block, grant=mine.grant)
    today = makers.today(nor.studio).isoformat()

    for page in ("", "/check-in"):
        answer = makers.a_phone(mine).get(f"/practice/{nor.public_id}{page}")
        assert list(answer.context["days"]["filed"]) == [today]


@pytest.mark.django_db
def test_what_another_phone_told_stays_hidden_from_one_nobody_has_confirmed():
    nor = makers.a_student(makers.a_studio())
    block, today = makers.a_block(nor, weekdays_off=[]), makers.today(nor.studio)
    makers.a_check_in(nor, block=block, day=today)
    makers.a_not_today(nor, day=today, reason=NoSession.ILL)
    makers.a_discomfort(nor)
    makers.an_interruption(nor, kind=InterruptionKind.ILL, confirmed_at=timezone.now())
    page, month = f"/practice/{nor.public_id}", f"/practice/{nor.public_id}/month"
    known = makers.a_phone(makers.a_grant(nor))
    waits = makers.a_phone(makers.a_grant(nor, state=GrantState.PROVISIONAL))

    answers = known.get(page), waits.get(page)

    seen, hidden = (answer.content.decode() for answer in answers)
    for word in ("Done for today.", "You said something hurt.", month):
        assert (word in seen, word in hidden) == (True, False), word
    assert [bool(answer.context["told"]) for answer in answers] == [True, False]
    assert "Ill: nothing is asked" not in hidden
    assert "Nothing is asked today." in hidden
    assert "Does something hurt? Do not play." in hidden


@pytest.mark.django_db
def test_a_phone_nobody_has_confirmed_does_not_undo_what_another_one_told():
    nor = makers.a_student(makers.a_studio())
    makers.a_block(nor, weekdays_off=[])
    page = f"/practice/{nor.public_id}/not-today"
    known = makers.a_phone(makers.a_grant(nor))
    mine = makers.a_grant(nor, state=GrantState.PROVISIONAL)
    waits = makers.a_phone(mine)

    known.post(f"{page}/ill")
    waits.post(f"{page}/take-back")
    waits.post(f"{page}/no-time")

    with scopes_disabled():
        assert [row.reason for row in NotToday.objects.all()] == ["ill"]
        assert Interruption.objects.count() == 1
        known.post(f"{page}/take-back")
        assert not Interruption.objects.exists()
        waits.post(f"{page}/no-time")
        assert NotToday.objects.get().grant == mine.grant
        waits.post(f"{page}/take-back")
        assert not NotToday.objects.exists()


@pytest.mark.django_db
def test_what_a_refused_phone_told_of_a_day_is_set_aside_until_that_is_taken_back():
    nor = makers.a_student(makers.a_studio())
    makers.a_block(nor, weekdays_off=[])
    paired, day = makers.a_grant(nor, state=GrantState.PROVISIONAL), makers.today(nor.studio)
    makers.a_phone(paired).post(f"/practice/{nor.public_id}/not-today/no-time")

    with scopes_disabled():
        before = student_month(nor, day).not_todays
        pairing.refuse_phone(paired.grant, moment=timezone.now())
        refused = student_month(nor, day).not_todays
        pairing.take_back_refusal(paired.grant, moment=timezone.now())
        after = student_month(nor, day).not_todays

    assert (list(before), list(refused), list(after)) == ([day], [], [day])


@pytest.mark.django_db
def test_a_phone_that_moves_to_itself_takes_its_limit_along():
    nor = makers.a_student(makers.a_studio())
    phone, statuses = makers.a_phone(makers.a_grant(nor)), []

    for _ in range(8):
        page = phone.post(f"/practice/{nor.public_id}/this-phone/code")
        statuses.append(page.status_code)
        if page.status_code == 200:
            phone.post("/pair", {"code": makers.code_on(page)})

    assert statuses == [200] * 6 + [429] * 2


@pytest.mark.django_db
def test_lists_that_are_added_are_held_up_and_what_was_pasted_stays(monkeypatch):
    monkeypatch.setattr(limits, "HEAVY_BY_TEACHER", Limit(name="heavy", tries=1, seconds=3600))
    desk = makers.signed_in(makers.a_teacher())
    lists = [{"text": f"{name}, horn", "add": "yes", "looked": "on"} for name in ("Nor", "Tam")]

    answers = [desk.post("/students/list", sent) for sent in lists]

    assert [answer.status_code for answer in answers] == [302, 429]
    assert int(answers[1]["Retry-After"]) > 3000
    assert "Tam" in answers[1].content.decode()
    assert "Too many tries. Wait 60 minutes, then try again." in answers[1].content.decode()
