"""A month of a paper chart, a line a day."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext_lazy as _

from progress.engine.paper import PaperDay, PaperError, read
from progress.queries.paper import EnteredDay

DAY_BY_DAY = "day by day"
AFTERWARDS = "afterwards"
LONGEST_LINE = 20


class LineField(forms.CharField):
    """One day in the signs of the chart; an empty one is a day without practice."""

    def clean(self, value: Any) -> Any:
        """Read the line, or say which sign cannot be."""
        line = super().clean(value)
        try:
            return read(line)
        except PaperError as error:
            raise forms.ValidationError(str(error)) from error


class PaperForm(forms.Form):
    """The days without a check-in, and when the chart was filled in."""

    key = forms.UUIDField(label=_("Entry"), required=False, widget=forms.HiddenInput)
    how = forms.ChoiceField(
        label=_("When was it filled in?"),
        choices=[
            (DAY_BY_DAY, _("Day by day, after practice")),
            (AFTERWARDS, _("Afterwards, or I do not know")),
        ],
        widget=forms.RadioSelect,
        help_text=_(
            "What was written down afterwards counts as practice. The assessment then rests on the "
            "lessons: after some days nobody remembers how many notes were clean."
        ),
        error_messages={"required": _("Say when it was filled in: it decides what counts.")},
    )

    def __init__(self, *args: Any, days: Sequence[EnteredDay], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.entered = days
        self.fields["key"].initial = uuid4
        is_first = not self.is_bound
        for row in days:
            if not row.line:
                # Whoever opens this page has the chart in one hand and types at once.
                focus = {"autofocus": ""} if is_first else {}
                is_first = False
                self.fields[_name(row.day)] = LineField(
                    label=f"{row.day:%A} {row.day.day} {row.day:%B}",
                    required=False,
                    max_length=LONGEST_LINE,
                    widget=forms.TextInput(
                        attrs={
                            "autocomplete": "off",
                            "autocapitalize": "none",
                            "spellcheck": "false",
                            "class": "paper-line",
                            "data-next-on-enter": "",
                            **focus,
                        }
                    ),
                )

    def rows(self) -> Iterator[tuple[EnteredDay, BoundField | None]]:
        """Every day with its field; a day that has a check-in has none."""
        for row in self.entered:
            yield row, None if row.line else self[_name(row.day)]

    @property
    def days(self) -> dict[date, PaperDay]:
        """The days that were filled in."""
        found = ((row.day, self.cleaned_data.get(_name(row.day))) for row in self.entered)
        return {day: line for day, line in found if line is not None}

    def clean(self) -> dict[str, Any]:
        """Refuse an entry without a single day, unless a day is wrong already."""
        cleaned: dict[str, Any] = super().clean() or {}
        cleaned["key"] = cleaned.get("key") or uuid4()
        if not self.errors and not self.days:
            message = _("No day is filled in: write at least one line.")
            raise forms.ValidationError(message)
        return cleaned


def _name(day: date) -> str:
    return f"day-{day.isoformat()}"
