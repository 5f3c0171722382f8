"""The builder under a teacher's hands: the sum follows, and nothing typed gets lost."""

import re

import pytest
from playwright.sync_api import Page, expect

from routines.models import Block
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def builder(live_server, laptop: Page) -> Page:
    teacher = makers.a_teacher(email="runa@filar.example")
    studio = makers.studio_of(teacher)
    makers.a_student(studio, name="Ada", instrument="trumpet_bb")
    makers.a_student(studio, name="Wim", instrument="tuba_f")
    laptop.goto(f"{live_server.url}/sign-in?next=/blocks/assign")
    laptop.get_by_label("E-mail").fill(teacher.email)
    laptop.get_by_label("Password", exact=True).fill(makers.PASSWORD)
    laptop.get_by_role("button", name="Sign in").click()
    expect(laptop.get_by_role("heading", name="Assign a block")).to_be_visible()
    return laptop


def tick(page: Page, name: str) -> None:
    page.get_by_role("group", name="Students").get_by_text(name, exact=True).locator("..").click()


def test_a_tempo_typed_before_a_variant_stays_and_the_page_is_there_once(builder: Page):
    builder.get_by_label("A word to the student").fill("Breathe low.")
    builder.get_by_label("Tempo", exact=True).fill("72")

    builder.get_by_role("button", name=re.compile("Endurance")).click()

    expect(builder.get_by_label("Hold", exact=True)).to_have_value("12")
    expect(builder.get_by_label("Tempo", exact=True)).to_have_value("72")
    expect(builder.get_by_label("A word to the student")).to_have_value("Breathe low.")
    expect(builder.locator("#sum")).to_contain_text("Endurance.")
    assert builder.locator("form#block").count() == 1
    assert builder.get_by_label("Hold", exact=True).count() == 1
    assert "csrf" not in builder.url


def test_a_student_on_another_instrument_than_the_first_gets_the_notes_of_it(builder: Page):
    tick(builder, "Wim")

    expect(builder.locator("#notes")).to_contain_text("Written notes for F tuba")
    expect(builder.locator("#preview")).to_contain_text("F tuba")
    builder.get_by_role("button", name="Assign to Wim").click()

    expect(builder.get_by_role("heading", name="Assigned")).to_be_visible()
    assert Block._base_manager.get().instrument == "tuba_f"


def test_contrast_changes_the_dynamics_beside_the_counts(builder: Page):
    builder.get_by_role("button", name=re.compile("Dynamic contrast")).click()

    expect(builder.locator("select[name=dynamics]")).to_have_value("by-day:f,p")
    expect(builder.locator("#sum")).to_contain_text("Dynamic contrast.")


def test_without_javascript_a_variant_still_sets_the_counts(live_server, new_context):
    teacher = makers.a_teacher(email="runa@filar.example")
    makers.a_student(makers.studio_of(teacher), name="Ada")
    page = new_context(java_script_enabled=False).new_page()
    page.goto(f"{live_server.url}/sign-in?next=/blocks/assign")
    page.get_by_label("E-mail").fill(teacher.email)
    page.get_by_label("Password", exact=True).fill(makers.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    tick(page, "Ada")

    page.get_by_role("button", name=re.compile("Recovery")).click()

    expect(page.get_by_label("Rest", exact=True)).to_have_value("4")
    page.get_by_role("button", name=re.compile("^Assign")).click()
    expect(page.get_by_role("heading", name="Assigned")).to_be_visible()
