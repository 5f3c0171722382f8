"""Taking check-ins along as a table."""

from django.http import HttpResponse
from django.views.decorators.http import require_GET

from progress.exports import check_ins
from progress.queries.months import standing_check_ins
from routines.sheet import naming_of
from studio import access
from studio.http import TeacherRequest, as_download


@access.for_teacher
@require_GET
def table(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Give all of a student's check-ins, the latest answer of each day."""
    student = access.student_of(request.membership, student_id)
    latest = {row.day: row for row in standing_check_ins().filter(student=student)}
    written = check_ins.write((latest[day] for day in sorted(latest)), naming=naming_of(student))
    return as_download(
        written.encode(), f"check-ins-{student.public_id}.csv", "text/csv; charset=utf-8"
    )
