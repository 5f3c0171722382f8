"""The charts of one student: a page of its own, and a part of the student's page."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.charts.blocks import blocks_chart
from progress.charts.high_notes import high_notes_chart
from progress.charts.holding import holding_chart
from progress.charts.ratings import ratings_chart
from progress.queries.charts import block_means, charted
from routines.models import Block
from routines.queries import blocks_of
from routines.sheet import clef_of, naming_of
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest


@access.for_teacher
@require_GET
def charts(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Show the figures of a block, the student's own or the one asked for, and of all blocks."""
    found = access.student_of(request.membership, student_id)
    day = practice_day(found.studio, timezone.now())
    blocks = blocks_of(found)
    shown = charted(found, day, _asked_for(blocks, request.GET.get("block", "")))
    context: dict[str, Any] = {"student": found, "charted": shown, "day": day}
    if shown is not None:
        context |= {
            "ratings": ratings_chart(shown),
            "high_notes": high_notes_chart(shown, clef_of(shown.version.plan), naming_of(found)),
            "holding": holding_chart(shown),
            "across": blocks_chart(block_means(found, blocks, day)),
        }
    template = "progress/charts.html" + ("#figures" if request.htmx else "")
    return render(request, template, context)


def _asked_for(blocks: list[Block], public_id: str) -> Block | None:
    """Find the block that an address names; a foreign or unknown name is a 404."""
    if not public_id:
        return None
    for block in blocks:
        if block.public_id == public_id:
            return block
    raise Http404
