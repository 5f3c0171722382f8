"""A report for a family: recorded facts alone, summed up here once more by pandas."""

from datetime import date, timedelta

import pandas
import pytest
from django.urls import reverse
from django_scopes import scopes_disabled

from progress.models import CheckIn, Report
from progress.queries.reports import facts_of
from tests import makers

pytestmark = pytest.mark.django_db
# "How many of ten": 0 to 3, 4 or 5, 6 or 7, 8 or 9, all ten; the middle of each, by hand.
MIDDLE = {1: 1.5, 2: 4.5, 3: 6.5, 4: 8.5, 5: 10.0}
NAMES = ["attack", "sound", "evenness", "release"]


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def teacher():
    return makers.a_teacher(name="Runa")


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


@pytest.fixture
def today(nor):
    return makers.today(nor.studio)


@pytest.fixture
def month(nor, today):
    """Twenty days, one of them filed twice, some answers left out, the sound rising."""
    block = makers.a_block(nor, first_day=today - timedelta(days=19), weekdays_off=[])
    for number in range(20):
        makers.a_check_in(
            nor,
            block=block,
            day=today - timedelta(days=19 - number),
            attack=None if number % 5 == 0 else 3,
            sound=2 + number // 7,
            seconds=400 + number,
            high_note=72 + number // 6 if number % 2 else None,
        )
    makers.a_check_in(nor, block=block, day=today, attack=1, sound=1, seconds=60)
    return block


def page_of(teacher, name, *names, **query):
    return makers.signed_in(teacher).get(reverse(name, args=names), query)


def test_weeks_and_sums_are_those_that_pandas_finds(nor, month, today):
    facts = facts_of(nor, month.first_day, today, today=today)

    table = pandas.DataFrame(CheckIn.objects.values("pk", "day", "done_at", "seconds", *NAMES))
    table = table.sort_values(["day", "done_at", "pk"]).drop_duplicates("day", keep="last")
    for name in NAMES:
        table[name] = table[name].map(MIDDLE)
    table["week"] = pandas.to_datetime(table["day"]).dt.to_period("W-SUN").dt.start_time.dt.date
    expected = table.groupby("week")[NAMES].mean()
    assert facts.days == len(table)
    assert facts.minutes == round(table["seconds"].sum() / 60)
    assert [week.first_day for week in facts.weeks] == list(expected.index)
    for week, row in zip(facts.weeks, expected.itertuples(index=False), strict=True):
        assert week.of_ten == pytest.approx(tuple(row))


def test_the_draft_tells_what_was_done_and_what_rose(teacher, nor, month):
    CheckIn.objects.filter(sound=1).delete()

    page = page_of(teacher, "progress:report", nor.public_id).content.decode()

    assert "Nor practised long tones on 20 days." in page
    assert "The sound was full more often at the end." in page
    assert "More notes began cleanly" not in page
    assert "The highest good note went from C5 to E♭5." in page


def test_the_teachers_words_take_the_place_of_the_draft_and_are_kept(teacher, nor, month):
    browser = makers.signed_in(teacher)
    address = reverse("progress:report", args=[nor.public_id])

    answer = browser.post(address, {"words": "Nor plays with a calm breath.\nGo on!"})
    page = browser.get(answer["Location"]).content.decode()

    assert "Nor plays with a calm breath.<br>Go on!" in page
    assert "practised long tones" not in page
    assert Report.objects.get().by == teacher


def test_words_are_about_their_own_days(teacher, nor, month, today):
    browser = makers.signed_in(teacher)
    address = reverse("progress:report", args=[nor.public_id])
    term = f"?first_day={today - timedelta(days=90)}&last_day={today}"

    browser.post(address, {"words": "Of the month."})
    browser.post(address + term, {"words": "Of the term."})
    browser.post(address + term, {"words": "Of the term, again."})

    assert {row.words for row in Report.objects.all()} == {"Of the month.", "Of the term, again."}


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        ("2026-03-02", "2026-03-01", "before the first"),
        ("2024-01-01", "2026-03-01", "over a year"),
        ("2026-13-01", "2026-03-01", "Enter a valid date"),
        ("", "2026-03-01", "This field is required"),
    ],
)
def test_days_that_cannot_be_are_said(teacher, nor, first, last, said):
    answer = page_of(teacher, "progress:report", nor.public_id, first_day=first, last_day=last)

    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_too_many_words_are_kept_on_the_page_and_said(teacher, nor, month):
    address = reverse("progress:report", args=[nor.public_id])

    answer = makers.signed_in(teacher).post(address, {"words": "long " * 400})

    assert answer.status_code == 422
    assert "long long" in answer.content.decode()
    assert Report.objects.count() == 0


@pytest.mark.parametrize("shown", [True, False])
def test_what_hurt_stands_in_it_only_where_parents_are_told(teacher, nor, month, today, shown):
    nor.parents_see_hurts = shown
    nor.save()
    makers.a_discomfort(nor, day=today)

    page = page_of(teacher, "progress:report", nor.public_id).content.decode()

    assert ("Something hurt on:" in page) is shown


def test_what_a_student_wrote_to_the_teacher_is_not_in_it(teacher, nor, month, today):
    CheckIn.objects.update(words="my secret")

    assert "my secret" not in page_of(teacher, "progress:report", nor.public_id).content.decode()


def test_a_student_without_a_single_check_in_has_an_honest_page(teacher, nor):
    page = page_of(teacher, "progress:report", nor.public_id).content.decode()

    assert "No check-ins are recorded for Nor in these days." in page


def test_the_print_comes_a_few_pages_at_a_time_and_counts_them(teacher, nor, monkeypatch):
    monkeypatch.setattr("progress.views.report.PAGES_AT_ONCE", 5)
    for number in range(11):
        makers.a_student(nor.studio, name=f"Player {number:02}")
    browser = makers.signed_in(teacher)
    address, made, names = reverse("progress:print_reports"), [], []

    shell = browser.get(address).content.decode()
    for begin in (0, 5, 10):
        part = browser.get(address, {"made": begin}, headers={"HX-Request": "true"})
        made.append(part.context["made"])
        names += [sheet.facts.student.name for sheet in part.context["sheets"]]

    assert "0 of 12 pages made" in shell
    assert made == [5, 10, 12]
    assert names == sorted(names)
    assert len(set(names)) == 12
    assert b"hx-get" not in part.content


def test_without_javascript_all_pages_come_at_once(teacher, nor):
    makers.a_student(nor.studio, name="Ada")

    page = page_of(teacher, "progress:print_reports", all="")

    assert [sheet.facts.student.name for sheet in page.context["sheets"]] == ["Ada", "Nor"]


@pytest.mark.parametrize("made", ["-1", "x", "99999", "١"])
def test_a_count_that_cannot_be_begins_anew(teacher, nor, made):
    answer = makers.signed_in(teacher).get(
        reverse("progress:print_reports"), {"made": made}, headers={"HX-Request": "true"}
    )

    assert answer.status_code == 200


def test_a_report_of_long_ago_leaves_todays_rows_out(nor, month, today):
    facts = facts_of(nor, date(2020, 1, 1), date(2020, 2, 1), today=today)

    assert (facts.days, facts.months, facts.weeks, facts.best_high) == (0, [], [], None)
