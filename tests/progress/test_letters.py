"""Letters: read as mail programs read them (RFC 5322, RFC 8058), by Python's own mail parser.

What may stand in them is a rule of this program: first names and links, no word on health.
"""

import email
import email.policy
import json
import multiprocessing
import re
from datetime import UTC, datetime, timedelta
from smtplib import SMTPServerDisconnected
from typing import Any
from unittest.mock import Mock
from uuid import uuid4

import pytest
from django.core import mail
from django.core.mail.backends.locmem import EmailBackend
from django.core.management import call_command
from django.db import connection, connections, transaction
from django.urls import reverse
from django_scopes import scopes_disabled

from progress.services.planned_letters import plan_letters
from studio import letter_stop
from studio.mail import Sent, invite
from studio.models import Letter, Membership, Student
from studio.services import letters, team
from studio.services.wellbeing import open_discomfort
from studio.words import Role
from tests import makers

pytestmark = pytest.mark.django_db
MONDAY = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
EVENING = datetime(2026, 3, 5, 17, 0, tzinfo=UTC)
UNWELL = ("hurt", "hurts", "pain", "lip", "lips", "ill", "sick", "jaw", "ache", "doctor")


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def teacher():
    return makers.a_teacher(name="Runa", email="runa@example.org")


@pytest.fixture
def nor(teacher):
    return makers.a_student(
        makers.studio_of(teacher), parent_email="family@example.org", remind_parent=True
    )


@pytest.fixture
def block(nor):
    return makers.a_block(nor, first_day=EVENING.date() - timedelta(days=6), weekdays_off=[])


def hurt(student, moment=EVENING, **told):
    key = uuid4()
    return open_discomfort(student, key=key, day=moment.date(), moment=moment, **told)


def as_sent(number=0):
    return email.message_from_bytes(
        mail.outbox[number].message().as_bytes(), policy=email.policy.default
    )


def test_what_hurt_makes_one_letter_a_day_to_the_students_teacher(teacher, nor):
    other = makers.a_teacher(nor.studio, email="other@example.org")
    nor.teacher = teacher
    nor.save()

    for _ in range(5):
        hurt(nor)
    hurt(nor, EVENING + timedelta(days=1))

    assert [row.to for row in Letter.objects.all()] == ["runa@example.org"] * 2
    assert other.email not in {row.to for row in Letter.objects.all()}


def test_without_a_teacher_of_their_own_all_are_told_but_cover_teachers(teacher, nor):
    makers.a_teacher(nor.studio, email="other@example.org")
    makers.a_teacher(nor.studio, email="cover@example.org", role=Role.COVER)
    makers.a_teacher(nor.studio, email="quiet@example.org")
    Membership.objects.filter(user__email="quiet@example.org").update(letters_at_once=False)

    hurt(nor)

    assert {row.to for row in Letter.objects.all()} == {"runa@example.org", "other@example.org"}


def test_no_letter_says_a_word_of_health(teacher, nor, block):
    hurt(nor)
    ada = makers.a_student(nor.studio, parent_email="ada@example.org", remind_parent=True)
    makers.a_block(ada, first_day=block.first_day, weekdays_off=[])
    plan_letters(EVENING)
    plan_letters(MONDAY + timedelta(days=7))
    letters.send_waiting(MONDAY + timedelta(days=7))

    assert sorted(sent.to[0].split("@")[0] for sent in mail.outbox) == ["ada", "runa", "runa"]
    for sent in mail.outbox:
        words = set(re.findall(r"[a-z]+", f"{sent.subject} {sent.body}".lower()))
        assert words & set(UNWELL) == set()


def test_the_letter_is_there_only_if_its_cause_is(nor, monkeypatch):
    def told_and_broken_off():
        with transaction.atomic():
            hurt(nor)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        told_and_broken_off()

    assert Letter.objects.count() == 0


@pytest.mark.parametrize(
    ("moment", "count"),
    [
        (MONDAY, 1),
        (MONDAY.replace(hour=6, minute=59), 0),
        (MONDAY.replace(hour=23), 1),
        (MONDAY + timedelta(days=1), 0),
    ],
)
def test_the_monday_letter_comes_on_mondays_by_the_studios_clocks(nor, block, moment, count):
    for _ in range(3):
        plan_letters(moment)

    assert Letter.objects.filter(key__startswith="monday").count() == count


def test_monday_is_the_studios_monday(nor, block):
    nor.studio.time_zone = "Pacific/Auckland"
    nor.studio.save()

    plan_letters(datetime(2026, 3, 1, 19, 0, tzinfo=UTC))  # Monday, 8 in the morning there

    assert Letter.objects.filter(key__startswith="monday").count() == 1


def test_the_monday_letter_names_whom_to_look_in_on(nor, block, settings):
    quiet = makers.a_student(nor.studio, name="Ada")
    makers.a_block(quiet, first_day=MONDAY.date() - timedelta(days=25))

    plan_letters(MONDAY)

    body = Letter.objects.get(key__startswith="monday").body
    assert "Look in on: Ada" in body
    assert "Month ending: Ada" in body
    assert f"{settings.ADDRESS}/overview" in body


def test_a_parent_is_reminded_once_a_week_after_four_quiet_days(nor, block):
    for minutes in range(0, 180, 60):
        plan_letters(EVENING + timedelta(minutes=minutes))

    letter = Letter.objects.get(key__startswith="reminder")
    assert letter.to == "family@example.org"


@pytest.mark.parametrize(
    "why",
    ["not asked", "no address", "news", "hurt", "away", "day off", "archived", "night", "over"],
)
def test_nobody_is_reminded_where_it_would_be_wrong(nor, block, why):
    today = EVENING.date()
    changed: dict[str, dict[str, Any]] = {
        "not asked": {"remind_parent": False},
        "no address": {"parent_email": ""},
    }
    changed["archived"] = {"archived_on": today}
    if why in changed:
        Student.objects.filter(pk=nor.pk).update(**changed[why])
    if why == "news":
        makers.a_check_in(nor, block=block, day=today - timedelta(days=4))
    if why == "hurt":
        hurt(nor)
    if why == "away":
        makers.an_interruption(nor, kind="away", first_day=today - timedelta(days=1))
    if why == "day off":
        block.weekdays_off = [today.weekday()]
        block.save()
    if why == "over":
        block.ended_on = today - timedelta(days=1)
        block.save()

    plan_letters(EVENING.replace(hour=3) if why == "night" else EVENING)

    assert not Letter.objects.filter(key__startswith="reminder").exists()


def test_one_press_stops_a_parents_reminders_and_opening_the_link_does_not(nor, block, client):
    plan_letters(EVENING)
    stop = Letter.objects.get().stop
    path = stop.removeprefix("http://127.0.0.1:8000")

    page = client.get(path)
    nor.refresh_from_db()
    assert nor.remind_parent is True
    assert "Nor" not in page.content.decode()
    answer = client.post(path, {"List-Unsubscribe": "One-Click"})

    nor.refresh_from_db()
    assert (answer.status_code, nor.remind_parent, Letter.objects.count()) == (200, False, 0)


def test_the_link_in_a_monday_letter_stops_that_teachers_alone(teacher, nor, block, client):
    other = makers.a_teacher(nor.studio)
    plan_letters(MONDAY)
    place = makers.place_of(teacher)
    stop = letter_stop.address("member", place.public_id)

    answer = client.post(stop.removeprefix("http://127.0.0.1:8000"))

    assert answer.status_code == 200
    assert not makers.place_of(teacher).letters_on_mondays
    assert makers.place_of(other).letters_on_mondays
    waiting = Letter.objects.filter(key__startswith="monday").values_list("to", flat=True)
    assert list(waiting) == [other.email]


@pytest.mark.parametrize("token", ["x", "WyJzdHVkZW50IiwiYWJjIl0:1abc:zzz"])
def test_a_link_that_the_site_has_not_signed_stops_nothing(nor, client, token):
    answer = client.post(reverse("studio:stop_letters", args=[token]))

    nor.refresh_from_db()
    assert (answer.status_code, nor.remind_parent) == (410, True)


def test_a_mail_program_reads_the_letter_and_finds_how_to_stop_it(nor, block):
    nor.studio.name = "North\r\nBcc: thief@example.org"
    nor.studio.save()
    plan_letters(EVENING)

    assert letters.send_waiting(EVENING) == {"sent": 1, "waiting": 0}

    read = as_sent()
    assert read["To"] == "family@example.org"
    assert read["Bcc"] is None
    assert read["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert read["List-Unsubscribe"].strip().startswith("<http")
    assert read.get_content_type() == "text/plain"


def test_a_server_that_is_down_stops_nothing_and_loses_nothing(nor, block, monkeypatch):
    plan_letters(EVENING)

    def refuse(self, messages):
        raise SMTPServerDisconnected

    with monkeypatch.context() as down:
        down.setattr(EmailBackend, "send_messages", refuse)
        assert letters.send_waiting(EVENING) == {"sent": 0, "waiting": 1}
        assert letters.send_waiting(EVENING) == {"sent": 0, "waiting": 0}
        letter = Letter.objects.get()
        assert letter.next_try_at == EVENING + timedelta(minutes=1)
        assert letters.send_waiting(EVENING + timedelta(minutes=1))["waiting"] == 1
    later = EVENING + timedelta(minutes=6)
    assert letters.send_waiting(later) == {"sent": 1, "waiting": 0}
    assert len(mail.outbox) == 1


def test_a_server_that_does_not_answer_is_asked_once_for_all_letters(nor, monkeypatch):
    for number in range(9):
        letters.write(
            nor.studio, key=f"k{number}", to="a@example.org", subject="s", body="b", moment=EVENING
        )
    asked = []

    def silent(self):
        asked.append(self)
        raise TimeoutError

    with monkeypatch.context() as down:
        down.setattr(EmailBackend, "open", silent)
        assert letters.send_waiting(EVENING) == {"sent": 0, "waiting": 9}

    assert len(asked) == 1
    assert letters.send_waiting(EVENING + timedelta(minutes=1)) == {"sent": 9, "waiting": 0}


def test_a_letter_that_cannot_be_written_keeps_no_other_back(nor):
    for key, to in (("odd", "a@example.org\nBcc: b@example.org"), ("good", "c@example.org")):
        letters.write(nor.studio, key=key, to=to, subject="s", body="b", moment=EVENING)

    assert letters.send_waiting(EVENING) == {"sent": 1, "waiting": 1}

    assert mail.outbox[0].to == ["c@example.org"]


def test_a_timer_that_comes_every_minute_works_a_letter_out_once(nor, block, monkeypatch):
    plan_letters(MONDAY + timedelta(days=7))
    plan_letters(EVENING)
    look = Mock(return_value=[])
    monkeypatch.setattr("progress.services.planned_letters.studio_months", look)

    plan_letters(MONDAY + timedelta(days=7, minutes=1))
    plan_letters(EVENING + timedelta(minutes=1))

    assert Letter.objects.count() == 2
    look.assert_not_called()


def test_what_was_sent_is_not_sent_again_and_goes_after_a_month(nor, block):
    plan_letters(EVENING)
    letters.send_waiting(EVENING)

    letters.send_waiting(EVENING + timedelta(days=1))
    assert (len(mail.outbox), Letter.objects.count()) == (1, 1)
    letters.send_waiting(EVENING + timedelta(days=31))
    assert (len(mail.outbox), Letter.objects.count()) == (1, 0)


def test_what_a_process_took_and_did_not_send_is_sent_by_another(nor, block, monkeypatch):
    plan_letters(EVENING)
    number = Letter.objects.get().pk
    assert letters._take(number, EVENING) is not None

    assert letters.send_waiting(EVENING + timedelta(minutes=4))["sent"] == 0
    assert letters.send_waiting(EVENING + timedelta(minutes=5))["sent"] == 1


def _take_all(numbers, moment, taken):
    connections.close_all()
    with scopes_disabled():
        taken.put([number for number in numbers if letters._take(number, moment)])
    connections.close_all()


@pytest.mark.django_db(transaction=True)
def test_of_two_processes_each_letter_is_taken_by_one(nor):
    for number in range(25):
        letters.write(
            nor.studio, key=f"k{number}", to="a@example.org", subject="s", body="b", moment=EVENING
        )
    numbers = list(Letter.objects.values_list("pk", flat=True))
    connection.close()
    fork = multiprocessing.get_context("fork")
    taken = fork.Queue()
    workers = [fork.Process(target=_take_all, args=(numbers, EVENING, taken)) for _ in range(3)]
    for worker in workers:
        worker.start()
    found = [number for _worker in workers for number in taken.get(timeout=60)]
    for worker in workers:
        worker.join()

    assert sorted(found) == sorted(numbers)


def test_the_command_does_all_of_it_and_says_how_many(nor, block, capsys, time_machine):
    time_machine.move_to(EVENING, tick=False)

    call_command("send_letters")

    assert json.loads(capsys.readouterr().out) == {"sent": 1, "waiting": 0}


def test_a_teacher_chooses_which_letters_come(teacher, nor, block):
    browser = makers.signed_in(teacher)

    browser.post(reverse("studio:settings_letters"), {"letters_at_once": "on"})

    place = Membership.objects.get(user=teacher)
    assert (place.letters_at_once, place.letters_on_mondays) == (True, False)
    plan_letters(MONDAY)
    assert not Letter.objects.filter(key__startswith="monday").exists()


def test_a_reminder_without_an_address_is_refused_on_the_form(teacher, nor):
    page = reverse("routines:change_student", args=[nor.public_id])
    browser = makers.signed_in(teacher)
    form = browser.get(page).context["form"]
    given = {name: form[name].value() or "" for name in form.fields}

    answer = browser.post(page, given | {"parent_email": "", "remind_parent": "on", "child": "yes"})

    assert "leave the reminder off" in answer.content.decode()


def test_what_waits_for_a_teacher_who_is_taken_out_goes_to_those_who_stay(teacher, nor):
    owner = makers.a_teacher(nor.studio, email="owner@example.org", role=Role.OWNER)
    nor.teacher = teacher
    nor.save()
    hurt(nor)
    plan_letters(MONDAY)

    team.end_membership(makers.place_of(teacher), by=makers.place_of(owner), moment=EVENING)

    at_once, monday = ([row.to for row in Letter.objects.filter(key__startswith=kind)]
                       for kind in ("at-once", "monday"))  # fmt: skip
    assert (at_once, monday) == (["owner@example.org"], ["owner@example.org"])


def test_on_a_public_site_without_a_mail_server_letters_wait_and_nothing_is_printed(
    nor, settings, capsys
):
    settings.EMAIL_BACKEND = "studio.mail.NoServer"
    letters.write(
        nor.studio, key="k", to="a@example.org", subject="s", body=nor.name, moment=EVENING
    )
    owner = makers.place_of(makers.a_teacher(nor.studio, role=Role.OWNER))
    made = team.invite_teacher(
        owner, role=Role.TEACHER, ends_on=None, email="bea@example.org", moment=EVENING
    )

    assert letters.send_waiting(EVENING) == {"sent": 0, "waiting": 1}
    assert invite(made, link=f"/join#{made.token}") == Sent.FAILED
    assert capsys.readouterr().out == ""


def test_a_letter_that_no_server_took_in_thirty_days_is_kept_no_longer(nor, settings):
    settings.EMAIL_BACKEND = "studio.mail.NoServer"
    for key, age in (("old", 31), ("young", 29)):
        letters.write(
            nor.studio, key=key, to="a@example.org", subject="s", body="b",
            moment=EVENING - timedelta(days=age),
        )  # fmt: skip

    letters.send_waiting(EVENING)

    assert [row.key for row in Letter.objects.all()] == ["young"]
