"""The teacher's overview: who needs a look, and the months that end."""

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.charts import MonthLine, month_line
from progress.queries import StudentMonth, studio_months
from progress.views.line import line_days
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.queries import phones_to_confirm

FOLD_ABOVE = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One student on the overview, with the month as a small line of music."""

    month: StudentMonth
    line: MonthLine


@access.for_teacher
@require_GET
def overview(request: TeacherRequest) -> HttpResponse:
    """Show the studio, whoever needs the teacher first."""
    day = practice_day(request.membership.studio, timezone.now())
    students = access.students_of(request.membership)
    months = studio_months(students, day)
    rows = [Row(month=month, line=month_line(line_days(month), small=True)) for month in months]
    context = {
        "day": day,
        "look_in": sorted(
            (row for row in rows if row.month.reasons),
            key=lambda row: (
                [reason.code != "hurt" for reason in row.month.reasons],
                -max(reason.figure for reason in row.month.reasons),
            ),
        ),
        "calm": [row for row in rows if not row.month.reasons and row.month.is_running],
        "idle": [row for row in rows if not row.month.reasons and not row.month.is_running],
        "ending": sorted(
            (month for month in months if month.is_ending),
            key=lambda month: (month.block.last_day if month.block else day, month.student.name),
        ),
        "phones": list(phones_to_confirm(students)),
        "fold": len(rows) > FOLD_ABOVE,
    }
    return render(request, "progress/overview.html", context)
