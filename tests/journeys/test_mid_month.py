"""A block changed in the middle of its month, by keyboard alone, and what the phone shows then.

Nothing is mocked: a real server, a real database, two browsers.
"""

import re
from datetime import timedelta

import pytest
from playwright.sync_api import Locator, Page, expect

from progress.models import CheckIn
from routines.models import BlockVersion
from studio import secrets
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)

MOST_STEPS = 80


def go_to(page: Page, wanted: Locator) -> None:
    """Press Tab until something has the focus, as who has no mouse does."""
    for _ in range(MOST_STEPS):
        if wanted.evaluate("element => element === document.activeElement"):
            return
        page.keyboard.press("Tab")
    pytest.fail(f"{MOST_STEPS} times Tab did not lead to {wanted}.")


def write(page: Page, label: str, text: str) -> None:
    go_to(page, page.get_by_label(label, exact=True))
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type(text)


def sign_in(laptop: Page, address: str, student: str) -> None:
    laptop.goto(f"{address}/sign-in?next=/students/{student}")
    write(laptop, "E-mail", "runa@filar.example")
    write(laptop, "Password", makers.PASSWORD)
    laptop.keyboard.press("Enter")
    expect(laptop.get_by_role("heading", name="Nor", level=1)).to_be_visible()


def change_the_hold(laptop: Page, hold: str) -> None:
    go_to(laptop, laptop.get_by_role("link", name="Change it from a day on"))
    laptop.keyboard.press("Enter")
    expect(laptop.get_by_role("heading", name="Change the block of Nor")).to_be_visible()
    write(laptop, "Hold", hold)
    # 14 notes down and G again: 15 of 10 counts at 60 and 14 rests of 8 between, 150 + 112 seconds.
    expect(laptop.locator("#sum")).to_have_text(
        "15 notes. 4 min 22 s a day, of which 2 min 30 s playing."
    )
    go_to(laptop, laptop.get_by_role("button", name="Save for Nor"))
    laptop.keyboard.press("Enter")


def test_a_teacher_without_a_mouse_changes_a_block_and_the_phone_follows(
    live_server, laptop: Page, phone: Page
) -> None:
    teacher = makers.a_teacher(email="runa@filar.example")
    nor = makers.a_student(makers.studio_of(teacher))
    block = makers.a_block(nor, plan=makers.a_plan(nor, top_note=67), weekdays_off=[])
    yesterday = makers.today(nor.studio) - timedelta(days=1)
    kept = makers.a_check_in(nor, block=block, day=yesterday)
    token = secrets.new_secret()
    makers.an_offer(nor, token=token)
    phone.goto(f"{live_server.url}/pair#{token}")
    phone.get_by_role("button", name="Use this phone").click()
    expect(phone.get_by_text("Hold 8 · Rest 8")).to_be_visible()

    sign_in(laptop, live_server.url, nor.public_id)
    change_the_hold(laptop, "10")

    expect(laptop.get_by_text("Saved. From today: Hold 10 · Rest 8.")).to_be_visible()
    expect(laptop.get_by_text(re.compile("^Hold 10 · Rest 8, 60 a minute"))).to_be_visible()
    phone.reload()
    expect(phone.get_by_text("Hold 10 · Rest 8")).to_be_visible()
    played = CheckIn._base_manager.select_related("version").get(pk=kept.pk)
    assert (played.version.hold, played.version.from_day) == (8, block.first_day)
    versions = BlockVersion._base_manager.order_by("from_day").values_list("from_day", "hold")
    assert list(versions) == [(block.first_day, 8), (yesterday + timedelta(days=1), 10)]


def test_what_cannot_be_typed_stays_and_is_reached_by_keyboard(
    live_server, laptop: Page, troubles
) -> None:
    troubles.allow("422")
    teacher = makers.a_teacher(email="runa@filar.example")
    nor = makers.a_student(makers.studio_of(teacher))
    makers.a_block(nor)
    sign_in(laptop, live_server.url, nor.public_id)
    go_to(laptop, laptop.get_by_role("link", name="Change it from a day on"))
    laptop.keyboard.press("Enter")

    write(laptop, "Hold", "99")
    laptop.keyboard.press("Enter")

    expect(laptop.get_by_label("Hold", exact=True)).to_have_value("99")
    expect(laptop.get_by_text("Hold 99 counts: choose 2 to 32.").first).to_be_visible()


def test_without_javascript_a_block_is_looked_at_and_changed(live_server, new_context) -> None:
    teacher = makers.a_teacher(email="runa@filar.example")
    nor = makers.a_student(makers.studio_of(teacher))
    makers.a_block(nor)
    page = new_context(java_script_enabled=False).new_page()
    sign_in(page, live_server.url, nor.public_id)
    page.get_by_role("link", name="Change it from a day on").click()
    page.get_by_label("Rest", exact=True).fill("6")

    page.get_by_role("button", name="Show what it comes to").click()
    expect(page.get_by_label("Rest", exact=True)).to_have_value("6")
    expect(page.get_by_role("region", name="What it comes to, beside now")).to_contain_text(
        "Hold 8 · Rest 6"
    )
    page.get_by_role("button", name="Save for Nor").click()

    expect(page.get_by_text("Saved. From today: Hold 8 · Rest 6.")).to_be_visible()
