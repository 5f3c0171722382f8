"""The teacher's pages of recordings: who may make them, what came, one beside an earlier one."""

from pathlib import Path

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.charts.recording import recording_chart
from progress.forms.recordings import LeaveForm
from progress.models import Recording, RecordingLeave
from progress.queries.months import student_month
from progress.queries.recordings import earlier_than, may_be_heard, recordings_of
from progress.services import measuring, recording_files
from progress.services import recordings as orders
from progress.views.sound import answer_with
from routines.sheet import naming_of
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Student
from studio.services.record import record_about
from studio.words import AuditKind


@access.for_teacher
@require_http_methods(["GET", "POST"])
def recordings(request: TeacherRequest, student_id: str) -> HttpResponse:
    """List a student's recordings, and say whether there may be any."""
    student = access.student_of(request.membership, student_id)
    today, moment = practice_day(student.studio, timezone.now()), timezone.now()
    leave = RecordingLeave.objects.filter(student=student).first()
    form = LeaveForm(
        request.POST if request.method == "POST" else None,
        initial=LeaveForm.initial_of(leave),
        student=student,
        today=today,
    )
    if form.is_valid():
        orders.allow(student, by=request.user, moment=moment, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("progress:recordings", student.public_id)
    context = {
        "student": student,
        "leave": leave,
        "form": form,
        "month": student_month(student, today),
        "rows": [(row, may_be_heard(row, today)) for row in recordings_of(student)],
        "can_measure": measuring.can_measure(),
    }
    status = 422 if form.is_bound else 200
    return render(request, "progress/recordings.html", context, status=status)


@access.for_teacher
@require_POST
def ask(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Ask for a recording with the running block, or no more."""
    student = access.student_of(request.membership, student_id)
    month = student_month(student, practice_day(student.studio, timezone.now()))
    orders.ask_with_block(student, None if "no" in request.POST else month.block)
    messages.success(request, _("Saved."))
    return redirect("progress:recordings", student.public_id)


@access.for_teacher
@require_POST
def ask_batch(request: TeacherRequest, batch: str) -> HttpResponse:
    """Ask for a recording with blocks that were assigned together, of everybody who may record."""
    asked = orders.ask_with_batch(batch)
    words = ngettext("Asked %(number)s student.", "Asked %(number)s students.", asked)
    messages.success(request, words % {"number": asked})
    return redirect("routines:assigned", batch)


@access.for_teacher
@require_GET
def heard(request: TeacherRequest, recording_id: str) -> HttpResponse:
    """Show one recording, beside an earlier one where that is asked for."""
    row = _found(recording_id)
    today = practice_day(row.student.studio, timezone.now())
    earlier = list(earlier_than(row))
    wanted = request.GET.get("beside", "")
    beside = next((one for one in earlier if one.public_id == wanted), None)
    context = {
        "student": row.student,
        "recording": row,
        "shown": [_shown(one, row.student, today) for one in (row, beside) if one is not None],
        "earlier": earlier,
        "beside": beside,
        "can_measure": measuring.can_measure(),
    }
    # While it waits the page asks for itself again; a part of it is enough.
    template = "progress/_recording_state.html" if request.htmx else "progress/heard.html"
    return render(request, template, context)


@access.for_teacher
@require_GET
def sound(request: TeacherRequest, recording_id: str) -> HttpResponse:
    """Give the sound as we wrote it, in part where a player asks for a part; 404 after its date."""
    row = _found(recording_id)
    return answer_with(request, _path_of(row), f"recording-{row.public_id}.flac")


@access.for_teacher
@require_POST
def keep(request: TeacherRequest, recording_id: str) -> HttpResponse:
    """Give the sound to take along, and write down that it was taken."""
    row = _found(recording_id)
    path, student = _path_of(row), row.student
    answer = answer_with(request, path, f"recording-{row.public_id}.flac", keeps=True)
    record_about(student, AuditKind.HEARD_TAKEN, by=request.user, moment=timezone.now())
    return answer


@access.for_teacher
@require_POST
def delete(request: TeacherRequest, recording_id: str) -> HttpResponse:
    """Delete a recording at once, sound and figures."""
    row = _found(recording_id)
    orders.throw_away(row)
    messages.success(request, _("Deleted."))
    return redirect("progress:recordings", row.student.public_id)


def _found(recording_id: str) -> Recording:
    rows = Recording.objects.select_related("student__studio", "block")
    found: Recording = get_object_or_404(rows, public_id=recording_id)
    return found


def _path_of(row: Recording) -> Path:
    if not may_be_heard(row, practice_day(row.student.studio, timezone.now())):
        raise Http404
    return recording_files.path_of(row.file, recording_files.WRITTEN)


def _shown(row: Recording, student: Student, today):  # type: ignore[no-untyped-def]
    chart = recording_chart(row, naming=naming_of(student)) if row.figures else None
    return {"recording": row, "chart": chart, "is_heard": may_be_heard(row, today)}
