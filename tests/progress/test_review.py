"""The month-end review: what stands on it, the four choices, and the next one by itself."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.forms.decisions import signed
from progress.models import Decision, LessonRating
from progress.queries.kept_months import STORE
from progress.queries.months import student_month
from progress.queries.review import month_facts
from routines.models import Block
from routines.queries import version_on
from tests import makers
from tests.progress.lines import assessed

pytestmark = pytest.mark.django_db
# A trumpet's walk from G4 down to F#3 and up to G5: 14 and 13 notes.
TO_G5 = 27
MOST_QUERIES = 30


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def studio(teacher):
    return makers.studio_of(teacher)


@pytest.fixture
def desk(teacher):
    return makers.signed_in(teacher)


@pytest.fixture
def nor(studio):
    return makers.a_student(studio)


def a_month(student, *, ended_days_ago=0, rating=4, heard=4, **values):
    """A month with a check-in on every day and a lesson a week, ended some days ago."""
    first = makers.today(student.studio) - timedelta(days=27 + ended_days_ago)
    block = makers.a_block(student, first_day=first, **values)
    four = ("attack", "sound", "evenness", "release")
    for number in range(28):
        answers = dict.fromkeys(four, rating)
        day = first + timedelta(days=number)
        makers.a_check_in(student, block=block, day=day, completed=1.0, seconds=424, **answers)
    for number in (6, 13, 20, 27):
        day = first + timedelta(days=number)
        ratings = dict.fromkeys(four, heard)
        LessonRating.objects.create(student=student, block=block, day=day, filed_on=day, **ratings)
    return block


def page_of(block):
    return reverse("progress:review_block", args=[block.public_id])


def press(desk, block, **said):
    """Press a button on the page as it is shown now, with what its form carries along."""
    shown = desk.get(page_of(block)).context
    carried = {"key": str(shown["key"]), "seen": shown["seen"]}
    return desk.post(page_of(block), carried | said)


def test_without_a_month_that_ends_the_page_says_so(desk, nor):
    makers.a_block(nor, first_day=makers.today(nor.studio))

    assert "No months end in the next 7 days." in desk.get("/review").content.decode()


def test_the_review_opens_with_the_month_that_ended_first(desk, studio):
    later = a_month(makers.a_student(studio, name="Bo"))
    first = a_month(makers.a_student(studio, name="Cid"), ended_days_ago=3)

    page = desk.get("/review", follow=True)

    assert page.redirect_chain == [(page_of(first), 302)]
    assert "1 of 2." in page.content.decode()
    assert page_of(later) in page.content.decode()


def test_four_choices_of_equal_rank_and_none_is_picked(desk, nor):
    page = desk.get(page_of(a_month(nor, heard=5, rating=5))).content.decode()

    for words in ("Move on", "Repeat", "Change something", "Decide later"):
        assert words in page
    assert "aria-pressed" not in page
    assert page.count("Suggested") == 1


def test_repeat_takes_one_press_and_the_next_student_follows(desk, studio, nor, teacher):
    block = a_month(nor, ended_days_ago=2)
    following = a_month(makers.a_student(studio, name="Tam"))

    answer = press(desk, block, choice="repeat", reason="For the low notes", shown="on")

    assert answer.url == f"{page_of(following)}#main"
    kept = Decision.objects.get()
    assert (kept.by, kept.choice, kept.reason, kept.shown_to_student) == (
        teacher,
        "repeat",
        "For the low notes",
        True,
    )
    assert makers.next_block_of(kept).first_day == makers.today(nor.studio)
    assert "2 of 2." in desk.get(answer.url).content.decode()


def test_move_on_asks_where_to_and_keeps_the_reason(desk, nor):
    block = a_month(nor)

    asked = press(desk, block, choice="move on", reason="Clean starts")

    assert asked.status_code == 200
    page = asked.content.decode()
    assert "Clean starts" in page
    assert "Hold 12 · Rest 8" in page
    assert Decision.objects.count() == 0
    press(desk, block, take="endurance", reason="Clean starts")
    made = Decision.objects.get()
    assert (made.choice, made.variables) == ("move on", ["hold"])
    following = makers.next_block_of(made)
    asked_next = version_on(following, following.first_day)
    assert (asked_next.hold, asked_next.rest) == (12, 8)


def test_more_than_one_variable_is_asked_about_once_and_recorded(desk, nor):
    block = a_month(nor, plan=makers.a_plan(nor, hold=12, rest=8))

    asked = press(desk, block, take="recovery")

    page = asked.content.decode()
    assert "This changes 2 things at once: hold and rest." in page
    assert Decision.objects.count() == 0
    sure_of = asked.context["form"].plan_code
    press(desk, block, sure="move on", to="recovery", sure_of=sure_of)
    assert Decision.objects.get().variables == ["hold", "rest"]


def typed(nor, **changes):
    plan = makers.a_plan(nor, **changes)
    return {
        "instrument": plan.instrument,
        "hold": plan.hold,
        "rest": plan.rest,
        "tempo": plan.tempo,
        "start_note": plan.start_note,
        "low_note": plan.low_note,
        "top_note": plan.top_note or "open",
        "back": plan.back.value,
        "dynamics": str(plan.dynamics),
    }


def test_change_something_is_filled_with_what_is_asked_now(desk, nor):
    block = a_month(nor, plan=makers.a_plan(nor, tempo=72))

    page = press(desk, block, choice="change")

    assert page.context["plan_form"]["tempo"].value() == 72
    assert Decision.objects.count() == 0


def test_a_changed_plan_is_the_next_month(desk, nor):
    block = a_month(nor)

    press(desk, block, give="yes", **typed(nor, tempo=66))

    made = Decision.objects.get()
    assert (made.choice, made.variables) == ("change", ["tempo"])
    following = makers.next_block_of(made)
    assert version_on(following, following.first_day).tempo == 66


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"hold": 99}, "Hold 99 counts: choose 2 to 32."),
        ({}, "Nothing is changed: change something, or press Repeat."),
        ({"tempo": ""}, "This plan cannot be played yet"),
    ],
)
def test_a_plan_that_cannot_be_given_comes_back_with_what_was_typed(desk, nor, changes, message):
    block = a_month(nor)

    page = press(desk, block, give="yes", reason="Typed", **(typed(nor) | changes))

    assert page.status_code == 422
    assert message in page.content.decode()
    assert "Typed" in page.content.decode()
    assert Decision.objects.count() == 0


@pytest.mark.parametrize(
    "said",
    [
        {"choice": "fly"},
        {"choice": ""},
        {},
        {"take": "nonsense"},
        {"choice": "repeat", "key": "no key"},
        {"choice": "repeat", "reason": "x" * 501},
        {"sure": "nonsense"},
    ],
)
def test_nonsense_is_answered_in_words_and_changes_nothing(desk, nor, said):
    block = a_month(nor)

    page = press(desk, block, **said)

    assert page.status_code == 422
    assert "Not saved yet" in page.content.decode()
    assert Decision.objects.count() == 0


def test_evidence_that_is_not_this_pages_own_is_refused(desk, studio, nor):
    block, other = a_month(nor), a_month(makers.a_student(studio, name="Tam"))

    for seen in ("made:up:text", "", desk.get(page_of(other)).context["seen"]):
        page = press(desk, block, choice="repeat", seen=seen)
        assert page.status_code == 409

    assert Decision.objects.count() == 0


def test_a_yes_to_one_plan_is_no_yes_to_another(desk, nor):
    block = a_month(nor)
    asked = press(desk, block, give="yes", **typed(nor, hold=11, tempo=56))
    sure = {"sure": "change", "sure_of": asked.context["form"].plan_code}

    other = press(desk, block, **sure, **typed(nor, hold=20, rest=2))

    assert "This changes 2 things at once: hold and rest." in other.content.decode()
    assert Decision.objects.count() == 0
    press(desk, block, **sure, **typed(nor, hold=11, tempo=56))
    assert Decision.objects.get().variables == ["hold", "tempo"]


def test_a_plan_that_was_typed_stays_when_something_new_came_in(desk, nor):
    block = a_month(nor)
    shown = desk.get(page_of(block)).context
    makers.a_discomfort(nor)

    said = {"key": str(shown["key"]), "seen": shown["seen"], "give": "yes"}
    page = desk.post(page_of(block), said | typed(nor, hold=11))

    assert page.status_code == 409
    assert page.context["plan_form"]["hold"].value() == "11"
    assert 'value="11"' in page.content.decode()
    assert str(page.context["key"]) != str(shown["key"])


@pytest.mark.parametrize("other", [{"variant": None}, {"asked": {"hold": "9"}}, {"open": 1}])
def test_a_step_that_is_another_by_now_is_shown_before_it_is_given(desk, nor, other):
    block = a_month(nor, heard=5, rating=5)
    shown = desk.get(page_of(block)).context
    assert shown["page"].step is not None

    page = press(desk, block, take="step", seen=signed(shown["page"].seen | other))

    assert page.status_code == 409
    assert Decision.objects.count() == 0


def test_the_way_to_the_next_student_leads_to_the_top_of_the_page(desk, studio, nor):
    block = a_month(nor, ended_days_ago=1)
    a_month(makers.a_student(studio, name="Tam"))

    assert press(desk, block, choice="repeat").url.endswith("#main")


def test_repeat_means_what_the_month_ends_on(desk, nor):
    first = makers.today(nor.studio) - timedelta(days=25)
    block = makers.a_block(nor, first_day=first)
    tomorrow = makers.today(nor.studio) + timedelta(days=1)
    makers.a_version(block, plan=makers.a_plan(nor, hold=14), from_day=tomorrow)

    press(desk, block, choice="repeat")

    following = makers.next_block_of(Decision.objects.get())
    assert version_on(following, following.first_day).hold == 14


def test_what_was_planned_after_the_end_never_came(nor):
    block = a_month(nor, ended_days_ago=2)
    after = block.last_day + timedelta(days=1)
    makers.a_version(block, plan=makers.a_plan(nor, hold=12), from_day=after)

    month = student_month(nor, makers.today(nor.studio))

    assert month.version is not None
    assert month.version.hold == 8


def test_a_mouth_event_that_is_over_is_named_beside_the_evidence_it_cut(desk, nor):
    block = a_month(nor)
    event = block.first_day + timedelta(days=15)
    makers.an_interruption(
        nor,
        kind="mouth",
        first_day=event,
        last_day=event,
        note="Braces",
        confirmed_at=timezone.now(),
    )

    for page in (page_of(block), reverse("progress:student", args=[nor.public_id])):
        said = " ".join(desk.get(page).content.decode().split())
        assert "Braces" in said
        assert f"The evidence begins anew on {event.day} {event:%B}" in said


def test_an_archived_student_is_not_decided_about(desk, nor):
    block = a_month(nor)
    nor.archived_on = makers.today(nor.studio)
    nor.save()

    assert desk.get(page_of(block)).status_code == 404


def test_a_week_is_not_due_on_the_day_it_begins(nor):
    today = makers.today(nor.studio)
    makers.a_block(nor, first_day=today, length_days=7)

    assert not student_month(nor, today).is_ending
    assert student_month(nor, today + timedelta(days=3)).is_ending


def test_what_is_kept_is_what_stood_on_the_page_and_what_assess_says(desk, nor, tmp_path):
    block = a_month(nor, heard=5, rating=5, plan=makers.a_plan(nor, top_note=79))

    press(desk, block, choice="repeat")

    seen = Decision.objects.get().seen
    spoken = assessed(block, makers.today(nor.studio), tmp_path, notes=TO_G5)
    for name in ("outcome", "probability", "weakest", "bias", "reasons", "variant"):
        assert seen[name] == spoken[name], name


def test_something_new_since_the_page_was_opened_is_looked_at_first(desk, nor):
    block = a_month(nor, heard=5, rating=5)
    shown = desk.get(page_of(block)).context
    makers.a_discomfort(nor)

    said = {"key": str(shown["key"]), "seen": shown["seen"], "choice": "move on"}
    page = desk.post(page_of(block), said | {"take": "endurance", "reason": "Up!"})

    assert page.status_code == 409
    assert "Something new came in" in page.content.decode()
    assert "Talk first." in page.content.decode()
    assert "Up!" in page.content.decode()
    assert Decision.objects.count() == 0


def test_with_something_open_nothing_harder_is_offered(desk, nor):
    block = a_month(nor, heard=5, rating=5)
    makers.a_discomfort(nor)

    page = press(desk, block, choice="move on").content.decode()

    assert "Talk first." in page
    assert "Hold 4 · Rest 4" in page
    assert "Hold 12 · Rest 8" not in page
    assert "Suggested" not in page


def test_a_third_repeat_is_pointed_out(desk, nor):
    first = makers.today(nor.studio) - timedelta(days=27)
    for number in (2, 1):
        makers.a_block(nor, first_day=first - timedelta(days=28 * number))
    block = a_month(nor)

    assert "repeat number 3" in desk.get(page_of(block)).content.decode()


def test_another_screen_is_told_and_its_words_are_kept(desk, nor):
    block = a_month(nor)
    shown = desk.get(page_of(block)).context
    press(desk, block, choice="repeat")

    said = {"key": "7b0c7a51-7a1b-4b0e-9b1a-000000000001", "seen": shown["seen"]}
    page = desk.post(page_of(block), said | {"choice": "later", "reason": "Not sure yet"})

    assert page.status_code == 409
    assert "You decided this on another screen at" in page.content.decode()
    assert "Not sure yet" in page.content.decode()


def test_undo_brings_the_month_back(desk, nor):
    block = a_month(nor)
    press(desk, block, choice="repeat")
    assert "Undo" in desk.get("/review").content.decode()

    desk.post(reverse("progress:undo_decision", args=[Decision.objects.get().public_id]))

    assert desk.get("/review").url == page_of(block)
    assert Block.objects.count() == 1


def test_an_edit_of_the_next_month_that_undo_takes_along_is_named(desk, nor):
    block = a_month(nor)
    press(desk, block, choice="repeat")
    decision = Decision.objects.get()
    made = makers.next_block_of(decision)
    later = made.first_day + timedelta(days=7)
    edit = makers.a_version(made, plan=makers.a_plan(nor, hold=10), from_day=later)
    edited_at = f"{timezone.localtime(edit.made_at):%H:%M}"
    listed = desk.get("/review").content.decode()

    undo = reverse("progress:undo_decision", args=[decision.public_id])
    page = desk.post(undo, follow=True).content.decode()

    assert f"The next month was changed at {edited_at}: undo takes that back too." in listed
    assert f"with the change of the next month that was made at {edited_at}." in page
    assert not Block.objects.filter(pk=made.pk).exists()


def test_where_nothing_was_edited_undo_names_no_edit(desk, nor):
    press(desk, a_month(nor), choice="repeat")
    listed = desk.get("/review").content.decode()

    undo = reverse("progress:undo_decision", args=[Decision.objects.get().public_id])
    page = desk.post(undo, follow=True).content.decode()

    assert "was changed at" not in listed
    assert "Taken back. What next for Nor?" in page


@pytest.mark.parametrize("days_later", [1, 30])
def test_a_month_that_another_block_came_after_offers_no_choice(desk, nor, days_later):
    block = a_month(nor, ended_days_ago=28 + days_later)
    newer = makers.a_block(nor, first_day=block.last_day + timedelta(days=1))

    page = desk.get(page_of(block)).content.decode()

    assert newer.first_day <= makers.today(nor.studio)
    assert "Another block came after this one" in page
    assert "Decide later" not in page


def test_two_of_one_name_are_told_apart_among_the_months_ending(desk, studio):
    for group in ("School", "Town band"):
        block = a_month(makers.a_student(studio, group=group))
    press(desk, block, choice="repeat")

    page = desk.get("/review", follow=True).content.decode()

    assert "-flat trumpet, <bdi>School</bdi>. " in page
    assert '<span class="soft"><bdi>Town band</bdi></span>' in page


def test_put_off_the_month_goes_to_the_end_and_the_page_says_how_many(desk, nor):
    block = a_month(nor)

    answer = press(desk, block, choice="later")

    assert answer.url == "/review#main"
    assert "1 put off today." in desk.get("/review").content.decode()


def test_a_shared_reason_reaches_the_phone_and_another_does_not(desk, nor):
    block = a_month(nor, ended_days_ago=1)
    phone = makers.a_phone(makers.a_grant(nor))
    press(desk, block, choice="repeat", reason="Well held!", shown="on")

    assert "Well held!" in phone.get(f"/practice/{nor.public_id}").content.decode()
    assert "Well held!" in phone.get(f"/practice/{nor.public_id}/month").content.decode()
    Decision.objects.update(shown_to_student=False)
    assert "Well held!" not in phone.get(f"/practice/{nor.public_id}").content.decode()


def test_thirty_students_take_one_press_each(desk, studio):
    for number in range(30):
        a_month(makers.a_student(studio, name=f"Student {number:02}"))

    page, presses = desk.get("/review", follow=True), 0
    while page.context.get("form") is not None:
        carried = {"key": str(page.context["key"]), "seen": page.context["seen"]}
        address = page.redirect_chain[-1][0].partition("#")[0]
        page = desk.post(address, carried | {"choice": "repeat"}, follow=True)
        presses += 1

    assert presses == 30
    assert "All 30 decided." in page.content.decode()
    assert Decision.objects.count() == 30


def test_thirty_months_ending_take_as_many_queries_as_three(desk, studio):
    blocks = [a_month(makers.a_student(studio, name=f"Student {n:02}")) for n in range(3)]
    with CaptureQueriesContext(connection) as few:
        desk.get(page_of(blocks[0]))
    for number in range(3, 12):
        a_month(makers.a_student(studio, name=f"Student {number:02}"))
    # Where only some are new, they take one more.
    STORE.forget()

    with CaptureQueriesContext(connection) as many:
        desk.get(page_of(blocks[0]))

    assert len(many) == len(few), [query["sql"] for query in many]
    assert len(few) <= MOST_QUERIES


def test_the_first_ten_days_stand_against_the_last_ten(nor):
    block = a_month(nor)
    makers.a_check_in(
        nor,
        block=block,
        day=block.first_day,
        sound=1,
        high_note=72,
        done_at=timezone.now(),
    )

    facts = month_facts(student_month(nor, makers.today(nor.studio)), block)

    by_name = {one.name: one for one in facts.compared}
    # Nine answers of 4 and one of 1: 37 / 10.
    assert by_name["sound"].first == pytest.approx(3.7)
    assert (by_name["sound"].last, by_name["sound"].heard_last) == (4.0, 4.0)
    assert by_name["effort"].heard_first is None
    assert facts.late is not None
    assert facts.first_high is not None
    assert (facts.early.last_day - facts.early.first_day).days == 9
    assert (facts.late.last_day - facts.late.first_day).days == 9
    assert facts.first_high.note == 72


def test_nobody_else_sees_or_decides(nor):
    block = a_month(nor)
    stranger = makers.signed_in(makers.a_teacher())

    assert stranger.get(page_of(block)).status_code == 404
    assert stranger.post(page_of(block), {"choice": "repeat"}).status_code == 404
    assert Client().get(page_of(block)).status_code == 302
