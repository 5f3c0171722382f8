"""My month on the phone: the line, the kind sentence, the highest notes, the teacher's words."""

import re
from datetime import timedelta

import pytest
from django.template.loader import render_to_string

from progress.engine.kind_words import Code, KindWord
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture
def nor():
    return makers.a_student(makers.a_studio())


@pytest.fixture
def block(nor):
    first_day = makers.today(nor.studio) - timedelta(days=20)
    return makers.a_block(nor, first_day=first_day, message="Breathe low.")


def month_of(student) -> str:
    page = makers.a_phone(makers.a_grant(student)).get(f"/practice/{student.public_id}/month")
    assert page.status_code == 200
    return " ".join(page.content.decode().split())


def practise(nor, block, *, notes=(), **answers):
    """File a check-in on each of the block's first days, with the given answers in turn."""
    rows = max(len(notes), *(len(row) for row in answers.values()), 0)
    for number in range(rows):
        makers.a_check_in(
            nor, block=block, day=block.first_day + timedelta(days=number),
            high_note=notes[number] if notes else None,
            **{name: row[number] for name, row in answers.items()},
        )  # fmt: skip


def test_a_month_of_cleaner_endings_is_said_to_the_student(nor, block):
    practise(nor, block, release=[2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4])

    assert "12 days. Your endings got cleaner." in month_of(nor)


def test_a_month_that_fell_is_said_by_its_days_alone(nor, block):
    practise(nor, block, release=[5, 5, 5, 5, 3, 3, 3, 3, 1, 1, 1, 1])

    page = month_of(nor)

    assert re.search(r'<p class="kind-words">12 days\.\s*</p>', page)
    assert "got" not in page


def test_the_highest_good_notes_stand_on_a_staff_with_their_dates_and_in_a_table(nor, block):
    practise(nor, block, notes=[78, 79, 84], release=[4, 4, 4])
    first = block.first_day

    page = month_of(nor)

    said = f"{first.day} {first:%B}: High F sharp."
    assert f"Your highest good notes. {said}" in page
    assert 'High C."' in page
    assert re.findall(r"<td>(\S+)</td></tr>", page.split('id="high"')[1]) == ["F♯5", "G5", "C6"]
    assert page.count('class="staff-caption"') == 6


def test_the_notes_are_called_as_the_student_calls_them(nor, block):
    nor.note_naming = "french"
    nor.save()
    practise(nor, block, notes=[78], release=[4])

    page = month_of(nor)

    assert "High fa dièse" in page
    assert "<td>fa♯5</td>" in page


def test_without_a_note_there_is_no_staff_and_without_a_day_a_word(nor, block):
    page = month_of(nor)

    assert 'class="staff"' not in page
    assert 'class="kind-words"' not in page


def test_before_any_block_the_page_says_what_will_stand_there(nor):
    page = month_of(nor)

    assert "Your notes will appear here." in page
    assert "data-print" not in page


def test_the_teachers_words_are_shown(nor, block):
    assert "Breathe low." in month_of(nor)


@pytest.mark.parametrize("name", ["", "Nor"])
@pytest.mark.parametrize("code", [code for code in Code if code is not Code.DAYS])
def test_every_word_has_its_sentence(code, name):
    kind = (KindWord(Code.DAYS, 18), KindWord(code, 0.5))

    said = render_to_string("progress/_kind_words.html", {"kind": kind, "name": name}).strip()

    whose = "Nor’s" if name else "Your"
    assert re.fullmatch(rf"18 days\. {whose} \w+ got \w+\.", said)


def test_one_day_is_a_day():
    kind = (KindWord(Code.DAYS, 1),)

    assert render_to_string("progress/_kind_words.html", {"kind": kind}).strip() == "1 day."
