"""What a student tells beside a check-in: why there is no session, that something hurts.

Both may have waited on the phone: they carry the day they were told for, and are answered by an
echo. A page's own form carries nothing and is answered by a page.
"""

from datetime import date, timedelta
from http import HTTPStatus

from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from progress.engine.check_in import NoSession
from progress.forms.check_ins import HurtForm, ToldForm, believed
from progress.services.check_ins import take_back_not_today, tell_not_today
from progress.views.echo import echo, first_words, not_taken, wants_echo
from studio import access, limits
from studio.access import practice_day
from studio.http import StudioRequest
from studio.services import wellbeing
from studio.words import day_in_words

TAKE_BACK = "take-back"
LONGEST_WAIT = timedelta(days=14)
_PLAIN = "text/plain; charset=utf-8"
_REASONS = {reason.value.replace(" ", "-"): reason for reason in NoSession}


@access.for_phone
@require_POST
def not_today(request: StudioRequest, reason: str) -> HttpResponse:
    """Keep why there is no session today, or forget it again."""
    if reason != TAKE_BACK and reason not in _REASONS:
        raise Http404
    grant, moment = request.grant, timezone.now()
    form = ToldForm(request.POST)
    day = _day_told(form, practice_day(grant.student.studio, moment))
    if day is None:
        return not_taken(_words(form), HTTPStatus.UNPROCESSABLE_ENTITY)
    public_id = ""
    if reason == TAKE_BACK:
        take_back_not_today(grant, day=day)
    else:
        told = believed(form.cleaned_data["done_at"], moment)
        public_id = tell_not_today(grant, day=day, reason=_REASONS[reason], moment=told).public_id
    if wants_echo(request):
        return echo(request, form.cleaned_data["key"], public_id, is_new=True)
    return redirect("progress:today", grant.student.public_id)


@access.for_phone
@require_POST
def hurt(request: StudioRequest) -> HttpResponse:
    """Keep at once that something hurt in the session, whatever comes after."""
    form = HurtForm(request.POST)
    if not form.is_valid():
        if wants_echo(request):
            return not_taken(first_words(form), HTTPStatus.UNPROCESSABLE_ENTITY)
        return HttpResponse(_("Not kept. Tell your teacher now."), status=400, content_type=_PLAIN)
    student, moment = request.grant.student, timezone.now()
    limits.hold(limits.HURT_BY_PHONE, request.grant.public_id, moment=moment)
    now = practice_day(student.studio, moment)
    said: date = form.cleaned_data["day"] or now
    told = wellbeing.open_discomfort(
        student,
        key=form.cleaned_data["key"],
        # A report that waited on the phone keeps its day, unless the phone's clock is far off.
        day=said if now - LONGEST_WAIT <= said <= now else now,
        moment=moment,
        step=form.cleaned_data["step"] or 0,
    )
    if wants_echo(request):
        is_new = told.told_at == moment
        return echo(request, form.cleaned_data["key"], told.public_id, is_new=is_new)
    return HttpResponse("kept", status=HTTPStatus.CREATED, content_type=_PLAIN)


def _day_told(form: ToldForm, today: date) -> date | None:
    """Choose the day that is meant: the one the phone names, else today; None if it cannot be."""
    if not form.is_valid():
        return None
    day: date = form.cleaned_data["day"] or today
    return day if today - LONGEST_WAIT <= day <= today + timedelta(days=1) else None


def _words(form: ToldForm) -> str:
    if form.errors:
        return first_words(form)
    return _("%(day)s is too long ago. Or it has not come yet.") % {
        "day": day_in_words(form.cleaned_data["day"])
    }
