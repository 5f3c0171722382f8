"""Rating at a lesson: one student, or a lesson day's students one after another."""

from datetime import date
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from progress.forms.answers import QUESTION
from progress.forms.lessons import LessonRatingForm
from progress.queries.lessons import heard_on, lesson_day
from progress.services.lessons import LessonError, rate_lesson
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Student
from studio.queries import told_apart
from studio.words import WEEKDAYS


@access.for_teacher
@require_GET
def lessons(request: TeacherRequest) -> HttpResponse:
    """List who has a lesson on a weekday, and who was heard already today."""
    day = practice_day(request.membership.studio, timezone.now())
    weekday = _weekday(request, day)
    listed = lesson_day(access.students_of(request.membership), weekday=weekday, day=day)
    context = {
        "day": day,
        "weekday": weekday,
        "weekdays": list(enumerate(WEEKDAYS)),
        "listed": listed,
        "apart": told_apart(place.student for place in listed),
        "next": next((place.student for place in listed if place.heard is None), None),
    }
    return render(request, "progress/lessons.html", context)


@access.for_teacher
@require_http_methods(["GET", "POST"])
def rate(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Rate one student; from a lesson day's list, the next one follows by itself."""
    student = access.student_of(request.membership, student_id)
    day = practice_day(student.studio, timezone.now())
    form = LessonRatingForm(
        request.POST if request.method == "POST" else None,
        initial=heard_on(student, _day_of(request, day)),
        today=day,
    )
    if form.is_valid():
        try:
            rate_lesson(student, by=request.user, filed_on=day, **form.cleaned_data)
        except LessonError as error:
            form.add_error("day", str(error))
        else:
            messages.success(
                request, _("Saved what you heard of %(name)s.") % {"name": student.name}
            )
            return redirect(_after(request, student, day))
    context = {"student": student, "form": form, "question": QUESTION, "list": _list_of(request)}
    status = 422 if form.is_bound else 200
    return render(request, "progress/rate.html", context, status=status)


def _after(request: TeacherRequest, student: Student, day: date) -> str:
    """Say where to go next: the next student of the list that was begun, or the student's page."""
    listed = _list_of(request)
    if not listed:
        return reverse("progress:student", args=[student.public_id])
    students = access.students_of(request.membership)
    for place in lesson_day(students, weekday=int(listed), day=day):
        if place.heard is None:
            address = reverse("progress:rate", args=[place.student.public_id])
            return f"{address}?{urlencode({'list': listed})}"
    return f"{reverse('progress:lessons')}?{urlencode({'weekday': listed})}"


def _weekday(request: TeacherRequest, day: date) -> int:
    given = request.GET.get("weekday", "")
    return int(given) if given in _WEEKDAYS else day.weekday()


def _day_of(request: TeacherRequest, today: date) -> date:
    """Read for which day the way here asks; today if it asks for none that has been."""
    try:
        asked = date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return today
    return min(asked, today)


def _list_of(request: TeacherRequest) -> str:
    given = request.GET.get("list", "")
    return given if given in _WEEKDAYS else ""


_WEEKDAYS = {str(number) for number in range(len(WEEKDAYS))}
