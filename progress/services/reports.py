"""Writes what a teacher says in a report."""

from datetime import date, datetime

from progress.models import Report
from studio.models import Student, User


def write_report(
    student: Student, first_day: date, last_day: date, *, words: str, by: User, moment: datetime
) -> Report:
    """Keep the words about these days; words written before about the same days are replaced."""
    report: Report
    report, _ = Report.objects.update_or_create(
        student=student,
        first_day=first_day,
        last_day=last_day,
        defaults={"words": words, "by": by, "changed_at": moment},
    )
    return report
