"""The page for parents: what was asked, the days, the teacher's words; a page to read only.

What a student answered day by day is not here: not as numbers, not as the height of a note, and no
word that was written to the teacher. That something hurt is told only where the teacher has chosen
so, and the student reads on their own month that it is.
"""

from dataclasses import replace

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.charts.month_line import DONE, LineDay, month_line
from progress.queries.decisions import word_to_student
from progress.queries.months import StudentMonth, student_month
from progress.queries.my_month import kind_words_of
from progress.queries.recordings import leave_of, recordings_of
from progress.views.line import line_days
from routines.sheet import naming_of, sheet
from studio import access, phone
from studio.access import practice_day
from studio.http import StudioRequest
from studio.models import Grant
from studio.words import GrantState

ONE_HEIGHT = 3  # the middle line: all days look alike


@access.for_parent
@require_GET
def parent(request: StudioRequest) -> HttpResponse:
    """Show a parent the month; a phone nobody has confirmed yet is asked to wait."""
    grant, student = request.grant, request.grant.student
    day = practice_day(student.studio, timezone.now())
    if grant.state == GrantState.CONFIRMED:
        context = _context(grant, student_month(student, day))
        response = render(request, "progress/parent.html", context)
    else:
        response = render(request, "progress/parent_waits.html")
    phone.keep_fresh(request, response, grant, day=day)
    response["Referrer-Policy"] = "no-referrer"
    return response


def _context(grant: Grant, month: StudentMonth) -> dict[str, object]:
    student, block, version = grant.student, month.block, month.version
    told = month.discomforts if student.parents_see_hurts else []
    days = [_without_answers(one, sees_hurts=student.parents_see_hurts) for one in line_days(month)]
    return {
        "student": student,
        "month": month,
        "line": month_line(days, small=True),
        "kind": kind_words_of(month),
        "sheet": sheet(version.plan, naming=naming_of(student), month=block.month)
        if version and block
        else None,
        "word": word_to_student(student, block),
        "told": told,
        "leave": leave_of(student),
        "sounds": recordings_of(student).exclude(file="").count(),
    }


def _without_answers(day: LineDay, *, sees_hurts: bool) -> LineDay:
    """Leave of a day whether it was filed; what was answered, and why it was not, stays out."""
    return replace(
        day,
        sound=ONE_HEIGHT if day.state in DONE else None,
        hurt=day.hurt and sees_hurts,
        why="",
    )
