"""The student's own pages: who is practising, today, not today, my month."""

from datetime import date, timedelta

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from progress.charts.month_line import month_line
from progress.engine.check_in import NoSession
from progress.forms.answers import NO_SESSION_WORDS
from progress.forms.check_ins import HurtForm, NotTodayForm
from progress.queries.decisions import word_to_student
from progress.queries.months import StudentMonth, days_to_fill, student_month
from progress.services.check_ins import take_back_not_today, tell_not_today
from progress.views.line import line_days
from routines.queries import blocks_of, next_to_come
from routines.sheet import naming_of, sheet
from studio import access, phone
from studio.access import practice_day
from studio.http import StudioRequest
from studio.services import wellbeing
from studio.words import GrantState


@require_GET
def who(request: StudioRequest) -> HttpResponse:
    """Ask who is practising where a phone is set up for several; open it where it is one."""
    grants = access.grants_of(request)
    if len(grants) == 1:
        return redirect("progress:today", grants[0].student.public_id)
    return render(request, "progress/who.html", {"grants": grants})


@access.for_phone
@require_GET
def today(request: StudioRequest) -> HttpResponse:
    """Show what is due today, and the way to start it."""
    grant, student = request.grant, request.grant.student
    day = practice_day(student.studio, timezone.now())
    month = student_month(student, day)
    context = {
        "student": student,
        "day": day,
        "month": month,
        "state": _state_of_today(month, day),
        "sheet": _sheet_of_today(month),
        "may_fill_in": bool(days_to_fill(student, day)),
        "coming": next_to_come(blocks_of(student), day),
        "others": len(access.grants_of(request)) > 1,
        "provisional": grant.state == GrantState.PROVISIONAL,
        "line": _line(month, grant.state),
        "reasons": NO_SESSION_WORDS,
        "told": month.not_todays.get(day),
        "pause": month.pause_on(day),
        "word": _word(month, grant.state),
    }
    response = render(request, "progress/today.html", context)
    phone.keep_fresh(request, response, grant, day=day)
    return response


@access.for_phone
@require_POST
def not_today(request: StudioRequest, reason: str) -> HttpResponse:
    """Keep why there is no session today."""
    student, moment = request.grant.student, timezone.now()
    day = practice_day(student.studio, moment)
    if reason == TAKE_BACK:
        take_back_not_today(request.grant, day=day)
        return redirect("progress:today", student.public_id)
    form = NotTodayForm({"reason": reason.replace("-", " ")})
    if not form.is_valid():
        raise Http404
    said: NoSession = form.cleaned_data["reason"]
    tell_not_today(request.grant, day=day, reason=said, moment=moment)
    return redirect("progress:today", student.public_id)


@access.for_phone
@require_POST
def hurt(request: StudioRequest) -> HttpResponse:
    """Keep at once that something hurt in the session, whatever comes after."""
    form = HurtForm(request.POST)
    if not form.is_valid():
        return HttpResponse("Not kept. Tell your teacher now.", status=400, content_type=_PLAIN)
    student, moment = request.grant.student, timezone.now()
    now = practice_day(student.studio, moment)
    said: date = form.cleaned_data["day"] or now
    wellbeing.open_discomfort(
        student,
        key=form.cleaned_data["key"],
        # A report that waited on the phone keeps its day, unless the phone's clock is far off.
        day=said if now - LONGEST_WAIT <= said <= now else now,
        moment=moment,
        step=form.cleaned_data["step"] or 0,
    )
    return HttpResponse("kept", status=201, content_type=_PLAIN)


@access.for_phone
@require_GET
def my_month(request: StudioRequest) -> HttpResponse:
    """Show a student the month so far; a phone nobody has confirmed yet does not see it."""
    grant, student = request.grant, request.grant.student
    if grant.state != GrantState.CONFIRMED:
        raise Http404
    month = student_month(student, practice_day(student.studio, timezone.now()))
    context = {
        "student": student,
        "month": month,
        "line": month_line(line_days(month)),
        "naming": naming_of(student),
        "word": _word(month, grant.state),
    }
    return render(request, "progress/my_month.html", context)


TAKE_BACK = "take-back"
_PLAIN = "text/plain; charset=utf-8"
LONGEST_WAIT = timedelta(days=14)


def _state_of_today(month: StudentMonth, day: date) -> str:
    """Name what the page is about: none, ahead, over, off, done or due."""
    block = month.block
    if block is None:
        return "none"
    if day < block.first_day:
        return "ahead"
    if day > block.last_day:
        return "over"
    if day in month.filed_days:
        return "done"
    return "off" if day.weekday() in block.weekdays_off else "due"


def _sheet_of_today(month: StudentMonth):  # type: ignore[no-untyped-def]
    if month.version is None or month.block is None or not month.is_running:
        return None
    number = month.block.month.turn_of(month.day)
    return sheet(month.version.plan, naming=naming_of(month.student), day=number)


def _word(month: StudentMonth, state: str) -> str:
    """Read what the teacher wrote at the month's end; only on a phone that is confirmed."""
    return word_to_student(month.student, month.block) if state == GrantState.CONFIRMED else ""


def _line(month: StudentMonth, state: str):  # type: ignore[no-untyped-def]
    if state != GrantState.CONFIRMED or month.block is None:
        return None
    return month_line(line_days(month), small=True)
