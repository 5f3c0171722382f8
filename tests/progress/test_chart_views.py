"""The page of the charts, its part for the student's page, and what both cost."""

import re
from datetime import timedelta

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from tests import makers

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def desk(teacher):
    return makers.signed_in(teacher)


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher))


def a_month(student, first_day):
    block = makers.a_block(student, first_day=first_day)
    for number in range(8):
        makers.a_check_in(
            student, block=block, day=first_day + number * DAY, high_note=78, completed=1.0
        )
    return block


@pytest.fixture
def block(nor):
    return a_month(nor, makers.today(nor.studio) - 7 * DAY)


def address(student, block=None):
    path = reverse("progress:charts", args=[student.public_id])
    return path if block is None else f"{path}?block={block.public_id}"


def test_the_page_has_every_chart_as_a_table_and_as_a_figure(desk, nor, block):
    page = desk.get(address(nor)).content.decode()

    assert page.count("Show as table") == 4
    assert re.findall(r'data-figure="([^"]+)"', page) == re.findall(
        r'<script id="([^"]+)" type="application/json"', page
    )
    assert len(re.findall(r'role="img" aria-label="[^"]{20,}"', page)) == 10


def test_the_tables_stand_open_to_everybody_and_the_button_waits_for_its_script(desk, nor, block):
    page = desk.get(address(nor)).content.decode()

    assert re.search(r"<button[^>]* data-show-charts hidden>Show charts \(0\.4 MB\)</button>", page)
    assert page.count("<div data-drawn hidden>") == 4
    assert not re.search(r"<details[^>]*hidden", page)


def test_htmx_gets_only_the_figures(desk, nor, block):
    part = desk.get(address(nor), headers={"HX-Request": "true"}).content.decode()

    assert "<html" not in part
    assert "<h1" not in part
    assert part.count("data-figure=") == 10


def test_the_figures_are_those_of_the_table(desk, nor, block):
    page = desk.get(address(nor))

    (week, *_) = page.context["holding"].weeks
    bars = page.context["holding"].figure["data"][1]
    assert bars["y"][0] == round(week.held_seconds / 60, 2)
    panel = page.context["ratings"].panels[0]
    assert panel.figure["data"][2]["y"] == [round(day.level, 2) for day in panel.days]


def test_an_older_block_is_drawn_when_its_address_names_it(desk, nor, block):
    old = a_month(nor, block.first_day - 30 * DAY)

    page = desk.get(address(nor, old))

    assert page.context["charted"].block == old
    assert address(nor, old) in desk.get(address(nor)).content.decode()


def test_a_block_of_another_student_is_no_page(desk, teacher, nor, block):
    sam = makers.a_student(makers.studio_of(teacher), name="Sam")

    assert desk.get(address(sam, block)).status_code == 404
    assert desk.get(address(nor) + "?block=nonsense").status_code == 404


def test_without_a_block_or_a_check_in_it_says_so(desk, nor):
    assert "No block yet" in desk.get(address(nor)).content.decode()

    makers.a_block(nor)
    page = desk.get(address(nor)).content.decode()

    for said in (
        "No answers and no lesson ratings",
        "No check-in of this block",
        "No answers in any",
    ):
        assert said in page
    assert "data-figure" not in page


def test_a_name_with_markup_stays_a_name(desk, teacher):
    odd = makers.a_student(makers.studio_of(teacher), name="<b>Nor</b>")
    a_month(odd, makers.today(odd.studio) - 7 * DAY)

    assert "<b>Nor" not in desk.get(address(odd)).content.decode()


@pytest.mark.parametrize("months", [1, 24])
def test_the_charts_ask_the_same_few_questions_at_any_number_of_months(
    desk, nor, months, django_assert_num_queries
):
    today = makers.today(nor.studio)
    for number in range(months):
        a_month(nor, today - (28 * number + 7) * DAY)

    with django_assert_num_queries(14):
        desk.get(address(nor))


def test_the_students_page_asks_nothing_more_for_its_charts(nor, block, django_assert_num_queries):
    with django_assert_num_queries(0):
        part = render_to_string("progress/_charts.html", {"student": nor})

    assert f'href="{address(nor)}"' in part
    assert "data-figure=" not in part


def test_the_students_page_leads_to_the_charts(desk, nor, block):
    page = desk.get(reverse("progress:student", args=[nor.public_id])).content.decode()

    assert f'data-charts="{address(nor)}"' in page
