"""The student's own month: the line, a kind sentence, the highest good notes, what was said."""

from collections.abc import Sequence

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from progress.charts.month_line import month_line
from progress.engine.high_notes import HighNote
from progress.queries.decisions import word_to_student
from progress.queries.months import StudentMonth, student_month
from progress.queries.my_month import high_points_of, kind_words_of
from progress.views.line import line_days
from routines.engine import staff
from routines.engine.notes import Naming
from routines.engine.staff import StaffPicture
from routines.sheet import clef_of, naming_of
from routines.words import spoken_from
from studio import access
from studio.access import practice_day
from studio.http import StudioRequest
from studio.queries import parents_of
from studio.words import GrantState


@access.for_phone
@require_GET
def my_month(request: StudioRequest) -> HttpResponse:
    """Show a student the month so far; a phone nobody has confirmed yet does not see it."""
    grant, student = request.grant, request.grant.student
    if grant.state != GrantState.CONFIRMED:
        raise Http404
    month = student_month(student, practice_day(student.studio, timezone.now()))
    naming, points = naming_of(student), high_points_of(month)
    context = {
        "student": student,
        "month": month,
        "line": month_line(line_days(month)),
        "kind": kind_words_of(month),
        "naming": naming,
        "high_points": points,
        "picture": high_picture(month, points, naming),
        "word": word_to_student(student, month.block),
        "parents_read": parents_of(student).filter(state=GrantState.CONFIRMED).exists(),
    }
    return render(request, "progress/my_month.html", context)


def high_picture(
    month: StudentMonth, points: Sequence[HighNote], naming: Naming
) -> StaffPicture | None:
    """Draw the highest good notes on one staff, each with its date under it; None without any."""
    if month.version is None or not points:
        return None
    plan = month.version.plan
    said = [
        f"{date_format(one.day, 'j F')}: {capfirst(spoken_from(one.note, plan.start_note, naming))}"
        for one in points
    ]
    title = _("Your highest good notes. %(notes)s.") % {"notes": ". ".join(said)}
    return staff.draw(
        [one.note for one in points],
        clef_of(plan),
        title=title,
        naming=naming,
        captions=[(date_format(one.day, "j"), date_format(one.day, "M")) for one in points],
    )
