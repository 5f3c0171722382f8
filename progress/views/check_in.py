"""The check-in."""

from collections.abc import Sequence
from datetime import date

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from progress.engine.check_in import Discomfort
from progress.forms.answers import QUESTION
from progress.forms.check_ins import CheckInForm
from progress.models import CheckIn
from progress.queries.months import days_to_fill, told_today
from progress.services.check_ins import CheckInError, file_check_in
from routines.engine.instruments import chart
from routines.engine.notes import with_octave
from routines.queries import blocks_of, running, version_on
from routines.sheet import naming_of
from studio import access, phone
from studio.access import practice_day
from studio.http import StudioRequest
from studio.models import Student


@access.for_phone
@require_http_methods(["GET", "POST"])
def check_in(request: StudioRequest) -> HttpResponse:
    """Ask how it went, and say "Saved" only after it is."""
    student, moment = request.grant.student, timezone.now()
    today = practice_day(student.studio, moment)
    days = days_to_fill(student, today)
    given = request.POST if request.method == "POST" else None
    form = CheckInForm(given, days=days, high_notes=_high_notes(student, days), moment=moment)
    if form.is_valid():
        data = form.cleaned_data
        when = {"key": data["key"], "day": data["day"], "done_at": data["done_at"]}
        try:
            kept = file_check_in(request.grant, moment=moment, **when, **form.answers)
        except CheckInError as error:
            return _ask(request, form.with_a_new_key(), problem=str(error), status=409)
        phone.keep_fresh(request, None, request.grant, day=today)
        return redirect("progress:saved", student.public_id, kept.public_id)
    return _ask(request, form, status=422 if form.is_bound else 200)


@access.for_phone
@require_GET
def saved(request: StudioRequest, check_in_id: str) -> HttpResponse:
    """Say that a check-in is kept; the page reads it back from the database."""
    kept = get_object_or_404(CheckIn, grant=request.grant, public_id=check_in_id)
    context = {
        "student": request.grant.student,
        "check_in": kept,
        "hurt": kept.discomfort in {Discomfort.MILD, Discomfort.PAIN},
    }
    return render(request, "progress/saved.html", context)


def _ask(
    request: StudioRequest, form: CheckInForm, *, problem: str = "", status: int = 200
) -> HttpResponse:
    student = request.grant.student
    context = {
        "student": student,
        "form": form,
        "question": QUESTION,
        "problem": problem,
        "hurt_today": told_today(student, form.days[:1]),
    }
    return render(request, "progress/check_in.html", context, status=status)


def _high_notes(student: Student, days: Sequence[date]) -> list[tuple[str, str]]:
    """List the notes from the start note up, in the student's own note names.

    Days to fill in may belong to blocks on two instruments; the notes of both are offered.
    """
    naming = naming_of(student)
    blocks = blocks_of(student)
    plans = {version_on(block, day).plan for day in days if (block := running(blocks, day))}
    above = {
        row.written
        for plan in plans
        for row in chart(plan.player, plan.setup)
        if row.written >= plan.start_note
    }
    return [(str(note), with_octave(note, naming)) for note in sorted(above)]
