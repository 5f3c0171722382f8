"""What a studio keeps no longer becomes one line a month, and nothing else is touched.

The months are the studio's own setting (12 to 60: ours, no published source). The sums are held
against those of pandas, a general library of data frames.
"""

import json
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from statistics import fmean

import pandas as pd
import pytest
from django.core.management import call_command
from django.utils import timezone
from django_scopes import scope, scopes_disabled

from progress.models import CheckIn, KeptMonth
from progress.services.drop_old import drop_old
from studio.models import AuditLine, Discomfort, Letter
from studio.services import letters
from tests import makers

pytestmark = pytest.mark.django_db
TODAY = date(2026, 11, 25)
NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)
MARCH = date(2025, 3, 1)


@pytest.fixture
def nor():
    return makers.a_student(makers.a_studio(keep_months=12))


def a_month(student, first_day, *, days=20, **answers) -> list[CheckIn]:
    block = makers.a_block(student, first_day=first_day, weekdays_off=[])
    return [
        makers.a_check_in(
            student,
            block=block,
            day=first_day + timedelta(days=number),
            attack=1 + number % 5,
            **answers,
        )
        for number in range(days)
    ]


def dropped(student) -> dict[str, int]:
    return drop_old(student.studio, moment=NOON, today=TODAY)


def kept_months() -> list[KeptMonth]:
    with scopes_disabled():
        return list(KeptMonth.objects.order_by("month"))


def test_a_month_is_summed_up_as_a_data_frame_does_it(nor):
    rows = a_month(nor, date(2025, 3, 20), high_note=79)
    frame = pd.DataFrame([(row.day, row.attack) for row in rows], columns=["day", "attack"])
    months = frame.groupby(pd.to_datetime(frame.day).dt.to_period("M")).attack

    counts = dropped(nor)

    kept = kept_months()
    assert [row.days for row in kept] == list(months.size())
    assert [row.attack for row in kept] == pytest.approx(list(months.mean()))
    assert {row.high_note for row in kept} == {79}
    assert (counts["check-ins"], counts["month summaries"]) == (20, 2)


def test_the_latest_answer_of_a_day_counts_once(nor):
    (first,) = a_month(nor, MARCH, days=1)
    later = first.done_at + timedelta(hours=1)
    makers.a_check_in(nor, block=first.block, day=first.day, attack=5, done_at=later)

    dropped(nor)

    (kept,) = kept_months()
    assert (kept.days, kept.attack) == (1, 5)


def test_nothing_of_the_kept_months_is_touched_nor_of_a_block_that_reaches_into_them(nor):
    a_month(nor, date(2025, 10, 15), days=10)  # ends in November 2025, the oldest month kept
    a_month(nor, date(2026, 9, 1))
    with scopes_disabled():
        before = list(CheckIn.objects.order_by("pk").values())

    counts = dropped(nor)

    with scopes_disabled():
        assert list(CheckIn.objects.order_by("pk").values()) == before
    assert counts["check-ins"] == 0


def test_what_hurt_and_is_open_stays_however_old_and_what_is_closed_goes(nor):
    still_open = makers.a_discomfort(nor, day=MARCH)
    makers.a_discomfort(nor, day=MARCH, closed_at=timezone.now())

    dropped(nor)

    with scopes_disabled():
        assert list(Discomfort.objects.all()) == [still_open]


@pytest.mark.parametrize(("days", "left"), [(29, 1), (31, 0)])
@pytest.mark.parametrize("is_sent", [True, False])
def test_a_letter_goes_after_thirty_days_though_no_letter_is_ever_sent(nor, days, left, is_sent):
    """Without a mail server nothing but this takes away what names a child."""
    made = NOON - timedelta(days=days)
    with scope(studio=nor.studio):
        letter = letters.write(
            nor.studio, key="hurt", to="runa@example.org", subject="", body="Nor", moment=made
        )
        Letter.objects.filter(pk=letter.pk).update(sent_at=made if is_sent else None)

        assert dropped(nor)["letters"] == 1 - left

        assert Letter.objects.count() == left


def test_a_second_run_changes_nothing_more(nor):
    a_month(nor, MARCH)
    dropped(nor)

    counts = dropped(nor)

    assert set(counts.values()) == {0}
    assert [row.days for row in kept_months()] == [20]
    with scopes_disabled():
        assert AuditLine.objects.filter(kind="old rows dropped").count() == 1


def test_two_parts_of_one_month_come_together(nor):
    first = a_month(nor, MARCH, days=4)
    dropped(nor)
    second = a_month(nor, date(2025, 3, 20), days=6)

    dropped(nor)

    (kept,) = kept_months()
    assert kept.days == 10
    assert kept.attack == pytest.approx(fmean(row.attack or 0 for row in [*first, *second]))


def test_another_studio_keeps_by_its_own_months(nor):
    other = makers.a_student(makers.a_studio(keep_months=60))
    a_month(other, MARCH)

    dropped(nor)
    drop_old(other.studio, moment=NOON, today=TODAY)

    with scope(studio=other.studio):
        assert CheckIn.objects.count() == 20


def test_the_command_says_what_it_would_do_and_does_it_only_then(nor):
    a_month(nor, makers.today(nor.studio) - timedelta(days=600), days=3)
    out = StringIO()

    call_command("drop_old", "--dry-run", stdout=out)
    with scopes_disabled():
        assert CheckIn.objects.count() == 3
    call_command("drop_old", stdout=StringIO())

    assert json.loads(out.getvalue().splitlines()[0])["check-ins"] == 3
    with scopes_disabled():
        assert not CheckIn.objects.exists()


def test_the_students_page_shows_what_is_left(nor):
    a_month(nor, MARCH)
    dropped(nor)
    teacher = makers.a_teacher(nor.studio)

    page = makers.signed_in(teacher).get(f"/students/{nor.public_id}").content.decode()

    assert "March 2025" in page
    assert "3.0" in page
