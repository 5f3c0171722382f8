"""The teacher's overview: who needs a look, and the months that end."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.engine.attention import Standing
from progress.queries.months import StudentMonth, studio_months
from progress.views.row import Row, row_of
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.queries import phones_to_confirm, told_apart

FOLD_ABOVE = 20
LOOK_IN = (Standing.REST_AND_ASK, Standing.LOOK_IN)
WITHOUT_CONCERN = (Standing.NOT_CLEAR, Standing.NO_CONCERN, Standing.NOT_ENOUGH)


@access.for_teacher
@require_GET
def overview(request: TeacherRequest) -> HttpResponse:
    """Show the studio, whoever needs the teacher first."""
    day = practice_day(request.membership.studio, timezone.now())
    students = access.students_of(request.membership)
    months = studio_months(students, day)
    apart = told_apart(month.student for month in months)
    rows = sorted(
        (row_of(month, small=True, apart=apart.get(month.student.pk, "")) for month in months),
        key=_need,
    )
    context = {
        "day": day,
        "ending": sorted((month for month in months if month.is_ending), key=_end),
        "phones": list(phones_to_confirm(students)),
        "fold": len(rows) > FOLD_ABOVE,
        **_groups(rows),
    }
    return render(request, "progress/overview.html", context)


def _groups(rows: Sequence[Row]) -> dict[str, Any]:
    """Part the rows by what the teacher would do about them."""
    look_in = [row for row in rows if row.standing in LOOK_IN or row.month.reasons]
    rest = [row for row in rows if row not in look_in]
    running = [row for row in rest if row.month.is_running]
    return {
        "look_in": look_in,
        "may_be_ready": [row for row in running if row.standing is Standing.MAY_BE_READY],
        "repeat": [row for row in running if row.standing is Standing.REPEAT],
        "calm": [row for row in running if row.standing in WITHOUT_CONCERN],
        "idle": [row for row in rest if not row.month.is_running],
    }


def _need(row: Row) -> tuple[int, float, str]:
    """Order rows: the gravest standing, then the longest reason, the highest chance, the name."""
    place = list(Standing).index(row.standing) if row.standing else len(Standing)
    longest = max((reason.figure for reason in row.month.reasons), default=0)
    chance = row.assessment.chance if row.assessment and row.assessment.is_readable else 0.0
    return (place, -longest - chance, row.month.student.name)


def _end(month: StudentMonth) -> tuple[Any, str]:
    return (month.block.last_day if month.block else month.day, month.student.name)
