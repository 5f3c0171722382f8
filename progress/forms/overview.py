"""Which students the overview shows."""

from collections.abc import Iterable, Sequence
from hashlib import sha256
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from progress.queries.months import StudentMonth
from routines.engine import instruments
from routines.words import instrument_name
from studio.models import Student
from studio.words import WEEKDAYS

ALL: list[tuple[str, Any]] = [("", _("All"))]


def code_of(group: str) -> str:
    """Stand for a group in an address, where a name has no business."""
    return sha256(group.encode()).hexdigest()[:8]


class OverviewFilter(forms.Form):
    """A lesson day, an instrument, a group: what is left open lets everybody through."""

    day = forms.ChoiceField(label=_("Lesson day"), required=False)
    instrument = forms.ChoiceField(label=_("Instrument"), required=False)
    group = forms.ChoiceField(label=_("Group"), required=False)

    def __init__(self, *args: Any, students: Iterable[Student], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        students = list(students)
        days = sorted({row.lesson_day for row in students if row.lesson_day is not None})
        played = {row.instrument for row in students}
        groups = sorted({row.group for row in students if row.group})
        self._offer("day", [(str(day), WEEKDAYS[day]) for day in days])
        self._offer(
            "instrument",
            [
                (row.id, instrument_name(row.id))
                for row in instruments.INSTRUMENTS
                if row.id in played
            ],
        )
        self._offer("group", [(code_of(group), group) for group in groups])

    @property
    def is_narrow(self) -> bool:
        """Whether anything is chosen."""
        return any(self._chosen().values())

    def among(self, months: Sequence[StudentMonth]) -> list[StudentMonth]:
        """Keep the students who are asked for; what is not on offer is not asked for."""
        chosen = self._chosen()
        return [
            month
            for month in months
            if chosen["day"] in ("", str(month.student.lesson_day))
            and chosen["instrument"] in ("", month.student.instrument)
            and chosen["group"] in ("", code_of(month.student.group))
        ]

    def _chosen(self) -> dict[str, str]:
        self.is_valid()
        return {name: self.cleaned_data.get(name, "") for name in self.fields}

    def _offer(self, name: str, choices: list[tuple[str, Any]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - narrows the type
        field.choices = ALL + choices
