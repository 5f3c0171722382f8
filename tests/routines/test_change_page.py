"""The page that changes a block, through the browser's requests."""

from datetime import timedelta

import pytest
from django_scopes import scopes_disabled

from routines.engine import timeline
from routines.forms.plan import as_fields
from routines.models import Block, BlockVersion
from studio.words import day_in_words
from tests import makers

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


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
def block(nor):
    return makers.a_block(nor, plan=makers.a_plan(nor, top_note=79))


@pytest.fixture
def desk(teacher):
    return makers.signed_in(teacher)


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


def path_of(block) -> str:
    return f"/blocks/{block.public_id}/change"


def typed(block, from_day, **changes) -> dict[str, object]:
    return {**as_fields(block.versions.get().plan), "from_day": from_day.isoformat()} | changes


def said(page) -> str:
    return " ".join(str(message) for message in page.context["messages"])


def test_the_page_is_filled_with_what_is_asked_now(desk, block, today):
    form = desk.get(path_of(block)).context["form"]

    shown = [form[name].value() for name in ("hold", "rest", "tempo", "top_note", "from_day")]
    assert shown == [8, 8, 60, 79, today]


def test_a_change_is_saved_and_said_on_the_students_page(desk, block, today):
    page = desk.post(path_of(block), typed(block, today, hold=10), follow=True)

    assert page.redirect_chain[0][0] == f"/students/{block.student.public_id}"
    assert said(page) == "Saved. From today: Hold 10 · Rest 8."
    assert f"; from {today.day} {today:%B} Hold 10 · Rest 8." in page.content.decode()
    assert BlockVersion.objects.get(from_day=today).hold == 10


def test_a_change_of_a_block_that_has_not_begun_is_said_too(desk, nor, today):
    block = makers.a_block(nor, first_day=today + 3 * DAY)

    page = desk.post(path_of(block), typed(block, today + 3 * DAY, hold=10), follow=True)

    assert said(page) == f"Saved. From {day_in_words(today + 3 * DAY)}: Hold 10 · Rest 8."
    assert BlockVersion.objects.get().hold == 10


@pytest.mark.parametrize(("played", "begins"), [(False, 0), (True, 1)])
def test_the_way_there_begins_tomorrow_where_today_is_played(
    desk, nor, block, today, played, begins
):
    if played:
        makers.a_check_in(nor, block=block, day=today)

    page = desk.get(f"/students/{nor.public_id}").content.decode()

    way = f"{path_of(block)}?from={today + begins * DAY}"
    assert way in page
    assert desk.get(way).context["form"]["from_day"].value() == today + begins * DAY


@pytest.mark.parametrize("asked", ["", "yesterday", "2026-02-30", "0001-01-01", "9999-12-31"])
def test_a_day_in_the_address_that_cannot_be_is_left_aside(desk, block, today, asked):
    form = desk.get(path_of(block), {"from": asked}).context["form"]

    assert form["from_day"].value() == today


def test_the_last_day_once_played_offers_no_change(desk, nor, today):
    block = makers.a_block(nor, first_day=today - 27 * DAY)
    makers.a_check_in(nor, block=block, day=today)

    assert path_of(block) not in desk.get(f"/students/{nor.public_id}").content.decode()


def test_what_it_comes_to_stands_beside_what_it_is_now(desk, block, today):
    page = desk.post(
        path_of(block), typed(block, today, hold=12) | {"preview": "yes"},
        headers={"hx-request": "true"},
    )  # fmt: skip

    plan = makers.a_plan(block.student, hold=12, top_note=79)
    assert page.templates[0].name == "routines/_change_preview.html"
    assert page.context["then"].totals == timeline.build(plan).totals
    # 27 notes of 12 counts at 60 with 26 rests of 8 between: 324 + 208 seconds; now 216 + 208.
    assert "27 notes. 8 min 52 s a day, of which 5 min 24 s playing." in page.content.decode()
    assert "<td>7 min</td><td>9 min</td>" in page.content.decode()
    assert BlockVersion.objects.count() == 1


def test_the_preview_says_what_cannot_be_while_it_is_typed(desk, block, today):
    page = desk.post(
        path_of(block), typed(block, today, hold=99) | {"preview": "yes"},
        headers={"hx-request": "true"},
    )  # fmt: skip

    assert page.status_code == 200
    assert "Hold 99 counts: choose 2 to 32." in page.content.decode()


def test_without_javascript_the_preview_is_the_page_with_what_was_typed(desk, block, today):
    page = desk.post(path_of(block), typed(block, today, hold=12) | {"preview": "yes"})

    assert page.status_code == 200
    assert page.context["form"]["hold"].value() == "12"
    assert "8 min 52 s a day" in page.content.decode()


def test_advice_is_given_as_in_the_builder(desk, block, today):
    page = desk.post(path_of(block), typed(block, today, rest=4) | {"preview": "yes"})

    assert "The rest is shorter than the hold" in page.content.decode()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"hold": "99"}, "Hold 99 counts: choose 2 to 32."),
        ({"hold": ""}, "Nothing is written here: fill it in."),
        ({"from_day": "soon"}, "There is no such day"),
        ({"from_day": "2020-01-01"}, "is past, and past days keep what they had"),
        ({"top_note": "4"}, "This is not on the list"),
        ({}, "This is what Nor is asked already: change something, or go back."),
    ],
)
def test_what_cannot_be_is_said_and_what_was_typed_stays(desk, block, today, changes, words):
    page = desk.post(path_of(block), typed(block, today, tempo="60") | changes)

    assert page.status_code == 422
    assert words in page.content.decode()
    for name, value in changes.items():
        assert page.context["form"][name].value() == value
    assert BlockVersion.objects.count() == 1


@pytest.mark.parametrize("instrument", ["", "kazoo", "tuba_f"])
def test_a_block_keeps_its_instrument_whatever_is_sent(desk, block, today, instrument):
    desk.post(path_of(block), typed(block, today, hold=10, instrument=instrument))

    assert Block.objects.get().instrument == "trumpet_bb"
    assert BlockVersion.objects.count() == 2


def test_a_student_on_another_instrument_by_now_keeps_how_the_blocks_is_built(desk, teacher, today):
    uli = makers.a_student(
        makers.studio_of(teacher), instrument="euphonium_bc", four_valves=True, compensating=True
    )
    block = makers.a_block(uli)
    uli.instrument, uli.four_valves, uli.compensating = "trumpet_bb", None, None
    uli.save()

    desk.post(path_of(block), typed(block, today, hold=10))

    assert BlockVersion.objects.get(from_day=today).plan.setup == makers.a_plan(
    ).setup.__class__(four_valves=True, compensating=True)  # fmt: skip


def test_an_open_discomfort_is_said_by_the_students_name(desk, nor, block):
    makers.a_discomfort(nor)

    page = desk.get(path_of(block)).content.decode()

    assert "</bdi> told you that something hurt, and it is still open." in page
    assert "set nothing harder" in page


def test_what_is_planned_already_is_said(desk, nor, block, today):
    makers.a_version(block, plan=makers.a_plan(nor, hold=10, top_note=79),
                     from_day=today + 3 * DAY)  # fmt: skip

    page = desk.get(path_of(block)).content.decode()

    assert f"From {day_in_words(today + 3 * DAY)}: Hold 10 · Rest 8." in page


def test_a_block_that_is_over_leads_back_and_says_what_to_do(desk, nor, today):
    block = makers.a_block(nor, first_day=today - 28 * DAY)

    page = desk.get(path_of(block), follow=True)

    assert said(page).endswith("assign the next one instead.")


def test_a_change_sent_after_the_sign_in_ran_out_changes_nothing(client, block, today):
    page = client.post(path_of(block), typed(block, today, hold=10), follow=True)

    assert "You were signed out, so nothing was saved." in page.content.decode()
    assert BlockVersion.objects.count() == 1


def test_an_open_page_says_that_the_sign_in_ran_out(client, block, today):
    answer = client.post(
        path_of(block), typed(block, today) | {"preview": "yes"}, headers={"hx-request": "true"}
    )

    assert answer.headers["HX-Retarget"] == "#preview-notice"
    assert "You are signed out, and nothing is saved." in answer.content.decode()
    assert f"?next={path_of(block)}" in answer.content.decode()
