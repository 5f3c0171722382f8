"""How many presses a teacher's tasks take, counted in a browser: the budgets are decisions of ours.

A press is one click or one choice in a list; typing nothing, scrolling and signing in do not count.
"""

import re
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from playwright.sync_api import Locator, Page, expect

from progress.models import CheckIn
from routines.models import Block
from tests import makers

pytestmark = pytest.mark.django_db(transaction=True)
NAMES = ("Ada", "Bo", "Cleo", "Dag", "Edda", "Finn", "Gro", "Hal", "Ines", "Jon", "Kaia", "Lars")


class Presses:
    """Presses things and counts."""

    def __init__(self) -> None:
        self.count = 0

    def __call__(self, thing: Locator) -> None:
        thing.click()
        self.count += 1


@pytest.fixture
def press(request, figures) -> Iterator[Presses]:
    presses = Presses()
    yield presses
    task = request.node.originalname.removeprefix("test_").replace("_", " ")
    figures.append(f"{presses.count} presses: {task}")


@pytest.fixture
def studio():
    teacher = makers.a_teacher(email="runa@filar.example")
    return makers.studio_of(teacher)


@pytest.fixture
def open_desk(live_server, studio, laptop: Page) -> Callable[[], Page]:
    """Sign the teacher in, to the overview; called once the studio has its people."""

    def sign_in() -> Page:
        laptop.goto(f"{live_server.url}/sign-in")
        laptop.get_by_label("E-mail").fill("runa@filar.example")
        laptop.get_by_label("Password", exact=True).fill(makers.PASSWORD)
        laptop.get_by_role("button", name="Sign in").click()
        expect(laptop).to_have_title(re.compile("Overview"))
        return laptop

    return sign_in


def test_a_template_goes_to_one_student_in_five_presses_at_most(studio, open_desk, press):
    nor = makers.a_student(studio)
    makers.a_block(nor, first_day=makers.today(studio) - timedelta(days=12))
    makers.a_template(studio, name="Six counts", plan=makers.a_plan(hold=6))
    desk = open_desk()

    press(desk.get_by_role("link", name="Nor", exact=True))
    press(desk.get_by_role("link", name="Next block"))
    press(desk.get_by_role("button", name=re.compile("Six counts")))
    expect(desk.get_by_label("Hold", exact=True)).to_have_value("6")
    press(desk.get_by_role("button", name="Assign to Nor"))

    expect(desk.get_by_role("heading", name="Assigned")).to_be_visible()
    assert Block._base_manager.filter(student=nor).count() == 2
    assert press.count <= 5


def test_a_template_goes_to_twelve_in_eight_presses_at_most(studio, open_desk, press):
    for number, name in enumerate(NAMES):
        instrument = ("trumpet_bb", "horn_f", "tuba_f")[number % 3]
        makers.a_block(makers.a_student(studio, name=name, instrument=instrument))
    makers.a_student(studio, name="Without a block")
    makers.a_template(studio, name="Six counts", plan=makers.a_plan(hold=6))
    desk = open_desk()

    press(desk.get_by_role("link", name="Assign a block", exact=True))
    press(desk.get_by_role("button", name=re.compile("Hold 8 · Rest 8 12")))
    expect(desk.get_by_role("button", name="Assign to 12")).to_be_visible()
    press(desk.get_by_role("button", name=re.compile("Six counts")))
    expect(desk.get_by_label("Hold", exact=True)).to_have_value("6")
    expect(desk.locator("#taken")).to_contain_text("Where these days are taken")
    press(desk.locator("#taken").get_by_text("Start after it", exact=True).first)
    press(desk.get_by_role("button", name="Assign to 12"))

    expect(desk.get_by_role("heading", name="Assigned")).to_be_visible()
    assert Block._base_manager.count() == 24
    assert press.count <= 8


def test_the_same_again_for_a_group_is_one_press_and_the_assigning(studio, open_desk, press):
    for name in NAMES[:4]:
        student = makers.a_student(studio, name=name, group="Town Band")
        makers.a_block(student, plan=makers.a_plan(hold=4 + len(name)))
    desk = open_desk()

    press(desk.get_by_role("link", name="Assign a block", exact=True))
    press(desk.get_by_role("button", name=re.compile("^All")))
    press(desk.get_by_role("button", name=re.compile("The same again for 4")))
    expect(desk.locator("#again-part")).to_contain_text("Cleo")
    press(desk.get_by_role("button", name="Assign to 4"))

    expect(desk.get_by_role("heading", name="Assigned")).to_be_visible()
    assert Block._base_manager.count() == 8
    assert press.count <= 5


def test_who_needs_a_look_among_forty_is_seen_without_a_press(studio, open_desk, press):
    today = makers.today(studio)
    for number in range(38):
        makers.a_block(makers.a_student(studio, name=f"Student {number:02}"), first_day=today)
    hurt, quiet = makers.a_student(studio, name="Xenia"), makers.a_student(studio, name="Yrsa")
    makers.a_block(hurt)
    makers.a_discomfort(hurt, place="lips")
    makers.a_block(quiet, first_day=today - timedelta(days=14))
    desk = open_desk()

    for size in ({"width": 1280, "height": 800}, {"width": 390, "height": 844}):
        desk.set_viewport_size(size)
        expect(desk.get_by_role("link", name="Xenia", exact=True)).to_be_in_viewport()
        expect(desk.get_by_text("Told you something hurt: lips")).to_be_in_viewport()
    names = desk.locator("#parts .row-name a").all_inner_texts()
    assert names[:2] == ["Xenia", "Yrsa"]
    assert press.count == 0


def test_a_wrong_day_is_found_and_put_right_in_four_presses_at_most(studio, open_desk, press):
    nor, today = makers.a_student(studio), makers.today(studio)
    makers.a_check_in(nor, block=makers.a_block(nor), day=today)
    meant = today - timedelta(days=1)
    desk = open_desk()

    press(desk.get_by_role("link", name="Nor", exact=True))
    press(desk.get_by_role("link", name="Wrong day?"))
    press(desk.get_by_role("button", name=f"{meant:%a} {meant.day} {meant:%B}"))

    expect(desk.get_by_text(f"It counts for {meant:%A} {meant.day} {meant:%B} now")).to_be_visible()
    assert CheckIn._base_manager.filter(source="teacher", day=meant).exists()
    assert press.count <= 4
