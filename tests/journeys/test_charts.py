"""The charts as a teacher meets them: asked for, drawn under the strict policy, pointed at.

The `laptop` fixture fails a test on any violated policy, script error or request to another host.
"""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from progress.models import LessonRating
from studio.models import Student
from tests import makers
from tests.journeys.test_every_page import check, sign_in

pytestmark = pytest.mark.django_db(transaction=True)

LIBRARY = "plotly-basic"
DAY = timedelta(days=1)


@pytest.fixture
def nor() -> Student:
    """A student three weeks into a block whose plan changed after two."""
    teacher = makers.a_teacher(email="runa@example.org")
    student = makers.a_student(makers.studio_of(teacher))
    first = makers.today(student.studio) - 20 * DAY
    block = makers.a_block(student, first_day=first)
    makers.a_version(block, plan=makers.a_plan(student, hold=12), from_day=first + 14 * DAY)
    for number in range(20):
        makers.a_check_in(
            student, block=block, day=first + number * DAY, attack=2 + number % 3,
            high_note=77 + number % 4, completed=1.0,
        )  # fmt: skip
    LessonRating._base_manager.create(
        student=student, block=block, day=first + 9 * DAY, filed_on=first + 9 * DAY,
        attack=3, sound=4, evenness=3, release=4,
    )  # fmt: skip
    return student


@pytest.fixture
def asked(laptop: Page) -> list[str]:
    """The addresses that the page asks for."""
    found: list[str] = []
    laptop.on("request", lambda request: found.append(request.url))
    return found


def visit(laptop: Page, live_server, nor: Student, name: str) -> None:
    teacher = {"email": "runa@example.org", "password": makers.PASSWORD}
    sign_in(laptop, {"url": live_server.url, "teacher": teacher})
    laptop.goto(live_server.url + reverse(name, args=[nor.public_id]))


def show(laptop: Page) -> None:
    laptop.get_by_role("button", name="Show charts (0.4 MB)").click()
    expect(laptop.locator("[data-charts-figures]")).to_be_focused()
    expect(laptop.locator(".main-svg").first).to_be_visible()


def test_the_library_comes_only_when_it_is_asked_for(laptop, live_server, nor, asked):
    visit(laptop, live_server, nor, "progress:student")
    expect(laptop.get_by_role("button", name="Show charts")).to_be_visible()
    assert not any(LIBRARY in one for one in asked)

    show(laptop)

    assert any(re.search(r"plotly-basic\.min\.[0-9a-f]{12}\.js$", one) for one in asked)
    assert all(one.startswith(live_server.url) for one in asked)
    expect(laptop.locator(".js-plotly-plot")).to_have_count(10)


def test_pointing_at_a_mark_says_its_day_and_answer(laptop, live_server, nor):
    visit(laptop, live_server, nor, "progress:charts")
    show(laptop)

    laptop.locator(".points path.point").nth(4).hover(force=True)

    said = laptop.locator(".hoverlayer .hovertext text").first
    expect(said).to_have_text(re.compile(r"^\w{3} \d+ \w{3}: (4–5|6–7|8–9) of 10 notes$"))


def test_there_is_no_bar_of_buttons_and_nothing_that_sends_data_away(laptop, live_server, nor):
    visit(laptop, live_server, nor, "progress:charts")
    show(laptop)

    assert laptop.locator(".modebar, .modebar-btn").count() == 0


def test_the_drawing_lies_over_its_place_as_the_librarys_styles_say(laptop, live_server, nor):
    visit(laptop, live_server, nor, "progress:charts")
    show(laptop)

    layers = laptop.locator(".js-plotly-plot").first.locator(".main-svg")
    assert layers.first.evaluate("one => getComputedStyle(one).position") == "absolute"
    assert laptop.locator("#plotly\\.js-style-global").evaluate("one => one.tagName") == "LINK"


def test_the_colours_follow_the_theme(laptop, live_server, nor):
    laptop.emulate_media(color_scheme="light")
    visit(laptop, live_server, nor, "progress:charts")
    show(laptop)
    paper, mark = laptop.locator(".main-svg").first, laptop.locator("path.point").first
    expect(paper).to_have_css("background-color", "rgb(251, 248, 241)")
    expect(mark).to_have_css("fill", "rgb(31, 27, 22)")

    laptop.emulate_media(color_scheme="dark")
    expect(paper).to_have_css("background-color", "rgb(22, 20, 15)")
    expect(mark).to_have_css("fill", "rgb(243, 237, 224)")

    laptop.evaluate("document.documentElement.dataset.theme = 'light'")
    expect(mark).to_have_css("fill", "rgb(31, 27, 22)")


def test_by_keyboard_the_charts_are_shown_and_a_table_is_read(laptop, live_server, nor):
    visit(laptop, live_server, nor, "progress:student")
    laptop.get_by_role("button", name="Show charts").press("Enter")
    expect(laptop.locator("[data-charts-figures]")).to_be_focused()

    laptop.keyboard.press("Tab")
    expect(laptop.locator(".chart-table summary").first).to_be_focused()
    laptop.keyboard.press("Enter")

    expect(laptop.get_by_role("region", name="Starts, day by day")).to_be_visible()


def test_without_scripts_the_tables_stand_there_and_the_button_does_not(
    new_context, live_server, nor
):
    page = new_context(java_script_enabled=False).new_page()
    visit(page, live_server, nor, "progress:student")

    expect(page.get_by_role("button", name="Show charts")).to_have_count(0)
    page.get_by_role("link", name="Read the figures as tables").click()
    expect(page.get_by_role("button", name="Show charts")).to_have_count(0)
    page.locator("summary").first.click()

    expect(page.get_by_role("region", name="Starts, day by day")).to_be_visible()


def test_what_does_not_come_is_said_and_can_be_asked_for_again(laptop, live_server, nor, troubles):
    troubles.allow("ERR_FAILED", "dynamically imported module")
    visit(laptop, live_server, nor, "progress:student")
    laptop.route("**/plotly-basic*.js", lambda route: route.abort())
    laptop.get_by_role("button", name="Show charts").click()
    expect(laptop.get_by_text("Nothing is lost. The charts could not be loaded.")).to_be_visible()

    laptop.unroute("**/plotly-basic*.js")
    show(laptop)

    expect(laptop.locator(".js-plotly-plot")).to_have_count(10)


def test_a_sign_in_that_ran_out_never_puts_the_sign_in_page_among_the_figures(
    laptop, live_server, nor
):
    visit(laptop, live_server, nor, "progress:student")
    laptop.context.clear_cookies()
    laptop.get_by_role("button", name="Show charts").click()

    expect(laptop.get_by_text("The charts could not be loaded.")).to_be_visible()
    expect(laptop.get_by_label("Password", exact=True)).to_have_count(0)


def test_axe_finds_nothing_with_the_charts_and_tables_open(laptop, live_server, nor):
    visit(laptop, live_server, nor, "progress:student")
    show(laptop)
    for summary in laptop.locator(".chart-table summary").all():
        summary.click()

    for scheme in ("light", "dark"):
        laptop.emulate_media(color_scheme=scheme)
        for width in (320, 390, 1280):
            laptop.set_viewport_size({"width": width, "height": 800})
            check(laptop, f"the charts at {width} px, {scheme}")


def test_nothing_moves_for_who_wants_no_motion(laptop, live_server, nor):
    laptop.emulate_media(reduced_motion="reduce")
    visit(laptop, live_server, nor, "progress:charts")
    show(laptop)

    moving = laptop.evaluate("document.getAnimations().length")

    assert moving == 0
