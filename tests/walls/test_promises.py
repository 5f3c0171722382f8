"""Each promise of the README names tests that are there, and the last one is held here."""

import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django_scopes import scopes_disabled

from progress.models import Decision
from routines.models import Block
from tests import makers, tree

README = (tree.TOP / "README.md").read_text()


def promises():
    """The promises as (number, the tests it names)."""
    part = README.partition("## What you can rely on")[2].partition("\n## ")[0]
    pieces = re.split(r"^(\d)\. ", part, flags=re.MULTILINE)[1:]
    return {
        int(number): re.findall(r"`(tests/[\w/]+\.py)::(test_\w+)`", words)
        for number, words in zip(pieces[::2], pieces[1::2], strict=True)
    }


def is_there(path, test):
    """Whether a test of this name stands in this file."""
    file = tree.TOP / path
    return file.exists() and re.search(rf"^def {test}\(", file.read_text(), re.M) is not None


def test_there_are_eight_promises_and_each_names_a_test():
    assert list(promises()) == list(range(1, 9))
    assert [number for number, tests in promises().items() if not tests] == []


@pytest.mark.parametrize("number", range(1, 9))
def test_the_tests_that_a_promise_names_are_there(number):
    assert [named for named in promises()[number] if not is_there(*named)] == []


def test_a_test_that_is_not_there_would_be_found():
    assert not is_there("tests/walls/test_promises.py", "test_that_nobody_wrote")
    assert not is_there("tests/none.py", "test_there_are_eight_promises_and_each_names_a_test")


@pytest.mark.django_db
def test_nothing_but_a_teachers_word_makes_a_block_or_a_decision():
    studio = makers.a_studio()
    teacher, student = makers.a_teacher(studio), makers.a_student(studio)
    day = makers.today(studio)
    block = makers.a_block(student, first_day=day - timedelta(days=29))
    for back in range(2, 29):
        makers.a_check_in(student, block=block, day=day - timedelta(days=back), sound=5)
    pages = ["progress:overview", "progress:review", "progress:lessons", "progress:reports"]

    for page in pages:
        assert makers.signed_in(teacher).get(reverse(page), follow=True).status_code == 200
    assert makers.a_phone(makers.a_grant(student)).get(
        reverse("progress:today", args=[student.public_id])
    ).status_code == 200  # fmt: skip
    call_command("send_letters", verbosity=0)

    with scopes_disabled():
        assert list(Block.objects.values_list("pk", flat=True)) == [block.pk]
        assert Decision.objects.count() == 0
