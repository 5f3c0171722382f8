"""What the figures are held against, behind the middleware and the door of every page."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from threading import local
from typing import Any
from uuid import uuid4

from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from progress.engine.readiness import assess_as_of
from progress.models import CheckIn
from progress.queries import kept_months
from progress.queries.evidence import evidence_of
from progress.queries.months import studio_months
from progress.views.overview import PARTS, gather, overview
from progress.views.row import Row
from routines.models import Block, BlockVersion
from studio import access
from studio.access import practice_day
from studio.http import StudioRequest, TeacherRequest

COUNT = "Count-Queries"
_in_memory: dict[str, Any] = {}
_looking = local()


class StoreToBeHidden(kept_months.Store):
    """A store in which a request may find nothing, whatever others keep in it meanwhile."""

    def known(self, database: str, day: date) -> dict[int, kept_months.Kept]:
        """Find what is kept, unless this request looks as if for the first time."""
        return {} if getattr(_looking, "as_if_new", False) else super().known(database, day)


def hide_when_asked() -> None:
    """Put such a store in the place of the program's: the server that is measured does it."""
    kept_months.STORE = StoreToBeHidden(kept_months.MOST_KEPT)


class CountingMiddleware:
    """Says how many queries an answer took, where that is asked."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the page be made; count on the way."""
        if COUNT not in request.headers:
            return self.get_response(request)
        asked: list[str] = []

        def count(execute: Any, sql: str, params: Any, many: Any, context: Any) -> Any:
            # What only opens and closes a transaction asks nothing.
            if not sql.startswith(("BEGIN", "SAVEPOINT", "RELEASE")):
                asked.append(sql)
            return execute(sql, params, many, context)

        with connection.execute_wrapper(count):
            response = self.get_response(request)
        response[COUNT] = str(len(asked))
        return response


@access.for_teacher
@require_GET
def bare(request: TeacherRequest) -> HttpResponse:
    """Answer with one word."""
    return HttpResponse("ok")


@access.for_teacher
@require_GET
def floor(request: TeacherRequest) -> HttpResponse:
    """Render the overview's own template, with every row of it, from what lies in memory."""
    if "overview" not in _in_memory:
        context = gather(request)
        _in_memory["overview"] = context | {part: never_kept(context[part]) for part in PARTS}
    return render(request, "progress/overview.html", _in_memory["overview"])


class Nothing(dict[Any, Any]):
    """What keeps nothing, so that neither a request before nor one beside it spares the work."""

    def __setitem__(self, name: Any, value: Any) -> None:
        """Let it go."""


def never_kept(rows: Sequence[Row]) -> list[Row]:
    """Give rows of which no text is kept; the overview's own stay as they are."""
    return [replace(row, month=replace(row.month, derived=Nothing())) for row in rows]


@require_GET
def cold(request: TeacherRequest) -> HttpResponse:
    """Show the overview as if everything had changed since the last look."""
    _looking.as_if_new = True
    try:
        return overview(request)
    finally:
        _looking.as_if_new = False


@access.for_teacher
@require_GET
def assessed(request: TeacherRequest) -> HttpResponse:
    """Assess everybody anew, from rows that lie in memory."""
    if "months" not in _in_memory:
        day = practice_day(request.membership.studio, timezone.now())
        _in_memory["months"] = studio_months(access.students_of(request.membership), day)
    found = [
        assess_as_of(evidence, month.day)
        for month in _in_memory["months"]
        if (evidence := evidence_of(month))
    ]
    return HttpResponse(str(len(found)))


@access.for_teacher
@require_POST
def insert(request: StudioRequest) -> HttpResponse:
    """Write a check-in's row, and do nothing else."""
    if "block" not in _in_memory:
        block = Block.objects.get(public_id=request.POST["block"])
        version = BlockVersion.objects.filter(block=block).latest("from_day")
        _in_memory["block"] = (block, version)
    block, version = _in_memory["block"]
    now = datetime.now(UTC)
    with transaction.atomic():
        row = CheckIn.objects.create(
            student_id=block.student_id,
            block=block,
            version=version,
            key=uuid4(),
            day=now.date(),
            done_at=now,
            received_at=now,
            attack=4,
            sound=4,
            evenness=4,
            release=4,
            effort=6,
            discomfort="none",
        )
    return HttpResponse(row.public_id)
