"""Taking along what is kept: check-ins as a table, a student or the studio as one document."""

from collections.abc import Iterator

from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.exports import check_ins
from progress.exports.everything import student_text, studio_text
from progress.queries.months import standing_check_ins
from progress.queries.tables import one_moment
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


@access.for_teacher
@require_GET
def student_copy(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Give everything about one student; a cover teacher takes nothing along."""
    student = access.student_of(request.membership, student_id)
    if not request.membership.may_change:
        raise PermissionDenied
    return _document(student_text(student, timezone.now()), f"student-{student.public_id}.json")


@access.for_owner
@require_GET
def studio_copy(request: TeacherRequest) -> HttpResponse:
    """Give everything of the studio to an owner."""
    if not request.membership.is_owner:
        raise PermissionDenied
    studio = request.membership.studio
    return _document(studio_text(studio, timezone.now()), f"studio-{studio.public_id}.json")


def _document(pieces: Iterator[str], name: str) -> HttpResponse:
    with one_moment():
        content = "".join(pieces).encode()
    return as_download(content, name, "application/json")
