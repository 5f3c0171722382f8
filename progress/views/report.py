"""Reports for families: written from recorded facts, edited by the teacher, printed."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from progress.charts.month_line import MonthLine, month_line
from progress.exports.report_words import draft
from progress.forms.reports import DaysForm, WordsForm
from progress.queries.months import StudentMonth
from progress.queries.reports import Facts, days_to_report, facts_of, reports
from progress.services.reports import write_report
from progress.views.line import line_days
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Student

USUAL_DAYS = 28
PAGES_AT_ONCE = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One student's report as it is printed."""

    facts: Facts
    blocks: list[tuple[StudentMonth, MonthLine]]
    words: str
    hurt_days: list[date]

    @property
    def done(self) -> int:
        """Days with a check-in, in all blocks."""
        return sum(line.done for _month, line in self.blocks)

    @property
    def asked(self) -> int:
        """Days that were asked for until today, in all blocks."""
        return sum(line.asked for _month, line in self.blocks)


@access.for_teacher
@require_http_methods(["GET", "POST"])
def report(request: TeacherRequest, student_id: str) -> HttpResponse:
    """Show a student's report, and keep the teacher's words in it."""
    student = access.student_of(request.membership, student_id)
    today = practice_day(student.studio, timezone.now())
    days_form, days = _days(request, days_to_report(student, today) or _lately(today))
    sheet = _sheet(student, days, today)
    form = WordsForm(
        request.POST if request.method == "POST" else None, initial={"words": sheet.words}
    )
    if form.is_valid():
        words = form.cleaned_data["words"]
        write_report(student, *days, words=words, by=request.user, moment=timezone.now())
        messages.success(request, _("Saved."))
        return redirect(f"{request.path}?{_query(days)}")
    context = {"student": student, "sheet": sheet, "days_form": days_form, "form": form}
    status = 422 if form.is_bound or days_form.errors else 200
    return render(request, "progress/report.html", context | {"query": _query(days)}, status=status)


@access.for_teacher
@require_GET
def all_reports(request: TeacherRequest) -> HttpResponse:
    """List the students with what is written about these days."""
    today = practice_day(request.membership.studio, timezone.now())
    form, days = _days(request, _lately(today))
    written = {row.student_id: row for row in reports(*days)}
    students = [
        (student, written.get(student.pk)) for student in access.students_of(request.membership)
    ]
    context = {"students": students, "days_form": form, "days": days, "query": _query(days)}
    return render(request, "progress/reports.html", context, status=422 if form.errors else 200)


@access.for_teacher
@require_GET
def print_reports(request: TeacherRequest) -> HttpResponse:
    """Lay out every student's report for one print: a few pages at a time, or all at once."""
    students = list(access.students_of(request.membership))
    today = practice_day(request.membership.studio, timezone.now())
    _form, days = _days(request, _lately(today))
    is_whole = "all" in request.GET
    begin = 0 if is_whole else _begin(request.GET)
    chosen = students[begin:] if is_whole else students[begin : begin + PAGES_AT_ONCE]
    is_part = bool(request.htmx)
    # The page itself comes at once and empty; its pages follow, a few at a time.
    shown = chosen if is_part or is_whole else []
    context = {
        "sheets": [_sheet(student, days, today) for student in shown],
        "made": begin + len(shown),
        "total": len(students),
        "query": _query(days),
        "is_part": is_part,
    }
    template = "progress/_report_pages.html" if is_part else "progress/reports_print.html"
    return render(request, template, context)


def _begin(given: QueryDict) -> int:
    said = given.get("made", "0")
    return int(said) if said.isdecimal() and len(said) <= 4 else 0


def _days(
    request: TeacherRequest, proposed: tuple[date, date]
) -> tuple[DaysForm, tuple[date, date]]:
    """Read the days from the address; those that cannot be leave the proposed ones."""
    initial = dict(zip(("first_day", "last_day"), proposed, strict=True))
    asked = "first_day" in request.GET or "last_day" in request.GET
    form = DaysForm(request.GET if asked else None, initial=initial)
    if form.is_valid():
        return form, (form.cleaned_data["first_day"], form.cleaned_data["last_day"])
    return form, proposed


def _lately(today: date) -> tuple[date, date]:
    return today - timedelta(days=USUAL_DAYS - 1), today


def _query(days: tuple[date, date]) -> str:
    return f"first_day={days[0].isoformat()}&last_day={days[1].isoformat()}"


def _sheet(student: Student, days: tuple[date, date], today: date) -> Sheet:
    facts = facts_of(student, *days, today=today)
    # What hurt is told to a family only where the teacher has chosen so.
    months = facts.months if student.parents_see_hurts else []
    told = {row.day for month in months for row in month.told}
    return Sheet(
        facts=facts,
        blocks=[(month, month_line(line_days(month), small=True)) for month in facts.months],
        words=facts.report.words if facts.report else draft(facts),
        hurt_days=sorted(day for day in told if days[0] <= day <= days[1]),
    )
