"""The session on the phone."""

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from routines.ahead import sessions_ahead
from routines.queries import blocks_of, running, version_on
from routines.sheet import naming_of, session, staves
from studio import access
from studio.access import practice_day
from studio.http import StudioRequest


@access.for_phone
@require_GET
def play(request: StudioRequest) -> HttpResponse:
    """Show the session of today; without a block there is nothing to play."""
    student = request.grant.student
    day = practice_day(student.studio, timezone.now())
    blocks = blocks_of(student, since=day)
    block = running(blocks, day)
    if block is None:
        return redirect("progress:today", student.public_id)
    version = version_on(block, day)
    context = {
        "student": student,
        "session": session(student, version, day),
        "day": day,
        "ahead": sessions_ahead(student, blocks, version, day),
        "staves": staves(version.plan, naming_of(student)),
        "today_url": reverse("progress:today", args=[student.public_id]),
        "check_in_url": reverse("progress:check_in", args=[student.public_id]),
        "hurt_url": reverse("progress:hurt", args=[student.public_id]),
    }
    return render(request, "routines/session.html", context)
