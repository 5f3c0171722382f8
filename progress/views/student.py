"""The teacher's page about one student."""

from datetime import date, timedelta

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from progress.models import Decision, KeptMonth
from progress.queries.decisions import decisions_of
from progress.queries.lessons import two_ears
from progress.queries.months import StudentMonth, student_month
from progress.views.row import row_of
from routines.models import Block
from routines.queries import blocks_of, days_to_change
from routines.sheet import sheet
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Student, new_public_id
from studio.queries import (
    family_of,
    left_unanswered,
    phones_of,
    refused_lately,
    waiting_offer,
)
from studio.team_queries import who_may_teach
from studio.words import OfferKind


@access.for_teacher
@require_GET
def student(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Show one student: what is open, the month, the check-ins, the blocks, the phones."""
    found = access.student_of(request.membership, student_id)
    month = student_month(found, practice_day(found.studio, timezone.now()))
    block, row = month.block, row_of(month)
    in_block = [
        (kept, month.revisions.get(day, []))
        for day, kept in sorted(month.check_ins.items(), reverse=True)
        if block and block.first_day <= day <= block.last_day
    ]
    context = {
        "student": found,
        "month": month,
        "row": row,
        "line": row.line,
        "sheet": sheet(month.version.plan, month=block.month) if month.version and block else None,
        "check_ins": in_block,
        "change_from": _change_from(month),
        "ears": two_ears(month),
        "kept_months": KeptMonth.objects.filter(student=found).order_by("-month"),
        "blocks": _blocks_with_decisions(found),
        "phones": [*phones_of(found), *left_unanswered(found)],
        "refused": list(refused_lately(found, timezone.now())),
        "offer": waiting_offer(found),
        "family": family_of(found),
        "colleagues": who_may_teach(found.studio, month.day).count() > 1,
        "offer_keys": {kind.value: new_public_id() for kind in OfferKind},
    }
    return render(request, "progress/student.html", context)


def _blocks_with_decisions(student: Student) -> list[tuple[Block, list[Decision]]]:
    """Put what was decided at its end beside each block, the newest first."""
    decided: dict[int, list[Decision]] = {}
    for decision in decisions_of(student):
        decided.setdefault(decision.block_id, []).append(decision)
    return [(block, decided.get(block.pk, [])) for block in blocks_of(student)]


def _change_from(month: StudentMonth) -> date | None:
    """Say from which day a change of the block would begin: the first that is not played yet."""
    days = days_to_change(month.block, month.day) if month.block else None
    if days is None:
        return None
    first, last = days
    begins = first + timedelta(days=1) if first in month.filed_days else first
    return begins if begins <= last else None
