"""A paper chart: what is printed, and what is typed in.

Days of a month are counted by Python's calendar; that ratings written down late do not count is
tried against the same rows given to the assessment directly.
"""

from calendar import day_abbr
from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.engine.paper import read
from progress.engine.readiness import assess
from progress.models import CheckIn
from progress.queries.evidence import evidence_of
from progress.queries.months import student_month
from progress.services.paper import PaperEntryError, enter_paper
from studio.models import Discomfort
from tests import makers

pytestmark = pytest.mark.django_db


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


@pytest.fixture
def today(nor):
    return makers.today(nor.studio)


@pytest.fixture
def block(nor, today):
    return makers.a_block(nor, first_day=today - timedelta(days=13), weekdays_off=[])


def enter(teacher, block, lines, *, how="day by day", key=None):
    fields = {f"day-{day.isoformat()}": line for day, line in lines.items()}
    page = reverse("progress:enter_paper", args=[block.public_id])
    return makers.signed_in(teacher).post(page, {**fields, "how": how, "key": str(key or uuid4())})


def a_fortnight(today, line="44344"):
    return {today - timedelta(days=n): line for n in range(14)}


def test_a_month_is_kept_as_it_stands_on_paper(teacher, block, today):
    answer = enter(teacher, block, {today: "4-351hh", today - timedelta(days=1): "55555"})

    assert answer.status_code == 302
    row = CheckIn.objects.get(day=today)
    assert (row.attack, row.sound, row.evenness, row.release, row.effort) == (4, None, 3, 5, 2)
    assert (row.source, row.discomfort, row.grant) == ("teacher", "pain", None)
    assert CheckIn.objects.count() == 2


def test_what_hurt_on_paper_is_open_until_the_teacher_closes_it(teacher, block, nor, today):
    enter(teacher, block, {today - timedelta(days=5): "44344h"})

    told = Discomfort.objects.get(student=nor)
    assert (told.day, told.how_much, told.closed_at) == (today - timedelta(days=5), "mild", None)


def test_filled_in_day_by_day_counts_as_if_it_had_come_by_phone(teacher, block, nor, today):
    enter(teacher, block, a_fortnight(today))

    evidence = evidence_of(student_month(nor, today))
    assert evidence is not None
    assert [(row.day, row.filed) for row in evidence.check_ins] == [
        (day, day) for day in sorted(a_fortnight(today))
    ]


def test_filled_in_afterwards_counts_as_practice_and_not_as_ratings(teacher, block, nor, today):
    enter(teacher, block, a_fortnight(today), how="afterwards")

    evidence = evidence_of(student_month(nor, today))
    assert evidence is not None
    assert {row.filed for row in evidence.check_ins} == {today}
    reasons = {str(reason.code): reason.figure for reason in assess(evidence, today).reasons}
    # Written more than two days late: all but today's, yesterday's and the day's before.
    assert reasons["late"] == 14 - 3


@pytest.mark.parametrize("how", ["day by day", "afterwards"])
def test_the_same_entry_twice_is_one(teacher, block, today, how):
    key = uuid4()

    for _ in range(2):
        assert enter(teacher, block, a_fortnight(today), how=how, key=key).status_code == 302

    assert CheckIn.objects.count() == 14


def test_a_wrong_line_keeps_what_was_typed_and_nothing_is_added(teacher, block, today):
    answer = enter(teacher, block, {today: "44344", today - timedelta(days=1): "4434"})

    assert answer.status_code == 422
    assert "has 4 squares" in answer.content.decode()
    assert 'value="4434"' in answer.content.decode()
    assert 'value="44344"' in answer.content.decode()
    assert CheckIn.objects.count() == 0


@pytest.mark.parametrize(
    ("line", "how", "said"),
    [("", "day by day", "No day is filled in"), ("44344", "", "Say when it was filled in")],
)
def test_what_is_missing_is_said(teacher, block, today, line, how, said):
    answer = enter(teacher, block, {today: line}, how=how)

    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_a_day_that_came_by_phone_is_shown_and_cannot_be_written_over(teacher, block, nor, today):
    makers.a_check_in(nor, block=block, day=today, effort=6)

    answer = enter(teacher, block, {today: "11111", today - timedelta(days=1): "44344"})

    assert answer.status_code == 302
    assert CheckIn.objects.get(day=today).attack == 4
    page = makers.signed_in(teacher).get(answer.url).content.decode()
    assert "44343" in page
    assert f"day-{today.isoformat()}" not in page


def test_a_check_in_that_comes_meanwhile_stops_the_whole_entry(
    teacher, block, nor, today, monkeypatch
):
    """The page was opened before the phone sent it; the service looks once more."""
    key = uuid4()
    makers.a_check_in(nor, block=block, day=today)
    days = {day: paper for day in (today, today - timedelta(days=1)) if (paper := read("44344"))}

    with pytest.raises(PaperEntryError, match="has a check-in by now"):
        enter_paper(block, days, key=key, day_by_day=True, moment=timezone.now())

    assert CheckIn.objects.count() == 1


def test_it_can_be_taken_back_for_ten_minutes_with_what_hurt(teacher, block, today, time_machine):
    key, browser = uuid4(), makers.signed_in(teacher)
    enter(teacher, block, a_fortnight(today, "44344h"), key=key)
    undo = reverse("progress:undo_paper", args=[block.public_id])

    browser.post(undo, {"key": str(uuid4())})
    assert CheckIn.objects.count() == 14
    browser.post(undo, {"key": str(key)})

    assert (CheckIn.objects.count(), Discomfort.objects.count()) == (0, 0)


def test_after_ten_minutes_it_stays(teacher, block, today):
    key, browser = uuid4(), makers.signed_in(teacher)
    enter(teacher, block, a_fortnight(today), key=key)
    CheckIn.objects.update(received_at=timezone.now() - timedelta(minutes=10, seconds=1))

    answer = browser.post(
        reverse("progress:undo_paper", args=[block.public_id]), {"key": str(key)}, follow=True
    )

    assert CheckIn.objects.count() == 14
    assert "ten minutes are over" in answer.content.decode()


def test_the_days_that_have_not_come_cannot_be_filled_in(teacher, block, today):
    enter(teacher, block, {today + timedelta(days=1): "44344", today: "44344"})

    assert [row.day for row in CheckIn.objects.all()] == [today]


def test_the_chart_has_every_day_of_the_block_once(teacher, block):
    page = makers.signed_in(teacher).get(reverse("progress:paper", args=[block.public_id]))

    bands = page.context["sheets"][0].bands
    days = [column.day for band in bands for column in band]
    assert days == [block.first_day + timedelta(days=n) for n in range(28)]
    assert [len(band) for band in bands] == [14, 14]
    for column in days:
        assert f"{day_abbr[column.weekday()]}<br>{column.day}" in page.content.decode()


def test_everybody_with_a_block_has_one_page_and_a_group_its_own(teacher, nor, block):
    ada = makers.a_student(nor.studio, name="Ada", group="Quay Street")
    makers.a_block(ada, first_day=makers.today(nor.studio) + timedelta(days=3))
    makers.a_student(nor.studio, name="Without")
    browser = makers.signed_in(teacher)

    everybody = browser.get(reverse("progress:papers")).context["sheets"]
    group = browser.get(reverse("progress:papers"), {"group": "Quay Street"}).context["sheets"]

    assert [sheet.block.student.name for sheet in everybody] == ["Ada", "Nor"]
    assert [sheet.block.student.name for sheet in group] == ["Ada"]
