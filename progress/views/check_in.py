"""The check-in."""

from collections.abc import Sequence
from datetime import date, datetime
from http import HTTPStatus
from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from progress.engine.check_in import Discomfort
from progress.forms.answers import QUESTION
from progress.forms.check_ins import CheckInForm, believed, clock_may_be_right
from progress.models import CheckIn
from progress.queries.days import ONE_DAY, days_to_accept, days_to_fill, phone_days
from progress.queries.news import told_today
from progress.services.check_ins import CheckInError, file_check_in
from progress.views.echo import echo, first_words, not_taken, wants_echo
from routines.engine.instruments import chart
from routines.engine.notes import with_octave
from routines.queries import blocks_of, running, version_on
from routines.sheet import naming_of
from studio import access, limits, phone
from studio.access import practice_day
from studio.http import StudioRequest
from studio.models import Student


@access.for_phone
@require_http_methods(["GET", "POST"])
def check_in(request: StudioRequest) -> HttpResponse:
    """Ask how it went, and say "Saved" only after it is."""
    student, moment = request.grant.student, timezone.now()
    today = practice_day(student.studio, moment)
    is_sent = request.method == "POST"
    if is_sent:
        limits.hold(limits.CHECK_IN_BY_PHONE, request.grant.public_id, moment=moment)
    before = _sent_before(request) if is_sent else None
    if is_sent:
        days = _days_to_accept(request, today, moment, before)
    else:
        days = days_to_fill(student, today, newest=timezone.localdate(moment))
    high_notes = _high_notes(student, days, before)
    given = request.POST if is_sent else None
    form = CheckInForm(given, days=days, high_notes=high_notes, moment=moment, first_day=today)
    if not form.is_valid():
        if is_sent and wants_echo(request):
            return not_taken(first_words(form), HTTPStatus.UNPROCESSABLE_ENTITY)
        return _ask(request, form, today, status=422 if is_sent else 200)
    phone.keep_fresh(request, None, request.grant, day=today)
    return _file(request, form, today, moment, is_known=before is not None)


@access.for_phone
@require_GET
def saved(request: StudioRequest, check_in_id: str) -> HttpResponse:
    """Say that a check-in is kept; the page reads it back from the database."""
    kept = get_object_or_404(CheckIn.objects, grant=request.grant, public_id=check_in_id)
    context = {
        "student": request.grant.student,
        "check_in": kept,
        "hurt": kept.discomfort in {Discomfort.MILD, Discomfort.PAIN},
    }
    return render(request, "progress/saved.html", context)


def _file(
    request: StudioRequest, form: CheckInForm, today: date, moment: datetime, *, is_known: bool
) -> HttpResponse:
    data = form.cleaned_data
    when = {"key": data["key"], "day": data["day"], "done_at": data["done_at"]}
    try:
        kept = file_check_in(request.grant, moment=moment, **when, **form.answers)
    except CheckInError as error:
        if wants_echo(request):
            return not_taken(str(error), HTTPStatus.CONFLICT)
        return _ask(request, form.with_a_new_key(), today, problem=str(error), status=409)
    if wants_echo(request):
        # Of several at once, those that came second find a row with another time of arrival.
        is_new = not is_known and kept.received_at == moment
        return echo(request, kept.key, kept.public_id, is_new=is_new)
    return redirect("progress:saved", request.grant.student.public_id, kept.public_id)


def _ask(
    request: StudioRequest,
    form: CheckInForm,
    today: date,
    *,
    problem: str = "",
    status: int = 200,
) -> HttpResponse:
    student = request.grant.student
    facts = phone_days(student, today)
    context = {
        "student": student,
        "form": form,
        "question": QUESTION,
        "problem": problem,
        "hurt_today": told_today(student, [today]),
        "today": today,
        "filed_at": "" if form.is_bound else facts["filed"].get(today.isoformat(), ""),
        "days": facts,
    }
    return render(request, "progress/check_in.html", context, status=status)


def _days_to_accept(
    request: StudioRequest, today: date, moment: datetime, before: CheckIn | None
) -> list[date]:
    """List the days this check-in may be for; tomorrow is one where a phone's clock can be right.

    A phone further east, or one that is up after midnight, has a day that has not begun here.
    """
    student, said = request.grant.student, request.POST.get("done_at", "")[:40]
    later = today + ONE_DAY if clock_may_be_right(said, moment) else timezone.localdate(moment)
    told_on = practice_day(student.studio, believed(said, moment))
    days = days_to_accept(student, newest=max(today, later), told_on=told_on)
    return days if before is None or before.day in days else [*days, before.day]


def _sent_before(request: StudioRequest) -> CheckIn | None:
    """Find the row of this very key: a repeat is known whatever has become of its block since."""
    try:
        key = UUID(request.POST.get("key", "")[:36])
    except ValueError:
        return None
    rows = CheckIn.objects.filter(student=request.grant.student, key=key)
    row: CheckIn | None = rows.select_related("version__block").first()
    return row


def _high_notes(
    student: Student, days: Sequence[date], before: CheckIn | None = None
) -> list[tuple[str, str]]:
    """List the notes from the start note up, in the student's own note names.

    Days to fill in may belong to blocks on two instruments; the notes of both are offered.
    """
    naming = naming_of(student)
    blocks = blocks_of(student)
    plans = {version_on(block, day).plan for day in days if (block := running(blocks, day))}
    plans |= {before.version.plan} if before else set()
    above = {
        row.written
        for plan in plans
        for row in chart(plan.player, plan.setup)
        if row.written >= plan.start_note
    }
    return [(str(note), with_octave(note, naming)) for note in sorted(above)]
