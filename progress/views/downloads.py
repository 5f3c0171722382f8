"""Taking along what is kept: check-ins as a table, a student or the studio as one document."""

from collections.abc import Iterator

from allauth.account.decorators import reauthentication_required
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.exports import check_ins
from progress.exports.everything import student_text, studio_text
from progress.queries.news import standing_check_ins
from progress.queries.tables import one_moment
from routines.sheet import naming_of
from studio import access, limits
from studio.http import TeacherRequest, as_download
from studio.services.record import record, record_about
from studio.words import AuditKind


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
@require_POST
def student_copy(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Give everything about one student; a cover teacher takes nothing along."""
    student = access.student_of(request.membership, student_id)
    if not request.membership.may_change:
        raise PermissionDenied
    moment = timezone.now()
    limits.hold(limits.HEAVY_BY_TEACHER, request.membership.public_id, moment=moment)
    record_about(student, AuditKind.COPIED_STUDENT, by=request.user, moment=moment)
    return _document(student_text(student, moment), f"student-{student.public_id}.json")


@access.for_owner
@require_http_methods(["GET", "POST"])
def studio_copy(request: TeacherRequest) -> HttpResponse:
    """Give everything of the studio to an owner."""
    if not request.membership.is_owner:
        raise PermissionDenied
    answer: HttpResponse = _whole_studio(request)
    return answer


@reauthentication_required  # type: ignore[untyped-decorator]
def _whole_studio(request: TeacherRequest) -> HttpResponse:
    """Ask for the password again first: a teacher's own computer may be left open."""
    studio, moment = request.membership.studio, timezone.now()
    if request.method == "GET":
        return render(request, "progress/studio_copy.html", {"studio": studio})
    limits.hold(limits.HEAVY_BY_TEACHER, request.membership.public_id, moment=moment)
    record(studio, AuditKind.COPIED_STUDIO, by=request.user, moment=moment)
    return _document(studio_text(studio, moment), f"studio-{studio.public_id}.json")


def _document(pieces: Iterator[str], name: str) -> HttpResponse:
    with one_moment():
        content = "".join(pieces).encode()
    return as_download(content, name, "application/json")
