"""A month from its first day to the next one, and how few presses it takes.

The month is played through the pages themselves, day after day on a clock that the test sets. The
numbers on the review are held against what `assess` says about the same rows. The budgets (6
presses for a lesson, 2 for a month's end) are decisions of this program.
"""

import re
from contextlib import contextmanager
from datetime import UTC, date, datetime, time, timedelta
from html import unescape

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django_scopes import scopes_disabled
from playwright.sync_api import Page, expect

from progress.models import CheckIn, Decision, LessonRating
from progress.templatetags.practice import likely
from routines.models import Block
from studio.models import Discomfort
from tests import makers
from tests.progress.lines import assessed
from tests.progress.test_review import a_month

FIRST = date(2026, 3, 2)
HELD = ("attack", "sound", "evenness", "release")
# A trumpet's walk from G4 down to F#3 and up to G5: 14 and 13 notes.
TO_G5 = 27


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


# ---------------------------------------------------------------------------- presses, in a browser


@pytest.fixture
def at_the_desk(live_server, laptop: Page):
    """A signed-in teacher, and a count of what she presses from then on."""
    teacher = makers.a_teacher()
    laptop.goto(f"{live_server.url}/sign-in")
    laptop.get_by_label("E-mail").fill(teacher.email)
    laptop.get_by_label("Password", exact=True).fill(makers.PASSWORD)
    laptop.get_by_role("button", name="Sign in").click()
    expect(laptop).to_have_title(re.compile("Overview"))
    return teacher


class Hand:
    """Presses things on a page and counts."""

    def __init__(self, page: Page) -> None:
        self.page, self.presses = page, 0

    def press(self, locator) -> None:
        locator.click()
        self.presses += 1


@pytest.mark.django_db(transaction=True)
def test_a_lesson_is_rated_in_six_presses_and_the_next_student_follows(at_the_desk, laptop):
    studio = makers.studio_of(at_the_desk)
    weekday = makers.today(studio).weekday()
    for name in ("Nor", "Tam"):
        makers.a_block(makers.a_student(studio, name=name, lesson_day=weekday))
    laptop.set_viewport_size({"width": 390, "height": 844})
    laptop.get_by_role("link", name="Lessons", exact=True).click()
    hand = Hand(laptop)

    hand.press(laptop.get_by_role("link", name="Start with Nor"))
    for number, row in enumerate(("clean start", "full, centred", "steady middle", "neat ending")):
        answers = laptop.get_by_role("group", name=re.compile(row))
        hand.press(answers.locator("label.choice").nth(number))
    hand.press(laptop.get_by_role("button", name="Save, and the next"))

    assert hand.presses == 6
    expect(laptop.get_by_role("heading", name="What did you hear of Tam?")).to_be_visible()
    rated = LessonRating.objects.get()
    assert [getattr(rated, name) for name in HELD] == [1, 2, 3, 4]


@pytest.mark.django_db(transaction=True)
def test_thirty_months_are_decided_in_two_presses_each_at_most(at_the_desk, laptop):
    studio = makers.studio_of(at_the_desk)
    for number in range(30):
        a_month(makers.a_student(studio, name=f"Student {number:02}"))
    laptop.get_by_role("link", name="Review", exact=True).click()

    for number in range(30):
        hand = Hand(laptop)
        expect(
            laptop.get_by_role("heading", name=f"What next for Student {number:02}?")
        ).to_be_visible()
        if number % 3 == 0:
            hand.press(laptop.get_by_role("button", name="Repeat"))
        elif number % 3 == 1:
            hand.press(laptop.get_by_role("button", name="Move on"))
            hand.press(laptop.get_by_role("button", name=re.compile("Take this.*Compact")))
        else:
            hand.press(laptop.get_by_role("button", name="Decide later"))
        assert hand.presses <= 2

    expect(laptop.get_by_text("10 put off today. The rest is decided.")).to_be_visible()
    choices = [row.choice for row in Decision.objects.all()]
    assert {name: choices.count(name) for name in set(choices)} == {
        "repeat": 10,
        "move on": 10,
        "later": 10,
    }
    assert Block.objects.count() == 50


@pytest.mark.django_db(transaction=True)
def test_the_keyboard_alone_decides_and_takes_back(at_the_desk, laptop):
    nor = makers.a_student(makers.studio_of(at_the_desk))
    a_month(nor)
    keys = laptop.keyboard

    def tab_to(words: str) -> None:
        for _ in range(80):
            keys.press("Tab")
            if words in laptop.evaluate("document.activeElement.textContent"):
                return
        pytest.fail(f"No Tab leads to {words}.")

    tab_to("Review")
    keys.press("Enter")
    expect(laptop.get_by_role("heading", name="What next for Nor?")).to_be_visible()
    tab_to("Move on")
    keys.press("Enter")
    expect(laptop.get_by_role("group", name="Move on to")).to_be_visible()
    tab_to("Take this")
    keys.press("Enter")
    expect(laptop.get_by_text("All 1 decided.")).to_be_visible()
    tab_to("Undo")
    keys.press("Enter")

    expect(laptop.get_by_role("heading", name="What next for Nor?")).to_be_visible()
    assert Decision.objects.get().undone_at is not None
    assert Block.objects.count() == 1


# --------------------------------------------------------------------------------- a month, played


@contextmanager
def on(day: date, hour: int = 17):
    """Set the clock to a day's practice time."""
    with time_machine.travel(datetime.combine(day, time(hour), UTC), tick=False):
        yield


class People:
    """A teacher at her desk and a student with a phone, on whatever day it is."""

    def __init__(self) -> None:
        self.teacher = makers.a_teacher()
        self.nor = makers.a_student(makers.studio_of(self.teacher), lesson_day=FIRST.weekday())
        self.paired = makers.a_grant(self.nor)

    @property
    def desk(self) -> Client:
        """Sign in anew: a teacher's sign-in lasts half a day."""
        return makers.signed_in(self.teacher)

    @property
    def phone(self) -> Client:
        return makers.a_phone(self.paired)

    def assign(self) -> None:
        page = self.desk.get(f"/blocks/assign?students={self.nor.public_id}")
        begun = page.context["form"].initial
        said = begun | {"top_note": 79, "first_day": FIRST.isoformat()}
        answer = self.desk.post("/blocks/assign", said)
        assert answer.status_code == 302, answer.context["form"].errors

    def check_in(self, day: date, rating: int, **answers) -> None:
        rated = dict.fromkeys(HELD, rating)
        said = makers.the_answers(day=day.isoformat(), seconds=424, share=1, **rated)
        answer = self.phone.post(f"/practice/{self.nor.public_id}/check-in", said | answers)
        assert answer.status_code == 302, answer.context["form"].errors

    def rate(self, day: date, rating: int) -> None:
        said = {**dict.fromkeys(HELD, str(rating)), "day": day.isoformat(), "note": ""}
        answer = self.desk.post(f"/students/{self.nor.public_id}/lesson", said)
        assert answer.status_code == 302, answer.context["form"].errors


@pytest.mark.django_db
def test_a_month_from_its_first_day_to_the_next_one(tmp_path):
    with on(FIRST - timedelta(days=30)):
        people = People()
    nor = people.nor
    with on(FIRST, hour=9):
        people.assign()
    block = Block.objects.get()

    play_the_month(people)

    block.refresh_from_db()
    last = block.last_day
    assert last == FIRST + timedelta(days=27 + len(AWAY))
    with on(last):
        review = people.desk.get("/review", follow=True)
        text = words_of(review)
        spoken = assessed(block, last, tmp_path, notes=TO_G5)
        assert likely(spoken["probability"]) in text, text
        assert f"{CheckIn.objects.count()} of" in text
        assert "Something hurt: lips, a lot" in text
        said = carried(review) | {"choice": "repeat", "reason": "Once more!", "shown": "on"}
        people.desk.post(review.redirect_chain[-1][0], said)

    decision = Decision.objects.get()
    for name in ("outcome", "probability", "weakest", "bias", "reasons", "variant"):
        assert decision.seen[name] == spoken[name], name
    following = makers.next_block_of(decision)
    assert following.first_day == last + timedelta(days=1)
    with on(following.first_day):
        today = words_of(people.phone.get(f"/practice/{nor.public_id}"))
        assert "Once more!" in today
        assert "Hold 8 · Rest 8" in today


def play_the_month(people: People) -> None:
    """A rising month: a pain in its second week, three days away, a lesson every Monday.

    The three days come on at the end.
    """
    for number in range(28 + len(AWAY)):
        day = FIRST + timedelta(days=number)
        with on(day):
            if day.weekday() == FIRST.weekday() and number:
                people.rate(day, 3 if number < 20 else 4)
            if day.weekday() == 6 or day in AWAY:
                continue
            if number == 8:
                hurt = {"hurt": "yes", "place": "lips", "how_much": "pain"}
                people.check_in(day, 3, **hurt)
                continue
            if number == 9:
                close_what_is_open(people)
            if number == 14:
                tell_away(people)
            people.check_in(day, 3 if number < 12 else 4)


AWAY = {FIRST + timedelta(days=number) for number in (15, 16, 17)}


def close_what_is_open(people: People) -> None:
    told = Discomfort.objects.get(closed_at=None)
    address = reverse("studio:close_discomfort", args=[told.public_id])
    people.desk.post(address, {"spoken_with_family": "on"})
    assert Discomfort.objects.filter(closed_at=None).count() == 0


def tell_away(people: People) -> None:
    said = {"kind": "away", "first_day": min(AWAY), "last_day": max(AWAY), "note": ""}
    address = reverse("progress:add_interruption", args=[people.nor.public_id])
    assert people.desk.post(address, said).status_code == 302


def carried(page) -> dict[str, str]:
    return {"key": str(page.context["key"]), "seen": page.context["seen"]}


def words_of(page) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page.content.decode())).split())
