"""The list of students, and the form of one: who they are and what they play."""

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from routines.forms.students import StudentForm
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Student
from studio.queries import told_apart
from studio.services import people


@access.for_teacher
@require_GET
def students(request: TeacherRequest) -> HttpResponse:
    """List the studio's students, and folded below them those who have left."""
    left: QuerySet[Student] = Student.objects.filter(archived_on__isnull=False).order_by("name")
    students = access.students_of(request.membership)
    context = {"students": students, "left": left, "apart": told_apart([*students, *left])}
    return render(request, "routines/students.html", context)


@access.for_teacher
@require_http_methods(["GET", "POST"])
def add_student(request: TeacherRequest) -> HttpResponse:
    """Add one student."""
    form = StudentForm(
        request.POST if request.method == "POST" else None,
        today=practice_day(request.membership.studio, timezone.now()),
    )
    if form.is_valid():
        try:
            student = people.add_student(
                request.membership.studio, teacher=request.user, **form.cleaned_data
            )
        except people.StudioIsFullError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, _("%(name)s is added.") % {"name": student.name})
            return redirect("progress:student", student.public_id)
    return render(request, "routines/student_form.html", {"form": form, "student": None})


@access.for_teacher
@require_http_methods(["GET", "POST"])
def change_student(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Change a student's details; blocks keep the instrument they were made for."""
    student = access.student_of(request.membership, student_id)
    form = StudentForm(
        request.POST if request.method == "POST" else None,
        initial=StudentForm.initial_of(student),
        today=practice_day(request.membership.studio, timezone.now()),
    )
    if form.is_valid():
        people.change_student(student, by=request.user, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("progress:student", student.public_id)
    return render(request, "routines/student_form.html", {"form": form, "student": student})


@access.for_teacher
@require_POST
def archive_student(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Take a student off the lists, or put one back."""
    student = access.student_of(request.membership, student_id)
    if student.archived_on is None:
        day = practice_day(request.membership.studio, timezone.now())
        people.archive_student(student, day=day, moment=timezone.now(), by=request.user)
        messages.success(
            request,
            _("%(name)s is off the lists; the phones are signed out.") % {"name": student.name},
        )
    else:
        people.bring_back_student(student, moment=timezone.now(), by=request.user)
        messages.success(request, _("%(name)s is back on the lists.") % {"name": student.name})
    return redirect("routines:students")
