"""What keeps a student from the plan: away, ill, a mouth event, a light week."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from progress.forms.interruptions import InterruptionForm
from routines.services import pauses
from routines.services.pauses import Moved
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Interruption
from studio.words import day_in_words


@access.for_teacher
@require_http_methods(["GET", "POST"])
def add_interruption(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Write down what the teacher knows of."""
    student = access.student_of(request.membership, student_id)
    today = practice_day(student.studio, timezone.now())
    form = InterruptionForm(
        request.POST if request.method == "POST" else None,
        initial={"first_day": today},
        today=today,
    )
    if form.is_valid():
        moved = pauses.add_interruption(student, moment=timezone.now(), **form.cleaned_data)
        messages.success(request, _said(_("Saved."), moved))
        return redirect("progress:student", student.public_id)
    context = {"student": student, "form": form}
    status = 422 if form.is_bound else 200
    return render(request, "progress/interruption.html", context, status=status)


@access.for_teacher
@require_POST
def confirm_interruption(request: TeacherRequest, interruption_id: str) -> HttpResponse:
    """Say that what the student told is so."""
    interruption = _found(interruption_id)
    moved = pauses.confirm_interruption(interruption, moment=timezone.now())
    messages.success(request, _said(_("Confirmed."), moved))
    return redirect("progress:student", interruption.student.public_id)


@access.for_teacher
@require_POST
def end_interruption(request: TeacherRequest, interruption_id: str) -> HttpResponse:
    """Say that it is over: yesterday was its last day. What began today, or has not, is no more."""
    interruption = _found(interruption_id)
    today = practice_day(interruption.student.studio, timezone.now())
    if interruption.first_day >= today:
        moved = pauses.call_off_interruption(interruption)
        messages.success(request, _said(_("Taken out."), moved))
    else:
        yesterday = today - timedelta(days=1)
        moved = pauses.end_interruption(interruption, last_day=yesterday, moment=timezone.now())
        messages.success(request, _said(_("It is over. It stays in the history."), moved))
    return redirect("progress:student", interruption.student.public_id)


@access.for_teacher
@require_POST
def remove_interruption(request: TeacherRequest, interruption_id: str) -> HttpResponse:
    """Take out what was written by mistake, whenever it was."""
    interruption = _found(interruption_id)
    moved = pauses.call_off_interruption(interruption)
    messages.success(request, _said(_("Taken out."), moved))
    return redirect("progress:student", interruption.student.public_id)


def _said(done: Any, moved: Sequence[Moved]) -> str:
    """Say what was done, and where it leaves the end of each block."""
    return " ".join([str(done), *(_about(each, alone=len(moved) == 1) for each in moved)])


def _about(moved: Moved, *, alone: bool) -> str:
    block, after = moved.block, moved.stopped_by
    days = {
        "first": date_format(block.first_day, "j F"),
        "last": day_in_words(block.last_day),
        "next": day_in_words(after.first_day) if after else "",
    }
    said = _UNTIL if after is None else _UNTIL_THE_NEXT
    return said[alone, moved.has_moved] % days


# Whether it is the only block that is told of, and whether its end has moved.
_UNTIL = {
    (True, True): gettext_lazy("The block now ends %(last)s."),
    (True, False): gettext_lazy("The block still ends %(last)s."),
    (False, True): gettext_lazy("The block from %(first)s now ends %(last)s."),
    (False, False): gettext_lazy("The block from %(first)s still ends %(last)s."),
}
_UNTIL_THE_NEXT = {
    (True, True): gettext_lazy(
        "The block now ends %(last)s, because the next one begins on %(next)s."
    ),
    (True, False): gettext_lazy(
        "The block still ends %(last)s, because the next one begins on %(next)s."
    ),
    (False, True): gettext_lazy(
        "The block from %(first)s now ends %(last)s, because the next one begins on %(next)s."
    ),
    (False, False): gettext_lazy(
        "The block from %(first)s still ends %(last)s, because the next one begins on %(next)s."
    ),
}


def _found(public_id: str) -> Interruption:
    return get_object_or_404(
        Interruption.objects.select_related("student__studio"), public_id=public_id
    )
