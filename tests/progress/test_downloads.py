"""Check-ins as CSV, read by pandas; and the files that a teacher takes along."""

import csv
from datetime import timedelta
from io import BytesIO, StringIO

import pandas
import pytest
from django.urls import reverse
from django_scopes import scopes_disabled

from progress.exports.check_ins import HEADINGS, harmless
from tests import makers

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def nor(teacher):
    return makers.a_student(makers.studio_of(teacher), name="Łukasz")


def the_file(teacher, name, *names):
    answer = makers.signed_in(teacher).get(reverse(name, args=names))
    assert answer.status_code == 200
    assert answer["Content-Disposition"].startswith("attachment; filename=")
    return answer.content


def test_pandas_reads_what_was_answered_and_what_was_not(teacher, nor):
    block = makers.a_block(nor)
    today = makers.today(nor.studio)
    makers.a_check_in(nor, block=block, day=today - timedelta(days=1), sound=None, high_note=66)
    makers.a_check_in(nor, block=block, day=today, trouble=[], completed=0.5, seconds=424)

    table = pandas.read_csv(BytesIO(the_file(teacher, "progress:table", nor.public_id)))

    assert tuple(table.columns) == HEADINGS
    assert table["clean start"].tolist() == [4, 4]
    assert pandas.isna(table["full sound"][0])
    assert table["highest good note"][0] == "F♯4"
    assert table["hard where"][1] == "nowhere"
    assert (table["share played"][1], table["minutes"][1]) == (0.5, 7.1)


def test_a_day_answered_twice_is_one_row_with_the_later_answer(teacher, nor):
    block = makers.a_block(nor)
    first = makers.a_check_in(nor, block=block, sound=2)
    makers.a_check_in(nor, block=block, sound=5, done_at=first.done_at + timedelta(hours=1))

    table = pandas.read_csv(BytesIO(the_file(teacher, "progress:table", nor.public_id)))

    assert table["full sound"].tolist() == [5]


@pytest.mark.parametrize(
    "words", ["=1+1", "+1", "-1", "@sum", "=cmd|' /C calc'!A0", "＝1+1", "－1"]
)
def test_what_looks_like_a_formula_comes_out_as_text(teacher, nor, words):
    makers.a_check_in(nor, block=makers.a_block(nor), words=words)

    text = the_file(teacher, "progress:table", nor.public_id).decode("utf-8-sig")

    row = next(csv.DictReader(StringIO(text)))
    assert row["words"] == f"'{words}"


@pytest.mark.parametrize("cell", ['Zoë, "quoted"', "two\nlines", "a;b"])
def test_other_words_come_through_as_they_are(teacher, nor, cell):
    makers.a_check_in(nor, block=makers.a_block(nor), words=cell)

    text = the_file(teacher, "progress:table", nor.public_id).decode("utf-8-sig")

    assert next(csv.DictReader(StringIO(text)))["words"] == cell
    assert harmless(None) == ""


def test_the_walk_is_that_of_the_day_and_named_after_nobody(teacher, nor):
    block = makers.a_block(nor)

    notes = the_file(teacher, "routines:notes", block.public_id)
    sound = the_file(teacher, "routines:sound", block.public_id)

    assert b"score-partwise" in notes
    assert sound.startswith(b"MThd")
    answer = makers.signed_in(teacher).get(reverse("routines:sound", args=[block.public_id]))
    assert "ukasz" not in answer["Content-Disposition"]
