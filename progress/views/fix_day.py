"""A check-in that was filed for the wrong day: moved or taken out, and put back."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from progress.forms.fix_day import FixDayForm
from progress.models import CheckIn
from progress.queries.fix_day import days_to_move, set_aside_of, set_asides
from progress.services import check_ins
from progress.services.check_ins import CheckInError
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.words import day_in_words


@access.for_teacher
@require_http_methods(["GET", "POST"])
def fix_day(request: TeacherRequest, check_in_id: str) -> HttpResponse:
    """Show one check-in with the days it can go to, and move it or take it out."""
    check_in = _found(check_in_id)
    today = practice_day(check_in.student.studio, timezone.now())
    days = days_to_move(check_in, today)
    form = FixDayForm(request.POST if request.method == "POST" else None, days=days)
    if form.is_valid() and _fixed(request, check_in, form, today):
        return redirect("progress:fix_day", check_in.public_id)
    context = {
        "student": check_in.student,
        "check_in": check_in,
        "aside": set_aside_of(check_in),
        "days": days,
        "form": form,
        "others": [row for row in set_asides(check_in.student) if row.check_in_id != check_in.pk],
    }
    return render(request, "progress/fix_day.html", context, status=422 if form.is_bound else 200)


@access.for_teacher
@require_POST
def put_back(request: TeacherRequest, check_in_id: str) -> HttpResponse:
    """Let a check-in count for the day it was filed for again."""
    filed = check_ins.put_back_check_in(_found(check_in_id))
    messages.success(
        request,
        _("It counts for %(day)s again, as it was filed.") % {"day": day_in_words(filed.day)},
    )
    return redirect("progress:fix_day", filed.public_id)


def _fixed(request: TeacherRequest, check_in: CheckIn, form: FixDayForm, today: date) -> bool:
    """Do what the pressed button says, or put into the form why it cannot be."""
    done: dict[str, Any] = {"by": request.user, "moment": timezone.now()}
    day: date | None = form.cleaned_data["day"]
    if day is None:
        check_ins.remove_check_in(check_in, **done)
        return True
    try:
        check_ins.move_check_in(check_in, day=day, today=today, **done)
    except CheckInError as error:
        form.add_error("day", str(error))
        return False
    return True


def _found(public_id: str) -> CheckIn:
    """Find a check-in by its name; a teacher's copy leads to what was filed."""
    rows = CheckIn.objects.select_related("student__studio", "block", "version")
    check_in: CheckIn = get_object_or_404(rows, public_id=public_id)
    aside = set_aside_of(check_in)
    if aside is None or aside.check_in_id == check_in.pk:
        return check_in
    filed: CheckIn = rows.get(pk=aside.check_in_id)
    return filed
