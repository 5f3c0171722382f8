"""The history of decisions as JSON Lines, and the page on what to do with it."""

import json
import re
import subprocess
import sys
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone
from django_scopes import scopes_disabled

from progress.models import Decision, LessonRating
from tests import makers, tree

pytestmark = pytest.mark.django_db
PAGE = (tree.TOP / "docs" / "refitting.md").read_text()


@pytest.fixture(autouse=True)
def every_row():
    with scopes_disabled():
        yield


def a_history(*, said=0.8, heard=4, name="Nor", ago=10):
    """A decision some days ago, and the lesson that was heard a week after it."""
    student = makers.a_student(makers.studio_of(makers.a_teacher()), name=name)
    day = makers.today(student.studio)
    block = makers.a_block(student, first_day=day - timedelta(days=28 + ago))
    decision = makers.a_decision(block, choice="later")
    Decision.objects.filter(pk=decision.pk).update(
        decided_at=timezone.now() - timedelta(days=ago),
        seen={"probability": said, "is_readable": True},
        reason=f"{name} is a dear",
    )
    four = dict.fromkeys(("attack", "sound", "evenness", "release"), heard)
    heard_on = day - timedelta(days=ago - 7)
    LessonRating.objects.create(
        student=student, block=block, day=heard_on, filed_on=heard_on, **four
    )
    return decision


def exported(**options):
    out = StringIO()
    call_command("export_decisions", stdout=out, **options)
    return [json.loads(line) for line in out.getvalue().splitlines()]


def test_a_line_holds_what_was_said_and_what_was_heard_next():
    decision = a_history(said=0.8, heard=4)

    (line,) = exported()

    assert line["said"]["probability"] == 0.8
    assert (line["choice"], line["undone"], line["next"]) == ("later", False, None)
    assert line["heard"] == [4, 4, 4, 4]
    assert line["asked"]["hold"] == 8
    assert line["block"] == decision.block.public_id


def test_nobodys_name_or_words_are_in_it():
    a_history(name="Quillfeather")

    assert "Quillfeather" not in json.dumps(exported())


def test_it_can_be_narrowed_to_one_studio_and_refuses_another():
    decision = a_history()
    a_history(name="Tam")

    assert len(exported()) == 2
    only = exported(studio=decision.student.studio.public_id)
    assert [line["decision"] for line in only] == [decision.public_id]
    with pytest.raises(CommandError, match="There is no studio 'nowhere': choose one of"):
        exported(studio="nowhere")


def test_the_program_on_the_page_reads_what_the_command_prints():
    (program,) = re.findall(r"```python\n(.*?)```", PAGE, re.S)
    a_history(said=0.9, heard=5)
    a_history(said=0.7, heard=3)
    said = "\n".join(json.dumps(line) for line in exported())

    answer = subprocess.run(
        [sys.executable, "-c", program], input=said, text=True, capture_output=True, check=True
    )

    # (0.9 - 1)^2 = .01 and (0.7 - 0)^2 = .49: the mean is .25, that of always saying .5 too.
    assert answer.stdout.splitlines() == [
        "2 decisions, 2 that can be judged",
        "   1 said 0.70, true 0.00",
        "   1 said 0.90, true 1.00",
        "Brier score 0.250; always saying 0.50 would score 0.250",
    ]


def test_the_page_says_how_little_twenty_decisions_say():
    """Wilson's interval (1927), by statsmodels, which is not part of the program."""
    from statsmodels.stats.proportion import proportion_confint  # noqa: PLC0415 - slow to load

    for successes, total in ((15, 20), (75, 100)):
        low, high = proportion_confint(successes, total, method="wilson")
        assert f"{low * 100:.0f} %" in PAGE
        assert f"{high * 100:.0f} %" in PAGE
