"""The check-in."""

from collections.abc import Sequence
from datetime import date, datetime
from http import HTTPStatus
from typing import Any
from uuid import UUID

from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from progress.engine.check_in import Discomfort
from progress.forms.answers import QUESTION
from progress.forms.check_ins import CheckInForm, believed, clock_may_be_right
from progress.models import CheckIn
from progress.queries.days import (
    ONE_DAY,
    could_be_changed,
    days_to_accept,
    days_to_fill,
    first_to_fill,
    phone_days,
    shown_on,
)
from progress.queries.news import told_today
from progress.services.check_ins import CheckInError, file_check_in
from progress.views.echo import echo, first_words, not_taken, wants_echo
from routines.engine.instruments import chart
from routines.engine.notes import with_octave
from routines.models import Block
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
    if request.method == "POST":
        return _take(request)
    student, moment = request.grant.student, timezone.now()
    today = practice_day(student.studio, moment)
    blocks = blocks_of(student, since=first_to_fill(student, today))
    days = days_to_fill(student, today, blocks, newest=timezone.localdate(moment))
    high_notes = _high_notes(student, blocks, days)
    form = CheckInForm(None, days=days, high_notes=high_notes, moment=moment, first_day=today)
    return _ask(request, form, today, blocks=blocks)


def _take(request: StudioRequest) -> HttpResponse:
    """Keep what was sent, or say what is missing. A try counts whatever becomes of it."""
    moment = timezone.now()
    today = practice_day(request.grant.student.studio, moment)
    form, blocks = _sent(request, today, moment)
    # The try and the check-in wait for the disk together.
    with transaction.atomic():
        limits.hold(limits.CHECK_IN_BY_PHONE, request.grant.public_id, moment=moment)
        if form.is_valid():
            phone.keep_fresh(request, None, request.grant, day=today)
            return _file(request, form, blocks, today, moment)
    if wants_echo(request):
        return not_taken(first_words(form), HTTPStatus.UNPROCESSABLE_ENTITY)
    return _ask(request, form, today, status=422)


def _sent(request: StudioRequest, today: date, moment: datetime) -> tuple[CheckInForm, list[Block]]:
    """Read what was sent, and the blocks it may be for.

    A repeat is known whatever has become of its block since.
    """
    student, said = request.grant.student, request.POST.get("done_at", "")[:40]
    told_on = practice_day(student.studio, believed(said, moment))
    blocks = blocks_of(student, since=first_to_fill(student, min(today, told_on)))
    form = _bound(request, blocks, today, moment)
    if not form.is_valid() and (before := _sent_before(request)) is not None:
        form = _bound(request, blocks, today, moment, before)
    return form, blocks


def _bound(
    request: StudioRequest,
    blocks: list[Block],
    today: date,
    moment: datetime,
    before: CheckIn | None = None,
) -> CheckInForm:
    days = _days_to_accept(request, blocks, today, moment, before)
    high_notes = _high_notes(request.grant.student, blocks, days, before)
    return CheckInForm(
        request.POST, days=days, high_notes=high_notes, moment=moment, first_day=today
    )


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
    request: StudioRequest, form: CheckInForm, blocks: list[Block], today: date, moment: datetime
) -> HttpResponse:
    data = form.cleaned_data
    when = {"key": data["key"], "day": data["day"], "done_at": data["done_at"]}
    block = running(blocks, data["day"])
    asked = version_on(block, data["day"]) if block else None
    try:
        kept = file_check_in(request.grant, moment=moment, asked=asked, **when, **form.answers)
    except CheckInError as error:
        if wants_echo(request):
            return not_taken(str(error), HTTPStatus.CONFLICT)
        return _ask(request, form.with_a_new_key(), today, problem=str(error), status=409)
    if wants_echo(request):
        return echo(request, kept.key, kept.public_id, is_new=kept.is_new)
    student_id = request.grant.student.public_id
    # A phone that was set up anew meanwhile sends what it sent before: that page is not its own.
    if kept.grant_id != request.grant.pk:
        return redirect("progress:today", student_id)
    return redirect("progress:saved", student_id, kept.public_id)


def _ask(
    request: StudioRequest,
    form: CheckInForm,
    today: date,
    *,
    problem: str = "",
    status: int = 200,
    blocks: list[Block] | None = None,
) -> HttpResponse:
    student = request.grant.student
    rows = shown_on(request.grant, could_be_changed(student, today))
    if blocks is None:
        blocks = blocks_of(student, since=first_to_fill(student, today))
    facts = phone_days(student, today, blocks, rows)
    context = {
        "student": student,
        "form": form,
        "question": QUESTION,
        "problem": problem,
        "hurt_today": told_today(student, [today]),
        "today": today,
        "night": _night(form, today),
        "filed_at": "" if form.is_bound else facts["filed"].get(today.isoformat(), ""),
        "days": facts,
    }
    return render(request, "progress/check_in.html", context, status=status)


def _night(form: CheckInForm, today: date) -> dict[str, Any]:
    """Give what is asked after midnight, while two days may be meant; the phone asks it as well."""
    now = timezone.localtime(form.moment)
    is_open = not form.is_bound and now.date() != today and {today, now.date()} <= set(form.days)
    return {"is_open": is_open, "before": today, "after": now.date(), "now": now}


def _days_to_accept(
    request: StudioRequest,
    blocks: list[Block],
    today: date,
    moment: datetime,
    before: CheckIn | None,
) -> list[date]:
    """List the days this check-in may be for; tomorrow is one where a phone's clock can be right.

    A phone further east, or one that is up after midnight, has a day that has not begun here.
    """
    student, said = request.grant.student, request.POST.get("done_at", "")[:40]
    later = today + ONE_DAY if clock_may_be_right(said, moment) else timezone.localdate(moment)
    told_on = practice_day(student.studio, believed(said, moment))
    days = days_to_accept(student, blocks, newest=max(today, later), told_on=told_on)
    return days if before is None or before.day in days else [*days, before.day]


def _sent_before(request: StudioRequest) -> CheckIn | None:
    """Find the row of this very key."""
    try:
        key = UUID(request.POST.get("key", "")[:36])
    except ValueError:
        return None
    rows = CheckIn.objects.filter(student=request.grant.student, key=key)
    row: CheckIn | None = rows.select_related("version__block").first()
    return row


def _high_notes(
    student: Student, blocks: list[Block], days: Sequence[date], before: CheckIn | None = None
) -> list[tuple[str, str]]:
    """List the notes from the start note up, in the student's own note names.

    Days to fill in may belong to blocks on two instruments; the notes of both are offered.
    """
    naming = naming_of(student)
    versions = {version_on(block, day) for day in days if (block := running(blocks, day))}
    plans = {version.plan for version in versions | ({before.version} if before else set())}
    above = {
        row.written
        for plan in plans
        for row in chart(plan.player, plan.setup)
        if row.written >= plan.start_note
    }
    return [(str(note), with_octave(note, naming)) for note in sorted(above)]
