"""From rows to the engine: the page's numbers are those of `assess` for the same facts."""

import json
from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.engine.evidence import OpenKind
from progress.engine.evidence_json import parse
from progress.engine.readiness import Outcome, assess
from progress.models import CheckIn, LessonRating
from progress.queries.evidence import evidence_of
from progress.queries.months import student_month, studio_months
from studio.models import Discomfort, Interruption, Student
from tests import makers

pytestmark = pytest.mark.django_db
DAYS = 14


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def nor():
    return makers.a_student(makers.studio_of(makers.a_teacher()), child=False)


@pytest.fixture
def today(nor):
    return makers.today(nor.studio)


@pytest.fixture
def block(nor, today):
    plan = makers.a_plan(nor, top_note=79)
    return makers.a_block(nor, plan=plan, first_day=today - timedelta(days=DAYS - 1))


def evidence_from(month):
    evidence = evidence_of(month)
    assert evidence is not None
    return evidence


def practise(nor, block, today):
    """Lay down two weeks of check-ins and two lessons; return them as `assess` reads them."""
    check_ins: list[dict[str, Any]] = []
    lessons: list[dict[str, Any]] = []
    for number in range(DAYS):
        day = today - timedelta(days=DAYS - 1 - number)
        ratings: dict[str, Any] = {
            "attack": 4,
            "sound": 3 + number % 3,
            "evenness": 4,
            "release": 5 if number % 2 else 4,
        }
        evening = datetime.combine(day, time(18), tzinfo=ZoneInfo(nor.studio.time_zone))
        makers.a_check_in(
            nor, block=block, day=day, effort=6, seconds=420, completed=1.0, high_note=76,
            done_at=evening, received_at=evening, **ratings,
        )  # fmt: skip
        check_ins.append(
            {
                "day": day.isoformat(), "filed": day.isoformat(),
                "ratings": list(ratings.values()), "effort": 6, "minutes": 7, "completed": 1.0,
                "discomfort": "none", "high": 76 - 67, "trouble": None,
            }
        )  # fmt: skip
    for ago in (9, 2):
        day = today - timedelta(days=ago)
        LessonRating.objects.create(
            student=nor, block=block, day=day, filed_on=day,
            attack=4, sound=4, evenness=5, release=4,
        )  # fmt: skip
        lessons.append({"day": day.isoformat(), "ratings": [4, 4, 5, 4]})
    # Trumpet G4 down to F#3, restart, up to G5: 27 notes (product's own worked example).
    plan = {
        "start": (today - timedelta(days=DAYS - 1)).isoformat(), "days": 28, "days_per_week": 6,
        "minutes": 7, "notes": 27, "hold": 8, "rest": 8, "tempo": 60, "top_target": 12,
        "aim": None, "child": False,
    }  # fmt: skip
    return {"id": "nor", "block": plan, "checkins": check_ins, "lessons": lessons}


def test_the_page_and_the_command_come_to_the_same(nor, block, today):
    facts = practise(nor, block, today)

    from_rows = assess(evidence_from(student_month(nor, today)), today)
    from_text = assess(parse(json.dumps(facts)).evidence, today)

    assert from_rows == from_text
    assert from_rows.is_readable


def test_the_studio_reads_the_same_evidence_as_the_students_page(nor, block, today):
    practise(nor, block, today)

    (month,) = studio_months(Student.objects.filter(pk=nor.pk), today)

    assert evidence_from(month) == evidence_from(student_month(nor, today))


def test_a_discomfort_of_the_session_counts_as_pain_and_eases_off(nor, block, today):
    practise(nor, block, today)
    makers.a_discomfort(nor, day=today, in_session=True, how_much="")

    evidence = evidence_from(student_month(nor, today))

    assert [thing.kind for thing in evidence.open_things] == [OpenKind.DISCOMFORT]
    assert assess(evidence, today).outcome is Outcome.EASE_OFF


def test_a_mouth_event_starts_the_evidence_anew(nor, block, today):
    practise(nor, block, today)
    braces = today - timedelta(days=4)
    Interruption.objects.create(
        student=nor, kind="mouth", first_day=braces, last_day=braces, confirmed_at=None
    )

    evidence = evidence_from(student_month(nor, today))

    assert evidence.block.since == braces
    assert assess(evidence, today).outcome is Outcome.TOO_LITTLE


def test_an_open_top_is_as_long_as_the_notes_that_were_good(nor, today):
    open_block = makers.a_block(nor, first_day=today - timedelta(days=5))
    for ago, note in enumerate((74, 76, 72, 74, 79)):
        makers.a_check_in(nor, block=open_block, day=today - timedelta(days=ago), high_note=note)

    evidence = evidence_from(student_month(nor, today))

    # Down 14 notes, then from G4 up to the median, D5: 8 notes.
    assert evidence.block.notes == 14 + 8
    assert evidence.block.top_target is None


def test_before_a_block_begins_there_is_nothing_to_assess(nor, today):
    makers.a_block(nor, first_day=today + timedelta(days=3))

    assert evidence_of(student_month(nor, today)) is None


def ago(days: int, today):
    return today - timedelta(days=days)


def close_all() -> None:
    Discomfort.objects.update(closed_at=timezone.now())


def outcome(nor, today) -> Outcome:
    return assess(evidence_from(student_month(nor, today)), today).outcome


def test_pain_after_the_blocks_last_day_still_holds_back_once_it_is_closed(nor, block, today):
    practise(nor, block, today)
    block.ended_on = ago(2, today)
    block.save()
    makers.a_discomfort(nor, day=ago(1, today), how_much="pain")
    close_all()

    assert outcome(nor, today) is Outcome.EASE_OFF


def test_a_mild_check_in_does_not_hide_a_pain_of_the_same_day(nor, block, today):
    practise(nor, block, today)
    makers.a_discomfort(nor, day=today, in_session=True, how_much="")
    close_all()
    CheckIn.objects.filter(day=today).update(discomfort="mild")

    assert outcome(nor, today) is Outcome.EASE_OFF


def test_three_taps_on_one_day_count_once_and_are_no_late_check_ins(nor, block, today):
    practise(nor, block, today)
    for _ in range(3):
        makers.a_discomfort(nor, day=ago(9, today), in_session=True, how_much="")
    close_all()

    found = assess(evidence_from(student_month(nor, today)), today)

    assert found.outcome is not Outcome.EASE_OFF
    assert found.late == 0


def test_pain_in_the_week_before_a_block_holds_back_on_both_pages(nor, today):
    makers.a_block(nor, first_day=today)
    makers.a_discomfort(nor, day=ago(3, today), how_much="pain")
    close_all()

    (listed,) = studio_months(Student.objects.filter(pk=nor.pk), today)

    assert outcome(nor, today) is Outcome.EASE_OFF
    assert evidence_of(listed) == evidence_of(student_month(nor, today))


def test_a_day_that_was_filed_twice_is_one_day_of_evidence_with_the_later_answers(
    nor, block, today
):
    evening = datetime.combine(today, time(18), tzinfo=ZoneInfo(nor.studio.time_zone))
    for hours, sound in ((0, 2), (1, 4)):
        done = evening + timedelta(hours=hours)
        makers.a_check_in(
            nor, block=block, day=today, sound=sound, seconds=420, done_at=done, received_at=done
        )

    evidence = evidence_from(student_month(nor, today))

    assert [(row.day, row.ratings[1]) for row in evidence.check_ins] == [(today, 4)]
