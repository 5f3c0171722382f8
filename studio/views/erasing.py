"""Erasing a student for good, and the record of what was done."""

from allauth.account.decorators import reauthentication_required
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from studio import access
from studio.http import TeacherRequest
from studio.models import Student
from studio.services.erase import erase
from studio.services.record import KEEP_DAYS
from studio.team_forms import EraseForm
from studio.team_queries import happenings

LINES = 200


@access.for_owner
@require_http_methods(["GET", "POST"])
def erase_student(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Say what is erased and what stays, and erase once the name was typed."""
    student = access.student_of(request.membership, student_id)
    if not request.membership.is_owner:
        raise PermissionDenied
    answer: HttpResponse = _erase(request, student)
    return answer


@reauthentication_required  # type: ignore[untyped-decorator]
def _erase(request: TeacherRequest, student: Student) -> HttpResponse:
    """Ask for the password again first: this cannot be taken back."""
    form = EraseForm(request.POST if request.method == "POST" else None, student=student)
    if form.is_valid():
        erase(student, by=request.user, moment=timezone.now())
        messages.success(request, _("The student is erased for good."))
        return redirect("routines:students")
    context = {"student": student, "form": form}
    status = 422 if form.is_bound else 200
    return render(request, "studio/erase.html", context, status=status)


@access.for_teacher
@require_GET
def record(request: TeacherRequest) -> HttpResponse:
    """Show what was done with people, phones and data."""
    lines = happenings(request.membership.studio, most=LINES)
    context = {"happenings": lines, "most": LINES, "days": KEEP_DAYS}
    return render(request, "studio/record.html", context)
