"""What keeps a student from the plan: away, ill, a mouth event, a light week."""

from datetime import timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from progress.forms.interruptions import InterruptionForm
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Interruption
from studio.services import wellbeing


@access.for_teacher
@require_http_methods(["GET", "POST"])
def add_interruption(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Write down what the teacher knows of."""
    student = access.student_of(request.membership, student_id)
    form = InterruptionForm(
        request.POST if request.method == "POST" else None,
        initial={"first_day": practice_day(student.studio, timezone.now())},
    )
    if form.is_valid():
        wellbeing.add_interruption(student, moment=timezone.now(), **form.cleaned_data)
        messages.success(request, "Saved.")
        return redirect("progress:student", student.public_id)
    context = {"student": student, "form": form}
    status = 422 if form.is_bound else 200
    return render(request, "progress/interruption.html", context, status=status)


@access.for_teacher
@require_POST
def confirm_interruption(request: TeacherRequest, interruption_id: str) -> HttpResponse:
    """Say that what the student told is so."""
    interruption = _found(interruption_id)
    wellbeing.confirm_interruption(interruption, moment=timezone.now())
    messages.success(request, "Confirmed.")
    return redirect("progress:student", interruption.student.public_id)


@access.for_teacher
@require_POST
def end_interruption(request: TeacherRequest, interruption_id: str) -> HttpResponse:
    """Say that it is over: yesterday was its last day."""
    interruption = _found(interruption_id)
    yesterday = practice_day(interruption.student.studio, timezone.now()) - timedelta(days=1)
    wellbeing.end_interruption(interruption, last_day=yesterday, moment=timezone.now())
    messages.success(request, "It is over. It stays in the history.")
    return redirect("progress:student", interruption.student.public_id)


def _found(public_id: str) -> Interruption:
    return get_object_or_404(
        Interruption.objects.select_related("student__studio"), public_id=public_id
    )
