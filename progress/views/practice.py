"""The student's own pages: who is practising, today, my month."""

from collections.abc import Collection
from datetime import date

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.charts.month_line import month_line
from progress.forms.answers import NO_SESSION_WORDS
from progress.queries.days import days_to_fill, shown_on
from progress.queries.months import StudentMonth
from progress.queries.today import today_of
from progress.views.line import line_days
from progress.views.today_ahead import edition, kept_days
from routines.queries import next_to_come
from routines.sheet import naming_of, sheet
from studio import access, phone
from studio.access import practice_day
from studio.http import StudioRequest
from studio.words import GrantState


@require_GET
def who(request: StudioRequest) -> HttpResponse:
    """Ask who is practising where a phone is set up for several; open it where it is one."""
    grants = access.grants_of(request)
    if len(grants) == 1:
        return redirect("progress:today", grants[0].student.public_id)
    response = render(request, "progress/who.html", {"grants": grants})
    access.let_be_kept(response, grants)
    return response


@access.for_phone
@require_GET
def today(request: StudioRequest) -> HttpResponse:
    """Show what is due today, and the way to start it."""
    grant, student = request.grant, request.grant.student
    day = practice_day(student.studio, timezone.now())
    found = today_of(student, day)
    month, is_confirmed = found.month, grant.state == GrantState.CONFIRMED
    own = shown_on(grant, found.check_ins)
    told = shown_on(grant, filter(None, [month.not_todays.get(day)]))
    context = {
        "student": student,
        "day": day,
        "month": month,
        "state": _state_of_today(month, day, filed={row.day for row in own}),
        "sheet": _sheet_of_today(month),
        "may_fill_in": bool(days_to_fill(student, day, found.blocks)),
        "coming": next_to_come(found.blocks, day),
        "others": len(request.grants) > 1,
        "provisional": grant.state == GrantState.PROVISIONAL,
        "line": _line(month, grant.state),
        "reasons": NO_SESSION_WORDS,
        "told": next(iter(told), None),
        "pause": month.pause_on(day),
        # What hurt, and why there is a pause, is for a phone that is known to be the student's.
        "hurts": is_confirmed and bool(month.discomforts),
        "word": found.word if is_confirmed else "",
        "may_record": found.may_record and is_confirmed,
        "asked_to_record": found.asked_to_record,
        "days": kept_days(month, found.blocks, own),
        "edition": edition(month),
    }
    response = render(request, "progress/today.html", context)
    phone.keep_fresh(request, response, grant, day=day)
    return response


def _state_of_today(month: StudentMonth, day: date, *, filed: Collection[date]) -> str:
    """Name what the page is about: none, ahead, over, off, done or due."""
    block = month.block
    if block is None:
        return "none"
    if day < block.first_day:
        return "ahead"
    if day > block.last_day:
        return "over"
    if day in filed:
        return "done"
    return "off" if day.weekday() in block.weekdays_off else "due"


def _sheet_of_today(month: StudentMonth):  # type: ignore[no-untyped-def]
    if month.version is None or month.block is None or not month.is_running:
        return None
    number = month.block.month.turn_of(month.day)
    return sheet(month.version.plan, naming=naming_of(month.student), day=number)


def _line(month: StudentMonth, state: str):  # type: ignore[no-untyped-def]
    if state != GrantState.CONFIRMED or month.block is None:
        return None
    return month_line(line_days(month), small=True)
