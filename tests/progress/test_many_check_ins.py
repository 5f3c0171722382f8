"""Many check-ins by many ways: seeded runs against the real views, each counted at its end.

Every run draws its steps from its own seed, so what failed can be run again. The reckoning beside
each rule is the plainest there is: a dictionary of what was sent, and the latest of each day.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from random import Random
from typing import Any
from urllib.parse import urlencode
from uuid import UUID
from zoneinfo import available_timezones

import pytest
import time_machine
from django.db import transaction
from django.test import Client
from django_scopes import scopes_disabled

from progress.models import CheckIn
from progress.queries.months import student_month
from progress.queries.my_month import kind_words_of
from studio.access import practice_day
from studio.models import Student
from tests import makers

pytestmark = [pytest.mark.django_db, pytest.mark.battery]
NOW = datetime(2026, 3, 20, 18, 0, tzinfo=UTC)
DAY = timedelta(days=1)
FORM = "application/x-www-form-urlencoded"
OTHERS = {
    "attack": "1", "sound": "1", "evenness": "1", "release": "1", "effort": "10",
    "words": "other words", "seconds": "77", "share": "0.25", "stopped_because": "tired",
    "trouble": "high", "zone": "Asia/Tokyo", "utc_offset_minutes": "540", "high_note": "79",
}  # fmt: skip


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled(), time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def pair():
    """Two students of a studio, each in the fourth week of a block."""
    studio = makers.a_studio()
    students = [makers.a_student(studio, name=name) for name in ("Nor", "Sam")]
    for student in students:
        makers.a_block(student, first_day=NOW.date() - 20 * DAY, weekdays_off=[])
    return students


def runs(seed: int, number: int) -> Iterator[Random]:
    """Draw from one seed a run, and forget what a run wrote."""
    for one in range(1000 * seed, 1000 * seed + number):
        with transaction.atomic():
            yield Random(one)  # noqa: S311 - the same steps from the same seed
            transaction.set_rollback(True)


def send(phone: Client, student: Student, body: str) -> Any:
    path, headers = f"/practice/{student.public_id}/check-in", {"Accept": "application/json"}
    return phone.post(path, body, content_type=FORM, headers=headers)


def drawn(random: Random, number: int) -> dict[str, str]:
    """Draw a check-in that is told apart from all others by its words."""
    ago = timedelta(days=random.randrange(4), minutes=random.randrange(600))
    ratings = {name: random.randint(1, 5) for name in ("attack", "sound", "evenness", "release")}
    return makers.the_answers(
        **ratings,
        key=str(UUID(int=random.getrandbits(128), version=4)),
        day=(NOW - ago).date(),
        done_at=(NOW - ago).isoformat(),
        words=f"number {number}",
    )


def test_whatever_the_net_does_each_check_in_is_there_once(pair, is_battery, seed, figures):
    # Each of two phones is set up for both students. A post gets lost, or its reply does, or it
    # comes twice, or all of them come in any order, until each has been echoed once.
    number = 2000 if is_battery else 10
    phones = [makers.a_phone(*(makers.a_grant(student) for student in pair)) for _ in range(2)]
    posts = 0

    for random in runs(seed, number):
        waits = [
            (random.choice(phones), random.choice(pair), drawn(random, one))
            for one in range(random.randint(1, 6))
        ]
        told = {fields["key"]: (student.pk, fields["words"]) for _, student, fields in waits}
        while waits:
            phone, student, fields = random.choice(waits)
            how = random.choice(["the request is lost", "the reply is lost", "twice", "well"])
            if how == "the request is lost":
                continue
            body = urlencode(fields)
            for _ in range(2 if how == "twice" else 1):
                answer, posts = send(phone, student, body), posts + 1
                assert answer.status_code in {200, 201}, answer.content
                assert answer.json()["key"] == fields["key"]
            if how != "the reply is lost":
                waits.remove((phone, student, fields))
            stored = CheckIn.objects.count()
            assert len(told) <= stored + len(waits), "vanished"
            assert stored <= len(told), "doubled"

        rows = CheckIn.objects.values_list("key", "student_id", "words")
        assert {str(key): (student, words) for key, student, words in rows} == told
        assert len(rows) == len(told)

    figures.append(
        f"two phones, two students, {number} runs from seed {1000 * seed}: {posts} posts; "
        "0 lost, 0 doubled, 0 vanished"
    )


def test_other_answers_under_a_key_never_replace_the_first(pair, is_battery, seed, figures):
    nor, number = pair[0], 50 if is_battery else len(OTHERS)
    phone = makers.a_phone(makers.a_grant(nor))

    for at, random in enumerate(runs(seed, number)):
        fields = drawn(random, at) | {"attack": "4", "sound": "4", "evenness": "4", "release": "4"}
        changed = list(OTHERS)[at % len(OTHERS)]
        first = send(phone, nor, urlencode(fields))
        before = CheckIn.objects.values().get()

        answer = send(phone, nor, urlencode(fields | {changed: OTHERS[changed]}))

        assert (first.status_code, answer.status_code) == (201, 409), changed
        assert "saved" in answer.json()["words"]
        assert CheckIn.objects.values().get() == before, changed

    figures.append(f"other answers under one key, {number} runs: {number} refused, 0 replaced")


def test_a_day_counts_once_and_every_answer_of_it_is_kept(pair, is_battery, seed, figures):
    nor, number = pair[0], 200 if is_battery else 10
    phones = [makers.a_phone(makers.a_grant(nor)) for _ in range(2)]
    sent = 0

    for random in runs(seed, number):
        told = [drawn(random, one) for one in range(random.randint(2, 8))]
        for fields in told:
            assert send(random.choice(phones), nor, urlencode(fields)).status_code == 201
        sent += len(told)
        # Later entries of the dictionary replace earlier ones, so the latest of each day is left.
        ordered = sorted(told, key=lambda one: one["done_at"])
        latest = {one["day"]: one["words"] for one in ordered}

        month = student_month(nor, NOW.date())

        found = {str(day): row.words for day, row in month.check_ins.items()}
        assert found == latest
        older = [row.words for rows in month.revisions.values() for row in rows]
        assert sorted([*older, *found.values()]) == sorted(one["words"] for one in told)
        assert kind_words_of(month)[0].figure == len(latest)
        assert {str(day) for day in month.filed_days} == set(latest)

    figures.append(
        f"a day from two phones, {number} runs: {sent} check-ins kept, each day counted once"
    )


def test_no_day_moves_however_clocks_and_studios_do(pair, is_battery, seed, figures):
    nor, number = pair[0], 200 if is_battery else 10
    zones = sorted(available_timezones() - {"localtime", "posixrules", "Factory"})
    phone, studio = makers.a_phone(makers.a_grant(nor)), nor.studio

    for random in runs(seed, number):
        chosen: dict[str, date] = {}
        for one in range(random.randint(1, 4)):
            fields = drawn(random, one) | {"zone": random.choice(zones)}
            chosen[fields["words"]] = date.fromisoformat(fields["day"])
            # It is sent later, and by then the teacher may have moved.
            studio.time_zone = random.choice(zones)
            studio.save()
            assert send(phone, nor, urlencode(fields)).status_code == 201
        totals = len(student_month(nor, NOW.date()).check_ins)
        studio.time_zone, studio.day_ends_at = random.choice(zones), f"0{random.randrange(7)}:00"
        studio.save()
        studio.refresh_from_db()

        month = student_month(nor, NOW.date())

        assert {row.words: row.day for row in CheckIn.objects.all()} == chosen
        assert set(month.check_ins) == month.filed_days == set(chosen.values())
        assert len(month.check_ins) == totals
        assert practice_day(studio, NOW) in {NOW.date() + number * DAY for number in (-1, 0, 1)}

    figures.append(f"journeys and studios that move, {number} runs: 0 days moved")
