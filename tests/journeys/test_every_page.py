"""Every page, as a person meets it: axe finds nothing, nothing scrolls sideways.

axe-core is an independent checker of WCAG 2.2 (Deque, MPL-2.0); 0 violations is necessary, not
enough. The `laptop` and `phone` fixtures also fail on any policy violation, script error or request
to another host.
"""

import json
import time
from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from allauth.mfa.totp.internal.auth import format_hotp_value, hotp_value
from axe_playwright_python.sync_playwright import Axe
from django.core.management import call_command
from django.urls import get_resolver
from django.utils import timezone
from playwright.sync_api import Page, expect

from progress.models import CheckIn, SetAside
from routines.models import Block
from studio.models import Student
from studio.words import Role
from tests import makers
from tests.progress import recording_makers

pytestmark = pytest.mark.django_db(transaction=True)

WIDTHS = (320, 390, 1280)
TEACHERS = {
    "progress:overview", "progress:student", "routines:students", "routines:add_student",
    "routines:change_student", "routines:assign", "routines:assigned", "studio:settings",
    "account_change_password", "progress:lessons", "progress:rate", "progress:add_interruption",
    "routines:change_block",
    "routines:add_list",
    "progress:review", "progress:review_block", "studio:settings_assessment",
    "studio:settings_privacy", "studio:settings_look", "studio:settings_phones",
    "studio:settings_sign_in", "studio:settings_letters",
    "studio:teachers", "studio:teacher", "studio:invite",
    "studio:record", "studio:erase_student",
    "studio:hand_over", "studio:studios", "account_reauthenticate", "mfa_activate_totp",
    "mfa_deactivate_totp", "mfa_view_recovery_codes", "mfa_generate_recovery_codes",
    "mfa_authenticate", "mfa_reauthenticate",
    "routines:templates", "routines:rename_template",
    "progress:fix_day",
    "progress:charts", "progress:recordings", "progress:heard",
    "progress:papers", "progress:paper", "progress:enter_paper",
    "progress:report", "progress:reports", "progress:print_reports", "progress:studio_copy",
}  # fmt: skip
STUDENTS = {
    "progress:today", "progress:check_in", "progress:saved", "progress:month", "routines:session",
    "studio:this_phone", "progress:recording",
}  # fmt: skip
PARENTS = {"studio:parent", "progress:parent", "studio:parent_phones"}  # fmt: skip
EVERYBODYS = {
    "studio:help", "studio:help_numbers", "studio:help_hearing", "studio:pair", "studio:join",
    "studio:join_studio", "studio:stop_letters",
    "account_login", "progress:who", "progress:no_signal",
}  # fmt: skip
# Pages that other tests look at, or that are no pages of their own.
ELSEWHERE = {
    "studio:home": "sends on",
    "studio:healthz": "plain text for a monitor",
    "studio:open_a_studio": "only where a setting opens it: see below",
    "studio:first_run": "only before the first account: see below",
    "studio:offer": "made by POST: see below",
    "studio:answer_phone": "POST",
    "studio:move_phone": "made by POST: see below",
    "studio:sign_out": "POST",
    "progress:undo_paper": "POST",
    "progress:student_copy": "a file",
    "studio:sign_out_all": "POST",
    "studio:parents_see": "POST",
    "studio:close_discomfort": "POST",
    "studio:sign_out_studio": "POST",
    "studio:end_sign_in": "POST",
    "studio:call_off_invitation": "POST",
    "studio:remove_teacher": "POST",
    "studio:leave": "POST",
    "studio:whose_students": "POST",
    "studio:open_studio": "POST",
    "routines:archive_student": "POST",
    "routines:preview": "a part of the assign page",
    "routines:undo_assign": "POST",
    "routines:remove_template": "POST",
    "progress:put_back_check_in": "POST",
    "routines:put_back_template": "POST",
    "progress:not_today": "POST",
    "progress:hurt": "POST",
    "progress:ask_recording": "POST",
    "progress:ask_recordings": "POST",
    "progress:recorded_sound": "a file",
    "progress:keep_recording": "a file",
    "progress:delete_recording": "POST",
    "progress:send_recording": "POST",
    "progress:throw_away_recording": "POST",
    "progress:worker": "a script: tests/offline",
    "progress:manifest": "JSON: tests/offline",
    "progress:phone_state": "JSON: tests/offline",
    "progress:confirm_interruption": "POST",
    "progress:end_interruption": "POST",
    "progress:undo_decision": "POST",
    "progress:remove_interruption": "POST",
    "routines:notes": "a file",
    "routines:roster_sample": "a file",
    "routines:list_added": "after adding a list: see below",
    "routines:take_list_back": "POST",
    "routines:sound": "a file",
    "routines:calendar": "a file",
    "progress:table": "a file",
    "account_logout": "POST from every page; its own page asks once more",
}


def look(page: Page, address: str) -> None:
    """Open a page at every width in both themes; complain in the words of axe."""
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        for width in WIDTHS:
            page.set_viewport_size({"width": width, "height": 800})
            answer = page.goto(address)
            assert answer is not None
            assert answer.status == 200, address
            check(page, f"{address} at {width} px, {scheme}")


def send(page: Page, button: str) -> None:
    """Press a button that sends its form, and be on the page that answers before looking."""
    with page.expect_navigation():
        page.get_by_role("button", name=button).click()


def check(page: Page, where: str) -> None:
    found = Axe().run(page)
    assert not found.response["violations"], f"{where}\n{found.generate_report()}"
    too_wide = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    assert too_wide <= 0, f"{where} scrolls sideways by {too_wide} px"


@pytest.fixture
def demo(live_server) -> dict[str, Any]:
    out = StringIO()
    call_command("demo_studio", "--json", stdout=out)
    return {**json.loads(out.getvalue()), "url": live_server.url}


def sign_in(page: Page, demo: dict[str, Any]) -> None:
    page.goto(f"{demo['url']}/sign-in")
    page.get_by_label("E-mail").fill(demo["teacher"]["email"])
    page.get_by_label("Password", exact=True).fill(demo["teacher"]["password"])
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/overview")


def names(resolver, space: str = "") -> set[str]:
    found: set[str] = set()
    for entry in resolver.url_patterns:
        if hasattr(entry, "url_patterns"):
            found |= names(entry, f"{entry.namespace}:" if entry.namespace else space)
        else:
            found.add(f"{space}{entry.name}")
    return found


def test_no_address_is_forgotten_here() -> None:
    assert names(get_resolver()) == TEACHERS | STUDENTS | PARENTS | EVERYBODYS | set(ELSEWHERE)


# Each part is short enough for a computer with other work.
PARTS = 4


@pytest.fixture
def a_teachers_paths(demo) -> list[str]:
    """Addresses of a studio that has some of everything, the first about the student who hurts."""
    hurting = Student._base_manager.filter(discomfort__closed_at__isnull=True).distinct()
    student = hurting.filter(discomfort__isnull=False)[0].public_id
    batch = Block._base_manager.order_by("-made_at")[0].batch
    asked = Block._base_manager.filter(student__public_id=student).order_by("-first_day")
    running = asked[0].public_id
    studio = asked[0].student.studio
    makers.a_template(studio, name="A removed one", removed_at=timezone.now())
    template = makers.a_template(studio, name="Baseline for the band")
    moved, kept = CheckIn._base_manager.filter(student__public_id=student).order_by("-day")[:2]
    SetAside._base_manager.create(check_in=moved, made_at=timezone.now())
    several = "&".join(f"students={row.public_id}" for row in Student._base_manager.all()[:4])
    recording_makers.leave(asked[0].student)
    before = timezone.now() - timedelta(days=9)
    earlier = recording_makers.a_recording(asked[0].student, received_at=before).public_id
    heard = recording_makers.a_recording(asked[0].student).public_id
    return [
        f"/students/{student}", f"/blocks/{running}/change",
        "/overview", "/students", "/students/new",
        f"/students/{student}/details", f"/blocks/assign?students={student}", "/blocks/assign",
        f"/blocks/assigned/{batch}", "/settings", "/settings/password",
        "/lessons", f"/students/{student}/lesson", f"/students/{student}/interruptions/new",
        f"/blocks/assign?{several}&pitch=concert", f"/blocks/assign?{several}&apply=again",
        "/templates", f"/templates/{template.public_id}/name",
        f"/check-ins/{moved.public_id}/day", f"/check-ins/{kept.public_id}/day",
        f"/students/{student}/charts", f"/students/{student}/recordings",
        f"/recordings/{heard}", f"/recordings/{heard}?beside={earlier}",
    ]  # fmt: skip


@pytest.mark.parametrize("part", range(PARTS))
def test_axe_finds_nothing_on_a_teachers_pages(
    demo, a_teachers_paths, laptop: Page, part: int
) -> None:
    sign_in(laptop, demo)

    for path in a_teachers_paths[part::PARTS]:
        look(laptop, demo["url"] + path)
        # A block that is over would lead away from its page.
        assert not path.endswith("/change") or laptop.url.endswith(path)


def test_axe_finds_nothing_where_a_phone_is_set_up(demo, a_teachers_paths, laptop: Page) -> None:
    sign_in(laptop, demo)

    laptop.goto(demo["url"] + a_teachers_paths[0])
    send(laptop, "Make a link to send")
    check(laptop, "the page with a link")
    laptop.reload()
    expect(laptop.get_by_text("This link is shown once.")).to_be_visible()
    check(laptop, "the page with a link, loaded again")


def test_axe_finds_nothing_on_the_settings_and_their_forms(demo, laptop: Page, troubles) -> None:
    student = Student._base_manager.order_by("name")[0]
    colleague = makers.place_of(makers.a_teacher(student.studio, name="Bea"))
    makers.an_invitation(student.studio, email="cora@example.org")
    sign_in(laptop, demo)

    for path in (
        "/settings/assessment", "/settings/privacy", "/settings/look", "/settings/phones",
        "/settings/sign-in", "/settings/teachers", f"/settings/teachers/{colleague.public_id}",
        "/settings/teachers/invite", f"/students/{student.public_id}/hand-over", "/studios",
        "/settings/again", "/settings/privacy/record",
    ):  # fmt: skip
        look(laptop, demo["url"] + path)

    laptop.goto(f"{demo['url']}/settings/copy")
    laptop.get_by_label("Your password").fill(demo["teacher"]["password"])
    send(laptop, "Go on")
    expect(laptop).to_have_url(f"{demo['url']}/settings/copy")
    for path in ("/settings/copy", f"/students/{student.public_id}/erase"):
        look(laptop, demo["url"] + path)

    laptop.goto(f"{demo['url']}/settings/teachers/invite")
    laptop.get_by_text("Cover teacher: reads").click()
    send(laptop, "Make the link")
    check(laptop, "an invitation that lacks its last day")
    laptop.get_by_text("Teacher: everything").click()
    send(laptop, "Make the link")
    link = laptop.locator("#link").inner_text()
    check(laptop, "the invitation")
    laptop.goto(link)
    send(laptop, "Go on")
    look(laptop, f"{demo['url']}/join/studio")


def test_a_new_teacher_joins_by_the_link_and_its_secret_leaves_the_address(
    demo, laptop: Page, phone: Page
) -> None:
    sign_in(laptop, demo)
    laptop.goto(f"{demo['url']}/settings/teachers/invite")
    send(laptop, "Make the link")

    phone.goto(laptop.locator("#link").inner_text())
    expect(phone).to_have_url(f"{demo['url']}/join")
    phone.get_by_role("button", name="Go on").click()
    phone.wait_for_url("**/join/studio")
    check(phone, "the page that asks whether to join")
    phone.get_by_label("Your name").fill("Bea")
    phone.get_by_label("Your e-mail").fill("bea@example.org")
    phone.get_by_label("A password").fill(makers.PASSWORD)
    phone.get_by_role("button", name="Make the account and join").click()

    phone.wait_for_url("**/overview")
    expect(phone.get_by_text("You teach in")).to_be_visible()


def code_of(secret: str) -> str:
    """Work out the code of the moment as the teacher's phone does."""
    return str(format_hotp_value(hotp_value(secret, int(time.time()) // 30)))


def test_axe_finds_nothing_on_the_second_step_from_end_to_end(
    demo, laptop: Page, phone, settings
) -> None:
    settings.MFA_TOTP_TOLERANCE = 1  # a code may be typed as its half minute ends
    sign_in(laptop, demo)
    laptop.goto(f"{demo['url']}/settings/second-step")
    laptop.get_by_label("Your password").fill(demo["teacher"]["password"])
    send(laptop, "Go on")
    expect(laptop).to_have_url(f"{demo['url']}/settings/second-step")
    check(laptop, "setting the second step up")
    laptop.get_by_label("Code").fill("000000")
    send(laptop, "Turn it on")
    check(laptop, "a first code that is wrong")
    laptop.get_by_label("Code").fill(code_of(laptop.locator("#secret").inner_text()))
    send(laptop, "Turn it on")
    laptop.wait_for_url("**/recovery-codes")
    check(laptop, "the recovery codes")
    codes = laptop.locator(".codes code").all_inner_texts()
    for path in ("recovery-codes", "recovery-codes/new", "second-step/remove", "again/code"):
        look(laptop, f"{demo['url']}/settings/{path}")

    phone.goto(f"{demo['url']}/sign-in")
    phone.get_by_label("E-mail").fill(demo["teacher"]["email"])
    phone.get_by_label("Password", exact=True).fill(demo["teacher"]["password"])
    phone.get_by_role("button", name="Sign in").click()
    phone.wait_for_url("**/sign-in/code")
    look(phone, phone.url)
    phone.get_by_label("Code").fill(codes[0])
    phone.get_by_role("button", name="Sign in").click()
    phone.wait_for_url("**/overview")


def test_axe_finds_nothing_on_what_a_cover_teacher_reads(demo, laptop: Page) -> None:
    student = Student._base_manager.order_by("name")[0]
    cover = makers.a_teacher(student.studio, role=Role.COVER)
    teacher = {"email": cover.email, "password": makers.PASSWORD}
    sign_in(laptop, {**demo, "teacher": teacher})

    for path in (
        "/blocks/assign", "/settings", f"/students/{student.public_id}/details",
        "/settings/teachers", "/settings/teachers/invite", "/settings/privacy",
    ):  # fmt: skip
        look(laptop, demo["url"] + path)


def test_axe_finds_nothing_on_the_review_at_any_of_its_steps(demo, laptop: Page) -> None:
    sign_in(laptop, demo)
    look(laptop, f"{demo['url']}/review")
    laptop.get_by_role("button", name="Move on").click()
    expect(laptop.get_by_role("group", name="Move on to")).to_be_visible()
    check(laptop, "the review with what to move on to")
    laptop.get_by_role("button", name="Change something").click()
    laptop.get_by_label("Hold", exact=True).fill("11")
    laptop.get_by_label("Tempo", exact=True).fill("56")
    laptop.get_by_role("button", name="Give this").click()
    expect(laptop.get_by_text("This changes 2 things at once: hold and tempo.")).to_be_visible()
    check(laptop, "the review that asks once")
    laptop.get_by_role("button", name="Yes, change all 2").click()
    expect(laptop.get_by_role("heading", name="Just decided")).to_be_visible()
    check(laptop, "the review with what was just decided")


def test_axe_finds_nothing_on_a_list_of_students_at_any_of_its_steps(demo, laptop: Page) -> None:
    sign_in(laptop, demo)
    look(laptop, f"{demo['url']}/students/list")
    laptop.get_by_label("Or paste the list").fill("name,instrument\nZoë,horn\nNor,kazoo\n")
    laptop.get_by_role("button", name="Look at the list").click()
    expect(laptop.get_by_text("instrument “kazoo” is not known here").first).to_be_visible()
    check(laptop, "a list with something to put right")
    laptop.get_by_label("Put right what is wrong here").fill(
        "name,instrument\nZoë,horn\nNor,horn\n"
    )
    send(laptop, "Look again")
    check(laptop, "a list to say yes to")
    laptop.get_by_role("button", name="Add 1 student").click()
    expect(laptop.get_by_role("heading", name="Students added")).to_be_visible()
    look(laptop, laptop.url)


def test_axe_finds_nothing_on_a_form_that_was_sent_back(demo, laptop: Page, troubles) -> None:
    troubles.allow("422")
    sign_in(laptop, demo)
    laptop.goto(f"{demo['url']}/blocks/assign")
    laptop.get_by_label("Hold", exact=True).fill("99")
    laptop.get_by_role("button", name="Assign").click()

    expect(laptop.get_by_text("Hold 99 counts: choose 2 to 32.").first).to_be_visible()
    expect(laptop.get_by_label("Hold", exact=True)).to_have_value("99")
    check(laptop, "the builder with an error")


def test_axe_finds_nothing_on_a_students_pages(demo, phone: Page, laptop: Page, troubles) -> None:
    troubles.allow("422")
    first = Student._base_manager.get(name=demo["students"][0]["name"])
    # In the evening today's check-in is filed already, and the page asks nothing.
    CheckIn._base_manager.filter(student=first, day=makers.today(first.studio)).delete()
    phone.goto(demo["url"] + demo["students"][0]["pair"])
    phone.get_by_role("button", name="Use this phone").click()
    phone.wait_for_url("**/practice/*")
    today = phone.url
    sign_in(laptop, demo)
    laptop.goto(f"{demo['url']}/students/{today.rsplit('/', 1)[-1]}")
    send(laptop, "Yes, confirm")

    recording_makers.leave(first)
    recording_makers.a_recording(first)
    for path in ("", "/check-in", "/month", "/session", "/recording", "/this-phone"):
        look(phone, today + path)
    phone.goto(today + "/this-phone")
    phone.get_by_role("button", name="Make a code").click()
    expect(phone.get_by_role("heading", name="A code to move")).to_be_visible()
    check(phone, "the code for a new browser")
    phone.goto(today + "/check-in")
    phone.get_by_role("button", name="Nothing hurt. Save for").click()
    expect(phone.get_by_role("button", name="Save anyway")).to_be_visible()
    check(phone, "the check-in with what is missing")
    phone.get_by_role("button", name="Save anyway").click()
    expect(phone.get_by_text("Saved. Your teacher can see it.")).to_be_visible()
    check(phone, "the check-in once it is saved")
    saved = CheckIn._base_manager.order_by("-pk")[0]
    assert saved.attack is None
    look(phone, f"{today}/saved/{saved.public_id}")


def test_axe_finds_nothing_on_the_pages_for_parents(
    demo, phone: Page, laptop: Page, troubles
) -> None:
    troubles.allow("404")
    sign_in(laptop, demo)
    student = Student._base_manager.filter(name="Nor")[0].public_id
    laptop.goto(f"{demo['url']}/students/{student}")
    send(laptop, "Tell parents there when something hurts")
    send(laptop, "Make a link for a parent")
    check(laptop, "the page with a link for a parent")
    phone.goto(laptop.locator("#link").inner_text())
    phone.get_by_role("button", name="Open the page").click()
    phone.wait_for_url(f"**/parent/{student}")
    expect(phone.get_by_role("heading", name="Almost there")).to_be_visible()
    look(phone, phone.url)
    laptop.goto(f"{demo['url']}/students/{student}")
    check(laptop, "the student's page with a parent's phone that waits")
    send(laptop, "Yes, a parent’s")

    for path in (f"/parent/{student}", f"/parent/{student}/phones", "/parent"):
        look(phone, demo["url"] + path)
    phone.get_by_role("link", name="Nor").click()
    phone.get_by_role("link", name="Is Nor’s phone lost?").click()
    expect(phone.get_by_role("heading", name="Nor’s phones")).to_be_visible()
    send(laptop, "End it")
    phone.goto(f"{demo['url']}/parent/{student}")
    expect(phone.get_by_text("A link for parents may have ended.")).to_be_visible()


def test_axe_finds_nothing_on_the_public_pages(demo, phone: Page) -> None:
    for path in (
        "/help", "/help/numbers", "/help/hearing", "/sign-in", "/pair", "/practice", "/parent",
        "/practice/no-signal", "/join",
    ):  # fmt: skip
        look(phone, demo["url"] + path)


@pytest.mark.parametrize("path", ["/first-run"])
def test_axe_finds_nothing_on_the_first_run(live_server, laptop: Page, path) -> None:
    look(laptop, live_server.url + path)


def test_axe_finds_nothing_where_strangers_may_open_a_studio(
    demo, laptop: Page, settings, troubles
) -> None:
    troubles.allow("422")
    settings.SIGN_UP = True
    for path in ("/sign-in", "/open-a-studio"):
        look(laptop, demo["url"] + path)
    laptop.get_by_label("Your e-mail").fill("bea@example.org")
    laptop.get_by_label("Studio’s name").fill(" ")  # a browser takes a space for a name
    laptop.get_by_label("Your name").fill("Bea")
    laptop.get_by_label("A password").fill("long notes")
    send(laptop, "Open the studio")
    expect(laptop.get_by_text("Studio’s name – This field is required.")).to_be_visible()
    check(laptop, "a studio that lacks its name")
