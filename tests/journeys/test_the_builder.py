"""The builder under a teacher's hands: the sum follows, and nothing typed gets lost."""

import re

import pytest
from playwright.sync_api import Page, expect

from routines.models import Block
from studio.models import Student
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


def test_the_pressed_button_follows_counts_typed_by_hand(builder: Page):
    pressed = builder.locator(".variants [aria-pressed=true]")
    expect(pressed).to_contain_text("Baseline")

    builder.get_by_label("Hold", exact=True).fill("9")
    expect(builder.locator("#sum")).to_contain_text("Your own counts.")
    expect(pressed).to_have_count(0)
    builder.get_by_label("Hold", exact=True).fill("12")

    expect(pressed).to_contain_text("Endurance")


def test_what_is_typed_never_stands_in_an_address(builder: Page):
    asked: list[str] = []
    builder.on("request", lambda request: asked.append(request.url))

    tick(builder, "Wim")
    builder.get_by_label("A word to the student").fill("Breathe low.")
    expect(builder.locator("#preview")).to_contain_text("Assign to Wim")

    assert any(url.endswith("/blocks/preview") for url in asked)
    assert [url for url in asked if "?" in url] == []


def test_a_builder_left_open_overnight_loses_nothing(builder: Page):
    tick(builder, "Wim")
    expect(builder.locator("#notes")).to_contain_text("Written notes for F tuba")
    builder.context.clear_cookies(name=re.compile("session"))

    builder.get_by_label("A word to the student").fill("Breathe low.")
    expect(builder.locator("#preview")).to_contain_text("You are signed out, ")
    assert builder.locator("form#block").count() == 1
    builder.get_by_role("button", name="Sign in").click()
    builder.get_by_label("E-mail").fill("runa@filar.example")
    builder.get_by_label("Password", exact=True).fill(makers.PASSWORD)
    builder.get_by_role("button", name="Sign in").click()

    expect(builder.get_by_label("A word to the student")).to_have_value("Breathe low.")
    builder.get_by_role("button", name="Assign to Wim").click()
    expect(builder.get_by_role("heading", name="Assigned")).to_be_visible()


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


def test_a_group_is_ticked_and_a_block_kept_as_a_template_by_keyboard(builder: Page):
    student = Student._base_manager.get(name="Ada")
    makers.a_student(student.studio, name="Cleo", group="Town Band")
    makers.a_student(student.studio, name="Dag", group="Town Band")
    builder.reload()

    builder.get_by_role("button", name="All of Town Band").press("Enter")
    expect(builder.get_by_role("button", name="Assign to 2")).to_be_visible()
    expect(builder.get_by_role("button", name="All of Town Band")).to_be_focused()
    builder.get_by_text("Save as a template").press("Enter")
    builder.get_by_label("Its name").fill("For the band")
    builder.get_by_role("button", name="Save the template").press("Enter")

    expect(builder.locator("#keep")).to_contain_text("Saved as “For the band”")
    expect(builder.locator("#begin")).to_contain_text("For the band")
    expect(builder.get_by_role("button", name="Assign to 2")).to_be_visible()


def test_enter_in_a_field_assigns_nothing_and_loses_nothing(builder: Page):
    tick(builder, "Wim")
    expect(builder.locator("#notes")).to_contain_text("Written notes for F tuba")

    builder.get_by_label("Hold", exact=True).fill("9")
    builder.get_by_label("Hold", exact=True).press("Enter")

    expect(builder.get_by_role("heading", name="Assign a block")).to_be_visible()
    expect(builder.get_by_label("Hold", exact=True)).to_have_value("9")
    assert not Block._base_manager.exists()


def test_the_notes_follow_the_switch_to_one_concert_pitch(builder: Page):
    tick(builder, "Ada")
    tick(builder, "Wim")
    expect(builder.locator("#preview")).to_contain_text("F tuba")

    builder.get_by_text("In one concert pitch").click()

    expect(builder.locator("#notes")).to_contain_text("Everybody sounds these notes")
    expect(builder.get_by_label("Start", exact=True)).to_contain_text(
        "Concert F4, written G4 (usual start)"
    )
    builder.get_by_role("button", name="Assign to 2").click()
    expect(builder.get_by_role("heading", name="Assigned")).to_be_visible()


def test_a_press_held_while_the_sum_is_drawn_anew_still_assigns(builder: Page):
    button = builder.get_by_role("button", name="Assign to Ada")
    tick(builder, "Ada")
    expect(button).to_be_visible()
    builder.wait_for_load_state("networkidle")
    builder.get_by_label("Hold", exact=True).fill("9")
    button.hover()
    builder.wait_for_load_state("networkidle")

    # The field is left by the press itself; what follows from that arrives before it ends.
    with builder.expect_response(re.compile("/blocks/preview")):
        builder.mouse.down()
    builder.wait_for_load_state("networkidle")
    builder.mouse.up()

    expect(builder.get_by_role("heading", name="Assigned")).to_be_visible()


def test_the_button_stays_chosen_while_the_sum_is_drawn_anew(builder: Page):
    tick(builder, "Ada")
    button = builder.get_by_role("button", name="Assign to Ada")
    expect(button).to_be_visible()

    tick(builder, "Wim")
    builder.locator("#assign-button").focus()
    expect(builder.locator("#preview")).to_contain_text("F tuba")

    expect(builder.get_by_role("button", name="Assign to 2")).to_be_focused()
