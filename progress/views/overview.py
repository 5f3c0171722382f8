"""The teacher's overview: who needs a look, and the months that end."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.engine.attention import Standing
from progress.forms.overview import OverviewFilter
from progress.queries.kept_months import kept_months
from progress.views.row import Row, kept_row_of
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.queries import phones_to_confirm, told_apart

FOLD_ABOVE = 20
LOOK_IN = (Standing.REST_AND_ASK, Standing.LOOK_IN)
PARTS = ("look_in", "may_be_ready", "ending", "calm", "idle")


@access.for_teacher
@require_GET
def overview(request: TeacherRequest) -> HttpResponse:
    """Show the studio, or a part of it, whoever needs the teacher first."""
    return render(request, "progress/overview.html", gather(request))


def gather(request: TeacherRequest) -> dict[str, Any]:
    """Find all that the overview's template says."""
    day = practice_day(request.membership.studio, timezone.now())
    students = access.students_of(request.membership)
    everybody = kept_months(students, day)
    apart = told_apart(month.student for month in everybody)
    form = OverviewFilter(request.GET, students=[month.student for month in everybody])
    months = form.among(everybody)
    rows = sorted(
        (kept_row_of(month, apart=apart.get(month.student.pk, "")) for month in months),
        key=_need,
    )
    return {
        "day": day,
        "form": form,
        "everybody": len(everybody),
        "shown": len(months),
        "count_ending": sum(month.is_ending for month in months),
        "apart": apart,
        "phones": list(phones_to_confirm(students)),
        "fold": len(rows) > FOLD_ABOVE,
        **_groups(rows),
    }


def _groups(rows: Sequence[Row]) -> dict[str, list[Row]]:
    """Part the rows by what the teacher would do about them; each stands in one part."""
    parts: dict[str, list[Row]] = {name: [] for name in PARTS}
    for row in rows:
        parts[_part(row)].append(row)
    parts["ending"].sort(key=lambda row: row.month.block.last_day if row.month.block else date.max)
    return parts


def _part(row: Row) -> str:
    if row.standing in LOOK_IN or row.month.reasons:
        return "look_in"
    if row.standing is Standing.MAY_BE_READY:
        return "may_be_ready"
    if row.month.is_ending:
        return "ending"
    return "calm" if row.month.is_running else "idle"


def _need(row: Row) -> tuple[int, float, str]:
    """Order rows: the gravest standing, then the longest reason, the highest chance, the name."""
    place = list(Standing).index(row.standing) if row.standing else len(Standing)
    longest = max((reason.figure for reason in row.month.reasons), default=0)
    chance = row.assessment.chance if row.assessment and row.assessment.is_readable else 0.0
    return (place, -longest - chance, row.month.student.name)
