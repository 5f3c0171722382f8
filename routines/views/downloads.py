"""Taking a block along: its notes, a sound to play with, its days for a calendar."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from routines.exports import calendar, midi, musicxml
from routines.models import Block
from routines.queries import blocks_of, pauses_of, version_on
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest, as_download

KINDS = {
    "musicxml": ("application/vnd.recordare.musicxml+xml", musicxml.write),
    "mid": ("audio/midi", midi.write),
}


@access.for_teacher
@require_GET
def walk(request: TeacherRequest, block_id: str, kind: str) -> HttpResponse:
    """Give the walk of a block as it is asked today, as notes or as sound."""
    blocks = Block.objects.filter(student__studio=request.membership.studio)
    block = get_object_or_404(blocks.select_related("student__studio"), public_id=block_id)
    today = practice_day(block.student.studio, timezone.now())
    day = min(max(today, block.first_day), max(block.last_day, block.first_day))
    content_type, write = KINDS[kind]
    title = _("Long tones: %(name)s") % {"name": block.student.name}
    written = write(version_on(block, day).plan, title=title, day=block.month.turn_of(day))
    return as_download(written, f"long-tones-{block.public_id}.{kind}", content_type)


@access.for_teacher
@require_GET
def days(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Give a student's planned days and month ends for a calendar."""
    student = access.student_of(request.membership, student_id)
    written = calendar.write(student, blocks_of(student), pauses_of(student), moment=timezone.now())
    return as_download(written, f"long-tones-{student.public_id}.ics", "text/calendar")
