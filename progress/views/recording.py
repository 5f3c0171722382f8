"""The student's page for recording a few held notes, and what it sends."""

from collections.abc import Iterator
from datetime import date, timedelta
from http import HTTPStatus
from uuid import UUID

from csp.decorators import csp_update
from django.db import transaction
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from progress.engine.held_notes.limits import UPLOAD, RecordingError
from progress.models import Recording, RecordingLeave
from progress.queries.recordings import leave_of, recordings_of, to_play
from progress.services import measuring, recordings
from studio import access, limits
from studio.access import practice_day
from studio.http import PERMISSIONS, StudioRequest
from studio.queries import hurting
from studio.words import GrantState

PROCESSING = ("echoCancellation", "noiseSuppression", "autoGainControl")
SAID = {"on": True, "off": False}
WITH_THE_MICROPHONE = PERMISSIONS.replace("microphone=()", "microphone=(self)")
AT_ONCE = 64 * 1024
LONGEST_NAME = 36


@access.for_phone  # type: ignore[arg-type] # the library knows plain requests alone
@require_GET
@csp_update({"media-src": ["blob:"]})  # type: ignore[arg-type]
def recording(request: StudioRequest) -> HttpResponse:
    """Ask for a recording, and list what was sent; 404 where it is not switched on."""
    student, leave = request.grant.student, _leave(request)
    day = practice_day(student.studio, timezone.now())
    plan = to_play(student, day)
    context = {
        "student": student,
        "leave": leave,
        "plan": plan,
        "course": plan.course if plan else None,
        "until": _until(day, leave),
        "hurts": bool(hurting([student])),
        "can_measure": measuring.can_measure(),
        "sent": recordings_of(student).exclude(file=""),
        "most_bytes": UPLOAD.most_bytes,
    }
    response = render(request, "progress/recording.html", context)
    response["Permissions-Policy"] = WITH_THE_MICROPHONE
    return response


@access.for_phone
@require_POST
def send(request: StudioRequest) -> HttpResponse:
    """Take the sound of one recording: the body is a WAV file and nothing else."""
    leave, moment = _leave(request), timezone.now()
    student = request.grant.student
    limits.hold(limits.RECORDING_BY_PHONE, request.grant.public_id, moment=moment)
    day = practice_day(student.studio, moment)
    sent = _said(request, day)
    if sent is None or not measuring.can_measure():
        return _answer(_("This did not work. Ask your teacher."), HTTPStatus.UNPROCESSABLE_ENTITY)
    try:
        kept = recordings.take_in(request.grant, leave, sent, _pieces(request), moment=moment)
    except RecordingError:
        return _answer(
            _("This is too long. Record fewer notes."), HTTPStatus.REQUEST_ENTITY_TOO_LARGE
        )
    except recordings.NotTakenError as error:
        return _answer(str(error), HTTPStatus.UNPROCESSABLE_ENTITY)
    transaction.on_commit(measuring.start)
    words = _("Sent. Your teachers can hear it until %(day)s.") % {
        "day": date_format(kept.kept_until, "j F")
    }
    return _answer(words, HTTPStatus.CREATED)


@access.for_phone
@require_POST
def throw_away(request: StudioRequest, recording_id: str) -> HttpResponse:
    """Let a student take back what they sent, also where recording is switched off by now."""
    if request.grant.state != GrantState.CONFIRMED:
        raise Http404
    student = request.grant.student
    recordings.throw_away(
        get_object_or_404(Recording.objects.filter(student=student), public_id=recording_id)
    )
    page = "recording" if leave_of(student) else "today"
    return redirect(f"progress:{page}", student.public_id)


def _leave(request: StudioRequest) -> RecordingLeave:
    """Find out that this phone may record; a phone that no teacher has confirmed may not."""
    leave = leave_of(request.grant.student)
    if leave is None or request.grant.state != GrantState.CONFIRMED:
        raise Http404
    return leave


def _said(request: StudioRequest, day: date) -> recordings.Sent | None:
    """Read what the page says in its address; None where that cannot be."""
    said = request.GET
    plan = to_play(request.grant.student, day)
    try:
        key, notes = UUID(said.get("key", "")[:LONGEST_NAME]), int(said.get("notes", "0")[:3])
    except ValueError:
        return None
    if plan is None:
        return None
    return recordings.Sent(
        key=key,
        day=day,
        processing={name: SAID.get(said.get(name, "")) for name in PROCESSING},
        asked=plan.asked(max(0, notes)),
        block=plan.block,
    )


def _pieces(request: StudioRequest) -> Iterator[bytes]:
    """Read the body piece by piece; one that is announced as too large is not read at all."""
    announced = request.headers.get("Content-Length", "")
    if announced.isdecimal() and int(announced) > UPLOAD.most_bytes:
        raise RecordingError(announced)
    first = request.read(AT_ONCE)
    if first and (first[:4] != b"RIFF" or first[8:12] != b"WAVE"):
        raise recordings.NotTakenError(_("This is no sound from this page. Record it again."))
    piece = first
    while piece:
        yield piece
        piece = request.read(AT_ONCE)


def _until(day: date, leave: RecordingLeave) -> date:
    return day + timedelta(days=leave.keep_days)


def _answer(words: str, status: HTTPStatus) -> HttpResponse:
    return JsonResponse({"words": words}, status=status)
