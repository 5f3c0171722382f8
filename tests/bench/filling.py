"""``python -m tests.bench.filling``: fill the database of DATABASE_URL with invented practice.

One studio is the one that is looked at; others stand beside it until the check-ins come to the
number asked for. The same seed makes the same answers. Prints, as JSON, what a client needs to
come in: addresses, and the cookies of one teacher and of every student's phone.
"""

import argparse
import json
import sys
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from itertools import islice
from random import Random
from typing import Any
from uuid import UUID

import django

SEED = 20261
STUDENTS = 60
MONTH_DAYS = 28
# What the months asked for, from the one that runs backwards and again from the start: common
# practice, no published source. Somebody who repeats one plan for years stands out on the overview.
VARIANTS = ("baseline", "endurance", "recovery", "compact")
OTHERS_MONTHS = 24
CHUNK = 4000


def main() -> None:
    """Migrate, fill an empty database, and print the way in."""
    parser = argparse.ArgumentParser(description="Fill a database with invented practice.")
    parser.add_argument("--months", type=int, default=24)
    parser.add_argument("--check-ins", type=int, default=0)
    parser.add_argument("--seed", type=int, default=SEED)
    asked = parser.parse_args()
    django.setup()
    from django.core.management import call_command  # noqa: PLC0415 - needs the set-up

    call_command("migrate", interactive=False, verbosity=0)
    json.dump(fill(asked.months, asked.check_ins, asked.seed), sys.stdout)


def fill(months: int, check_ins: int, seed: int) -> dict[str, Any]:
    """Make the studio, and others beside it until there are `check_ins` rows."""
    from django.db import transaction  # noqa: PLC0415
    from django_scopes import scopes_disabled  # noqa: PLC0415

    from progress.models import CheckIn  # noqa: PLC0415
    from studio.models import Studio  # noqa: PLC0415
    from tests.bench.copies import copy_studio  # noqa: PLC0415

    random = Random(seed)  # noqa: S311 - invented people, no secrets
    # One transaction a database: the disk is waited for once.
    with scopes_disabled(), transaction.atomic():
        studio = Studio.objects.create(name="North Street Brass", time_zone="UTC")
        people = _students(studio, months, random)
        there, number = CheckIn.objects.count(), 1
        if there < check_ins:
            other = Studio.objects.create(name="Another studio", time_zone="UTC")
            _students(other, OTHERS_MONTHS, random)
            each = CheckIn.objects.count() - there
            times = max(0, -(-(check_ins - there) // each) - 1)
            copy_studio(other, times)
            there, number = CheckIn.objects.count(), 2 + times
        found = _way_in(studio, people)
        found |= {"check_ins": there, "studios": number, "months": months}
    _look_at_the_tables()
    return found


def _look_at_the_tables() -> None:
    """Let PostgreSQL count its rows, as it does by itself after a while; SQLite never does."""
    from django.db import connection  # noqa: PLC0415

    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _students(studio: Any, months: int, random: Random) -> list[Any]:
    """Make the students of a studio with a block a month, the last one running."""
    from django.utils import timezone  # noqa: PLC0415

    from progress.models import CheckIn, LessonRating  # noqa: PLC0415
    from routines.models import Block, BlockVersion  # noqa: PLC0415
    from studio.models import Student  # noqa: PLC0415

    now = timezone.now()
    people = Student.objects.bulk_create(
        Student(
            studio=studio,
            name=f"Student {number}",
            instrument="trumpet_bb",
            consent_on=date(2026, 1, 10),
        )
        for number in range(STUDENTS)
    )
    blocks = Block.objects.bulk_create(
        Block(
            student=student,
            instrument=student.instrument,
            # The month that runs began three days to three weeks ago.
            first_day=now.date() - timedelta(days=3 + place % 19 + MONTH_DAYS * back),
            length_days=MONTH_DAYS,
            weekdays_off=[6],
            variant=VARIANTS[back % len(VARIANTS)],
            batch=f"{student.pk:08d}{back:08d}",
            made_at=now,
        )
        for place, student in enumerate(people)
        for back in range(months)
    )
    versions = BlockVersion.objects.bulk_create(_version(block) for block in blocks)
    rows = _check_ins(versions, now, random)
    while chunk := list(islice(rows, CHUNK)):
        CheckIn.objects.bulk_create(chunk)
    LessonRating.objects.bulk_create(
        LessonRating(
            student=block.student,
            block=block,
            day=day,
            filed_on=day,
            **{name: random.randint(2, 5) for name in ("attack", "sound", "evenness", "release")},
        )
        for block in blocks
        for day in (block.first_day + timedelta(days=week) for week in (5, 12, 19, 26))
        if day <= now.date()
    )
    return people


def _version(block: Any) -> Any:
    from routines.engine.instruments import by_id  # noqa: PLC0415
    from routines.engine.plan import baseline  # noqa: PLC0415
    from routines.engine.variants import Variant, apply  # noqa: PLC0415
    from routines.models import BlockVersion  # noqa: PLC0415

    asked = apply(Variant(block.variant), baseline(by_id(block.instrument)))
    return BlockVersion(
        block=block,
        from_day=block.first_day,
        start_note=asked.start_note,
        low_note=asked.low_note,
        top_note=asked.top_note,
        back=asked.back,
        hold=asked.hold,
        rest=asked.rest,
        tempo=asked.tempo,
        dynamics="mf",
        made_at=block.made_at,
    )


def _check_ins(versions: list[Any], now: datetime, random: Random) -> Iterator[Any]:
    from progress.models import CheckIn  # noqa: PLC0415

    for version in versions:
        block = version.block
        for number in range(MONTH_DAYS):
            day = block.first_day + timedelta(days=number)
            if day >= now.date() or day.weekday() == 6:
                continue
            done = datetime.combine(day, time(18, random.randrange(60)), now.tzinfo)
            level = random.choice((3, 4, 4, 5))
            yield CheckIn(
                student=block.student,
                block=block,
                version=version,
                key=UUID(int=random.getrandbits(128)),
                day=day,
                done_at=done,
                received_at=done,
                utc_offset_minutes=0,
                attack=level,
                sound=min(5, level + random.randrange(2)),
                evenness=max(1, level - random.randrange(2)),
                release=level,
                effort=random.choice((4, 6, 6, 8)),
                discomfort="none",
                high_note=version.start_note + random.randrange(5, 12),
                completed=1.0,
                seconds=random.randrange(500, 900),
            )


def _way_in(studio: Any, people: list[Any]) -> dict[str, Any]:
    """Sign a teacher in and set a phone up for every student."""
    from django.conf import settings  # noqa: PLC0415
    from django.test import Client  # noqa: PLC0415
    from django.utils import timezone  # noqa: PLC0415

    from routines.models import Block  # noqa: PLC0415
    from studio import secrets  # noqa: PLC0415
    from studio.models import Grant, Membership, User  # noqa: PLC0415

    now = timezone.now()
    teacher = User.objects.create_user(f"teacher{studio.pk}@example.org", None, name="Runa")
    Membership.objects.create(studio=studio, user=teacher, role="owner")
    client = Client()
    client.force_login(teacher)
    held = [secrets.new_secret() for _ in people]
    grants = Grant.objects.bulk_create(
        Grant(
            student=student,
            state="confirmed",
            kind="student",
            secret_hash=secrets.hashed(secret),
            secret_is_new=True,
            label="Android phone",
            made_at=now - timedelta(days=20),
            confirmed_at=now - timedelta(days=19),
            last_day=now.date(),
            expires_at=now + timedelta(days=300),
        )
        for student, secret in zip(people, held, strict=True)
    )
    running, ending = (
        Block.objects.filter(student=people[place]).order_by("-first_day")[0] for place in (0, 18)
    )
    return {
        "session": [settings.SESSION_COOKIE_NAME, client.session.session_key],
        "phone_cookie": settings.PHONE_COOKIE_NAME,
        "csrf_cookie": settings.CSRF_COOKIE_NAME,
        "students": [student.public_id for student in people],
        "phones": [f"{row.public_id}.{secret}" for row, secret in zip(grants, held, strict=True)],
        "block": running.public_id,
        "ending": ending.public_id,
    }


if __name__ == "__main__":
    main()
