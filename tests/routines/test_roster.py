"""Lists of students, good and bad, as spreadsheets really write them.

The good ones are written by Python's own csv module and codecs (RFC 4180), in every mixture of
letters, divider and line end. No answer is a 500, nothing is imported in part, and letters that
were guessed are never taken unseen.
"""

import csv
from datetime import date, timedelta
from io import BytesIO, StringIO
from itertools import product

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone
from django_scopes import scopes_disabled

from routines.engine.roster import Letters, RosterError, as_text, read
from studio.models import Student
from tests import makers

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 31)
PEOPLE = [
    ("Zoë", "trumpet", "Tuesday", "yes", "zoe@example.org"),
    ("Nor", "horn", "Fri", "2026-01-10", ""),
    ("Jürgen", "Euphonium", "", "31.1.2026", ""),
]
HEADING = ("Name", "Instrument", "Lesson day", "Parent's OK", "Parent e-mail")
CODECS = ("utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252")
GOOD = list(product(CODECS, (",", ";", "\t"), ("\n", "\r\n", "\r"), (0, 1)))


def a_file(
    codec="utf-8", divider=",", ending="\n", quoting=0, rows=PEOPLE, heading=HEADING
) -> bytes:
    out = StringIO()
    sheet = csv.writer(out, delimiter=divider, lineterminator=ending, quoting=quoting)
    sheet.writerows([heading, *rows] if heading else rows)
    return out.getvalue().encode(codec)


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


@pytest.fixture
def teacher():
    return makers.a_teacher()


@pytest.fixture
def desk(teacher):
    return makers.signed_in(teacher)


def sent(desk, content: bytes, name="list.csv", **said):
    return desk.post("/students/list", {"file": SimpleUploadedFile(name, content), **said})


@pytest.mark.parametrize(("codec", "divider", "ending", "quoting"), GOOD)
def test_a_list_is_read_whatever_its_letters_divider_and_line_ends(codec, divider, ending, quoting):
    sheet = read(a_file(codec, divider, ending, quoting), today=TODAY)

    assert [row.name for row in sheet.rows] == ["Zoë", "Nor", "Jürgen"]
    assert [row.instrument for row in sheet.rows] == ["trumpet_bb", "horn_f", "euphonium_bc"]
    assert [row.lesson_day for row in sheet.rows] == [1, 4, None]
    assert [row.consent_on for row in sheet.rows] == [TODAY, date(2026, 1, 10), date(2026, 1, 31)]
    assert not any(row.problems for row in sheet.rows)
    assert sheet.is_guessed is (codec == "cp1252")


BAD_FILES = {
    "Excel": b"PK\x03\x04\x14\x00\x06\x00",
    "old Excel": b"\xd0\xcf\x11\xe0\xa1\xb1",
    "PDF": b"%PDF-1.7\n1 0 obj",
    "packed": b"\x1f\x8b\x08\x00",
    "picture": b"\x89PNG\r\n\x1a\n\x00",
    "JPEG": b"\xff\xd8\xff\xe0",
    "rich text": b"{\\rtf1\\ansi",
    "program": b"MZ\x90\x00",
    "nothing": b"",
    "blanks": b" \n\t\n  ",
    "only dividers": b",,,\n,,,\n",
    "a mark alone": b"\xef\xbb\xbf",
    "heading alone": b"name,instrument\n",
    "noughts": b"\x00\x01\x02\x03\x04",
    "odd UTF-16": b"\xff\xfen\x00a",
    "no name column": b"instrument,lesson day,group\nhorn,Mon,A\n",
    "two names": b"name,name\nNor,Tam\n",
    "no heading, three columns": b"Nor,horn,Tuesday\nTam,horn,Friday\n",
    "open quote": b'name,instrument\n"Nor,horn\n' + b"Tam,horn\n" * 40_000,
    "too wide": b"name" + b",x" * 60 + b"\nNor" + b",x" * 60,
    "too long a cell": b"name,group\nNor," + b"x" * 201,
    "too many": b"name,instrument\n" + b"Nor,horn\n" * 501,
    "too big": b"x" * 1_000_001,
    "undefined bytes": b"name,instrument\nN\x81r,horn\n",
}
BAD_ROWS = {
    "no name": (b"name,instrument\n,horn\n", "Row 2: no name."),
    "no instrument": (b"name,instrument\nNor,\n", "Row 2: no instrument."),
    "unknown instrument": (b"name,instrument\nNor,kazoo\n", "“kazoo” is not known here"),
    "doubled": (b"name,instrument\nNor,horn\nTam,horn\nnor ,Horn\n", "nor is in row 2 already."),
    "no weekday": (b"name,instrument,day\nNor,horn,someday\n", "lesson day “someday”"),
    "two ways": (b"name,instrument,consent\nNor,horn,03/04/2026\n", "parent’s OK “03/04/2026”"),
    "to come": (b"name,instrument,consent\nNor,horn,2099-01-01\n", "still to come"),
    "no such day": (b"name,instrument,consent\nNor,horn,2026-02-30\n", "parent’s OK"),
    "no address": (b"name,instrument,email\nNor,horn,at home\n", "“at home” is no address"),
    "ragged": (b"name,instrument\nNor,horn,more,more\n", "more cells than headings"),
    "long name": (b"name,instrument\n" + b"N" * 90 + b",horn\n", "over 80 letters"),
}


def test_there_are_a_hundred_and_fifty_lists_of_them():
    assert len(GOOD) + len(BAD_FILES) + len(BAD_ROWS) + len(ODD_BUT_GOOD) >= 150


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_file_that_is_no_list_is_answered_in_words(desk, name):
    page = sent(desk, BAD_FILES[name])

    assert page.status_code == 422
    assert "Not saved yet" in page.content.decode()
    with pytest.raises(RosterError):
        read(BAD_FILES[name], today=TODAY)
    assert Student.objects.count() == 0


@pytest.mark.parametrize("name", BAD_ROWS)
def test_a_row_that_is_wrong_is_named_and_nobody_is_added(desk, name):
    content, words = BAD_ROWS[name]
    content += b"Fine,horn\n"

    looked = sent(desk, content)
    added = sent(desk, content, add="yes")

    assert words in looked.content.decode()
    assert added.status_code == 422
    assert Student.objects.count() == 0


ODD_BUT_GOOD = {
    "names alone": (b"Nor\nTam\n", {"instrument": "horn_f"}),
    "name and instrument, no heading": (b"Nor,horn\nTam,trumpet\n", {}),
    "headings in another order": (b"Instrument;Vorname\nhorn;Nor\ntrumpet;Tam\n", {}),
    "columns nobody asked for": (b"Name,Phone,Instrument\nNor,123,horn\nTam,,horn\n", {}),
    "blank lines": (b"\n\nname,instrument\n\nNor,horn\n\n\nTam,horn\n", {}),
    "quoted comma": (b'name,instrument\n"Nor, the tall",horn\nTam,horn\n', {}),
    "blanks round cells": (b"name , instrument\n  Nor  , HORN \nTam,Horn\n", {}),
    "no line end at the end": (b"name,instrument\nNor,horn\nTam,horn", {}),
    "our own file": (b"name,instrument\nNor,F horn (single)\nTam,trumpet_bb\n", {}),
}  # fmt: skip


@pytest.mark.parametrize("name", [name for name in ODD_BUT_GOOD if name != "our own file"])
def test_what_people_really_send_is_read(desk, name):
    content, more = ODD_BUT_GOOD[name]

    answer = sent(desk, content, add="yes", **more)

    assert answer.status_code == 302, answer.context["form"].errors
    assert Student.objects.count() == 2


def test_letters_that_were_guessed_are_not_taken_unseen(desk):
    content = a_file("cp1252")

    page = sent(desk, content)
    refused = desk.post(
        "/students/list", {"text": page.context["text"], "guessed": "yes", "add": "y"}
    )

    assert "Do these names look right?" in page.content.decode()
    assert refused.status_code == 422
    assert Student.objects.count() == 0
    said = {"text": page.context["text"], "guessed": "yes", "looked": "on", "add": "y"}
    assert desk.post("/students/list", said).status_code == 302
    assert Student.objects.filter(name="Zoë").exists()


def test_other_letters_can_be_chosen(desk):
    content = "name,instrument\nŁukasz,horn\n".encode("cp1250")

    page = sent(desk, content, letters="cp1250")

    assert "Łukasz" in page.content.decode()


def test_thirty_students_are_added_by_what_the_box_carries(desk):
    rows = [(f"Student {number}", "horn", "", "", "") for number in range(30)]
    page = sent(desk, a_file(rows=rows))

    answer = desk.post("/students/list", {"text": page.context["text"], "add": "yes"})

    assert answer.url == "/students/list/added"
    assert Student.objects.count() == 30
    assert "30 new." in desk.get(answer.url).content.decode()


def test_a_list_is_taken_back_but_nobody_who_is_in_use(desk):
    sent(desk, a_file(), add="yes")
    makers.a_block(Student.objects.get(name="Nor"))

    page = desk.post("/students/list/undo", follow=True)

    assert [student.name for student in Student.objects.all()] == ["Nor"]
    assert "Not taken back: Nor." in page.content.decode()


def test_after_ten_minutes_a_list_stays(desk, monkeypatch):
    sent(desk, a_file(), add="yes")
    later = timezone.now() + timedelta(minutes=10)
    monkeypatch.setattr("routines.views.roster.timezone.now", lambda: later)

    desk.post("/students/list/undo")

    assert Student.objects.count() == 3


@pytest.mark.parametrize(("choice", "count"), [("leave", 3), ("add", 4)])
def test_a_name_that_is_here_already_is_left_out_or_added_as_another(desk, teacher, choice, count):
    makers.a_student(makers.studio_of(teacher), name="nor", instrument="tuba_f")

    page = sent(desk, a_file())
    assert "Here already" in page.content.decode()
    desk.post("/students/list", {"text": page.context["text"], "already": choice, "add": "yes"})

    assert Student.objects.count() == count


@pytest.mark.parametrize("cell", ["=1+1", "+Nor", "-Nor", "@Nor"])
def test_a_cell_that_looks_like_a_formula_is_a_name_and_nothing_more(desk, cell):
    sent(desk, a_file(rows=[(cell, "horn", "", "", "")]), add="yes")

    assert Student.objects.get().name == cell


def test_a_file_in_another_format_is_refused_by_its_name(desk):
    page = sent(desk, a_file(), name="students.xlsx")

    assert "The file ends in “xlsx”" in page.content.decode()


def test_what_was_read_is_written_so_that_it_reads_the_same():
    first = read(a_file(), today=TODAY)

    again = read(as_text(first.rows).encode(), today=TODAY)

    assert [row.name for row in again.rows] == [row.name for row in first.rows]
    assert [row.consent_on for row in again.rows] == [row.consent_on for row in first.rows]
    assert first.letters is Letters.UTF_8


def test_the_list_to_start_from_is_one_that_is_read(desk):
    content = desk.get("/students/list/sample.csv").content

    assert [row.name for row in read(content, today=TODAY).rows] == ["Anouk"]


@pytest.mark.parametrize("seed", range(40))
def test_noise_is_never_more_than_an_error_in_words(seed):
    import random  # noqa: PLC0415 - only here

    draw = random.Random(seed)  # noqa: S311 - noise
    good = bytearray(a_file(draw.choice(CODECS), draw.choice(",;\t")))
    for _ in range(draw.randrange(1, 30)):
        good[draw.randrange(len(good))] = draw.randrange(256)

    try:
        rows = read(bytes(BytesIO(good).read()), today=TODAY).rows
    except RosterError as error:
        assert str(error).endswith((".", "first"))  # noqa: PT017 - either is an answer
    else:
        assert all(isinstance(row.name, str) for row in rows)
