"""The practice chart on paper: printed for a stand, and typed in from one."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.forms.answers import EFFORT_WORDS, QUESTION, RATING_WORDS
from progress.forms.paper import DAY_BY_DAY, PaperForm
from progress.queries.paper import ChartDay, chart_days, days_to_enter, days_to_take_back
from progress.services.paper import PaperEntryError, enter_paper, undo_paper
from routines.engine.dynamics import Kind
from routines.engine.plan import BlockPlan
from routines.engine.staff import StaffPicture
from routines.models import Block
from routines.queries import next_to_come, running, version_on, with_blocks
from routines.sheet import engraved, naming_of
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Student

SIZES = ("a4", "letter")


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One student's sheet of paper."""

    block: Block
    plan: BlockPlan
    staves: list[StaffPicture]
    bands: list[list[ChartDay]]
    days_differ: bool


@access.for_teacher
@require_GET
def charts(request: TeacherRequest) -> HttpResponse:
    """Show the charts of all students whose block runs or comes next, or of a group."""
    group = request.GET.get("group", "")
    today = practice_day(request.membership.studio, timezone.now())
    students = list(with_blocks(access.students_of(request.membership)))
    asked = [student for student in students if group in {"", student.group}]
    blocks = filter(None, (_block_of(student, today) for student in asked))
    context: dict[str, object] = {
        "group": group,
        "groups": sorted({one.group for one in students if one.group}),
    }
    return _print(request, [_chart(block, today) for block in blocks], context)


@access.for_teacher
@require_GET
def chart(request: TeacherRequest, block_id: str) -> HttpResponse:
    """Show the chart of one block."""
    block = _block(request, block_id)
    today = practice_day(block.student.studio, timezone.now())
    return _print(request, [_chart(block, today)], {"assigned": block})


@access.for_teacher
@require_http_methods(["GET", "POST"])
def enter(request: TeacherRequest, block_id: str) -> HttpResponse:
    """Take what stands on a chart, a line a day."""
    block = _block(request, block_id)
    moment = timezone.now()
    if request.method == "POST" and (sent := _entry(request.POST.get("key", ""), block, moment)):
        # A second press on the button: the first has done it.
        return redirect(f"{request.path}?added={sent}")
    days = days_to_enter(block, practice_day(block.student.studio, moment))
    form = PaperForm(request.POST if request.method == "POST" else None, days=days)
    if form.is_valid():
        key, is_fresh = form.cleaned_data["key"], form.cleaned_data["how"] == DAY_BY_DAY
        try:
            enter_paper(block, form.days, key=key, day_by_day=is_fresh, moment=moment)
        except PaperEntryError as error:
            form.add_error(None, str(error))
        else:
            return redirect(f"{request.path}?added={key}")
    context = {
        "assigned": block,
        "student": block.student,
        "form": form,
        "rating_words": [words for _rating, words in RATING_WORDS],
        "effort_words": [words for _effort, words in EFFORT_WORDS],
        "added": _entry(request.GET.get("added", ""), block, moment),
    }
    status = 422 if form.is_bound else 200
    return render(request, "progress/paper_entry.html", context, status=status)


@access.for_teacher
@require_POST
def undo(request: TeacherRequest, block_id: str) -> HttpResponse:
    """Take an entry back."""
    block = _block(request, block_id)
    key = _uuid(request.POST.get("key", ""))
    count = undo_paper(block, key=key, moment=timezone.now()) if key else 0
    if count:
        said = ngettext("%(count)d day is taken back.", "%(count)d days are taken back.", count)
        messages.success(request, said % {"count": count})
    else:
        said = _(
            "Nothing was taken back: ten minutes are over. “Wrong day?” beside a check-in on the "
            "student’s page takes out a single day."
        )
        messages.warning(request, said)
    return redirect("progress:enter_paper", block.public_id)


def _entry(given: str, block: Block, moment: datetime) -> UUID | None:
    """Find an entry that was just made, as long as it can be taken back."""
    key = _uuid(given)
    return key if key and days_to_take_back(block, key, moment).exists() else None


def _uuid(given: str) -> UUID | None:
    try:
        return UUID(given[:36])
    except ValueError:
        return None


def _block_of(student: Student, day: date) -> Block | None:
    blocks = student.block_set.all()
    return running(blocks, day) or next_to_come(blocks, day)


def _block(request: TeacherRequest, public_id: str) -> Block:
    rows = Block.objects.filter(student__studio=request.membership.studio)
    block: Block = get_object_or_404(rows.select_related("student__studio"), public_id=public_id)
    return block


def _chart(block: Block, today: date) -> Chart:
    day = max(block.first_day, min(today, block.last_day))
    plan = version_on(block, day).plan
    return Chart(
        block=block,
        plan=plan,
        staves=engraved(plan, naming_of(block.student)),
        bands=chart_days(block, lambda turn: plan.dynamics.at(turn, 0)),
        days_differ=plan.dynamics.kind is Kind.BY_DAY,
    )


def _print(request: TeacherRequest, sheets: list[Chart], known: dict[str, object]) -> HttpResponse:
    size = request.GET.get("size", "")
    context = known | {
        "sheets": sheets,
        "size": size if size in SIZES else SIZES[0],
        "question": QUESTION,
        "rating_words": [words for _rating, words in RATING_WORDS],
        "effort_words": [words for _effort, words in EFFORT_WORDS],
    }
    return render(request, "progress/paper_chart.html", context)
