"""What comes next: the decision and its block, both or neither, and taking both back."""

from dataclasses import replace
from datetime import datetime, timedelta
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.engine.choices import Choice
from progress.models import Decision
from progress.queries.decisions import review_list, word_to_student
from progress.queries.months import studio_months
from progress.services.decisions import DecisionError, Verdict, decide, undo_decision
from routines.models import Block
from routines.queries import blocks_of, times_in_a_row, version_on
from routines.services.assign import undo_assign
from routines.services.pauses import add_interruption
from studio.models import Student, Studio
from studio.words import InterruptionKind
from tests import makers

pytestmark = pytest.mark.django_db
SEEN = {"outcome": "may be ready", "probability": 0.81}


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


def an_ended_block(student, *, days_ago=1, **values):
    first = makers.today(student.studio) - timedelta(days=27 + days_ago)
    return makers.a_block(student, first_day=first, **values)


def a_verdict(block, teacher, choice=Choice.REPEAT, **values):
    plan = None if choice is Choice.LATER else version_on(block, block.last_day).plan
    fields = {
        "choice": choice,
        "by": teacher,
        "moment": timezone.now(),
        "today": makers.today(block.student.studio),
        "key": uuid4(),
        "seen": SEEN,
        "plan": plan,
    }
    return Verdict(**(fields | values))


def test_a_decision_keeps_who_when_why_and_what_was_seen(nor, teacher):
    block = an_ended_block(nor)
    verdict = a_verdict(block, teacher, reason="Once more, for the low notes")

    decision = decide(block, verdict)

    kept = Decision.objects.get()
    assert kept == decision
    assert (kept.by, kept.decided_at, kept.choice) == (teacher, verdict.moment, "repeat")
    assert (kept.reason, kept.seen) == ("Once more, for the low notes", SEEN)


def test_the_next_block_begins_today_when_the_last_is_over(nor, teacher):
    block = an_ended_block(nor, days_ago=5, aim="endurance", length_days=28)

    made = makers.next_block_of(decide(block, a_verdict(block, teacher)))

    assert made.first_day == makers.today(nor.studio)
    assert (made.length_days, made.weekdays_off, made.aim) == (28, [6], "endurance")
    assert version_on(made, made.first_day).plan == version_on(block, block.last_day).plan


def test_the_next_block_follows_one_that_still_runs(nor, teacher):
    block = an_ended_block(nor, days_ago=-4)

    made = makers.next_block_of(decide(block, a_verdict(block, teacher)))

    assert made.first_day == block.last_day + timedelta(days=1)


def test_later_makes_no_block_and_stays_on_the_list(nor, teacher):
    block = an_ended_block(nor)

    decide(block, a_verdict(block, teacher, Choice.LATER))
    decide(block, a_verdict(block, teacher, Choice.LATER))

    assert Block.objects.count() == 1
    assert [each.put_off is not None for each in the_list(nor.studio).due] == [True]


def test_the_same_key_is_the_same_decision(nor, teacher):
    block = an_ended_block(nor)
    verdict = a_verdict(block, teacher)

    assert decide(block, verdict) == decide(block, verdict)
    assert Block.objects.count() == 2


@pytest.mark.parametrize(
    "later",
    [{"choice": Choice.MOVE_ON}, {"reason": "Another word"}, {"choice": Choice.LATER}],
)
def test_the_same_key_with_another_answer_is_refused(nor, teacher, later):
    block = an_ended_block(nor)
    verdict = a_verdict(block, teacher)
    decide(block, verdict)

    with pytest.raises(DecisionError, match="This page was used already"):
        decide(block, replace(verdict, **later))

    assert Block.objects.count() == 2


def test_the_key_of_a_decision_that_was_taken_back_does_not_bring_it_back(nor, teacher):
    block = an_ended_block(nor)
    verdict = a_verdict(block, teacher)
    undo_decision(decide(block, verdict), moment=timezone.now())

    with pytest.raises(DecisionError, match="This page was used already"):
        decide(block, verdict)


def test_a_second_screen_is_told_what_the_first_one_decided(nor, teacher):
    block = an_ended_block(nor)
    decide(block, a_verdict(block, teacher))

    with pytest.raises(DecisionError, match=r"another screen at \d\d:\d\d: Repeat\."):
        decide(block, a_verdict(block, teacher, Choice.MOVE_ON))

    assert Block.objects.count() == 2


def test_a_colleague_who_was_first_is_named(nor, teacher):
    bea = makers.a_teacher(nor.studio, name="Bea")
    block = an_ended_block(nor)
    decide(block, a_verdict(block, bea))

    with pytest.raises(DecisionError, match=r"^Bea decided this at \d\d:\d\d: Repeat\."):
        decide(block, a_verdict(block, teacher, Choice.MOVE_ON))
    Decision.objects.update(by=None)
    with pytest.raises(DecisionError, match=r"^A teacher who has left decided this at"):
        decide(block, a_verdict(block, teacher, Choice.MOVE_ON))


def test_a_block_that_is_there_already_is_not_doubled(nor, teacher):
    block = an_ended_block(nor)
    makers.a_block(nor, first_day=makers.today(nor.studio))

    with pytest.raises(DecisionError, match="has a block on these days already"):
        decide(block, a_verdict(block, teacher))

    assert Decision.objects.count() == 0


def test_taken_back_the_month_is_to_be_decided_again(nor, teacher):
    block = an_ended_block(nor)
    decision = decide(block, a_verdict(block, teacher))
    assert the_list(nor.studio).due == []

    undo_decision(decision, moment=timezone.now())

    assert [each.block for each in the_list(nor.studio).due] == [block]
    assert Block.objects.count() == 1
    assert Decision.objects.get().undone_at is not None
    decide(block, a_verdict(block, teacher, Choice.MOVE_ON))
    assert Block.objects.count() == 2


def test_taken_back_a_pause_has_its_room_again(nor, teacher):
    block = an_ended_block(nor, days_ago=-4)
    decision = decide(block, a_verdict(block, teacher))
    today = makers.today(nor.studio)
    moved = add_interruption(
        nor,
        kind=InterruptionKind.AWAY,
        first_day=today,
        last_day=today + timedelta(days=2),
        note="",
        moment=timezone.now(),
    )
    assert [each.stopped_by for each in moved] == [decision.next_block]

    undo_decision(decision, moment=timezone.now())

    assert Block.objects.get().extra_days == 3


def test_after_ten_minutes_a_decision_stands(nor, teacher):
    block = an_ended_block(nor)
    decision = decide(block, a_verdict(block, teacher))

    with pytest.raises(DecisionError, match="over ten minutes"):
        undo_decision(decision, moment=decision.decided_at + timedelta(minutes=10))

    assert Block.objects.count() == 2


def test_what_has_been_played_is_not_taken_back(nor, teacher):
    block = an_ended_block(nor)
    decision = decide(block, a_verdict(block, teacher))
    makers.a_check_in(nor, block=decision.next_block)

    with pytest.raises(DecisionError, match="has played the next block"):
        undo_decision(decision, moment=timezone.now())

    assert Decision.objects.get().undone_at is None


def test_a_next_block_taken_back_elsewhere_frees_the_decision(nor, teacher):
    block = an_ended_block(nor)
    decision = decide(block, a_verdict(block, teacher))
    undo_assign(makers.next_block_of(decision).batch, moment=timezone.now())

    decide(block, a_verdict(block, teacher, Choice.MOVE_ON))

    assert [row.choice for row in Decision.objects.filter(undone_at=None)] == ["move on"]


def test_the_student_reads_the_reason_only_where_the_teacher_says_so(nor, teacher):
    block = an_ended_block(nor)
    said = {"reason": "Well held!", "shown_to_student": True}
    decision = decide(block, a_verdict(block, teacher, **said))

    assert word_to_student(nor, decision.next_block) == "Well held!"
    Decision.objects.update(shown_to_student=False)
    assert word_to_student(nor, decision.next_block) == ""


def test_the_reason_for_a_new_plan_is_not_read_beside_the_old_one(nor, teacher):
    block = an_ended_block(nor, days_ago=-4)
    decide(block, a_verdict(block, teacher, reason="Now longer notes", shown_to_student=True))

    assert word_to_student(nor, block) == ""


def test_what_is_said_with_decide_later_is_read_at_once(nor, teacher):
    block = an_ended_block(nor, days_ago=-4)
    said = {"reason": "Let us talk on Friday", "shown_to_student": True}
    decide(block, a_verdict(block, teacher, Choice.LATER, **said))

    assert word_to_student(nor, block) == "Let us talk on Friday"


def test_the_list_begins_with_the_oldest_and_ends_with_what_was_put_off(teacher):
    studio = makers.studio_of(teacher)
    names = ["Ada", "Bo", "Cid"]
    blocks = {
        name: an_ended_block(makers.a_student(studio, name=name), days_ago=3 - place)
        for place, name in enumerate(names)
    }
    decide(blocks["Ada"], a_verdict(blocks["Ada"], teacher, Choice.LATER))

    listed = the_list(studio)

    assert [each.month.student.name for each in listed.due] == ["Bo", "Cid", "Ada"]
    assert [listed.number_of(blocks[name]) for name in ("Bo", "Cid", "Ada")] == [2, 3, 1]
    assert listed.next_after(blocks["Bo"]).block == blocks["Cid"]
    decide(blocks["Bo"], a_verdict(blocks["Bo"], teacher))
    later = the_list(studio)
    assert (later.total, later.decided_today) == (3, 1)
    assert later.number_of(blocks["Cid"]) == 3


def decided_at(block, moment):
    decision = makers.a_decision(block, choice="repeat")
    Decision.objects.filter(pk=decision.pk).update(decided_at=moment)


def test_what_was_decided_in_months_long_over_is_not_read_for_the_list(nor, teacher, monkeypatch):
    for months in range(1, 13):
        block = an_ended_block(nor, days_ago=1 + 28 * months)
        decided_at(block, timezone.now() - timedelta(days=28 * months))
    last = an_ended_block(nor)
    decide(last, a_verdict(last, teacher, Choice.LATER))
    read, usual = [], Decision.from_db

    def from_db(*row):
        read.append(row)
        return usual(*row)

    monkeypatch.setattr(Decision, "from_db", from_db)

    listed = the_list(nor.studio)

    assert [each.put_off is None for each in listed.due] == [False]
    assert len(read) == 1


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "UTC", "Pacific/Pago_Pago"])
def test_today_s_decisions_are_counted_from_its_first_minute_on_everywhere(teacher, zone):
    # The zones that are furthest ahead of UTC and behind it, by the tz database.
    studio = makers.studio_of(teacher)
    Studio.objects.filter(pk=studio.pk).update(time_zone=zone)
    studio.refresh_from_db()
    begins = datetime.combine(makers.today(studio), studio.day_ends_at, ZoneInfo(zone))
    for name, moment in (("Ada", begins), ("Bo", begins - timedelta(minutes=1))):
        decided_at(an_ended_block(makers.a_student(studio, name=name)), moment)

    assert the_list(studio).decided_today == 1


def test_a_plan_is_counted_month_after_month(nor):
    plans = [makers.a_plan(nor), makers.a_plan(nor, hold=12), *[makers.a_plan(nor)] * 3]
    blocks = [
        an_ended_block(nor, days_ago=1 + 28 * (4 - place), plan=plan)
        for place, plan in enumerate(plans)
    ]

    assert [times_in_a_row(blocks_of(nor), block) for block in blocks] == [1, 1, 1, 2, 3]


def test_a_month_edited_at_its_end_counts_with_what_it_ended_on(nor):
    first = an_ended_block(nor, days_ago=29)
    last = first.first_day + timedelta(days=20)
    makers.a_version(first, plan=makers.a_plan(nor, hold=10), from_day=last)
    second = an_ended_block(nor, plan=replace(makers.a_plan(nor), hold=10))

    assert times_in_a_row(blocks_of(nor), second) == 2


def the_list(studio):
    day = makers.today(studio)
    students = Student.objects.filter(studio=studio).select_related("studio").order_by("name")
    return review_list(studio_months(students, day), day)
