"""What keeps a student from the plan."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from progress.forms.answers import INTERRUPTION_WORDS
from studio.words import InterruptionKind

A_YEAR = timedelta(days=365)


class InterruptionForm(forms.Form):
    """What keeps a student from the plan for a while, as the teacher knows it."""

    kind = forms.TypedChoiceField(
        label="What",
        choices=[(kind.value, said) for kind, said in INTERRUPTION_WORDS],
        coerce=InterruptionKind,
        widget=forms.RadioSelect,
    )
    first_day = forms.DateField(
        label="From", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    last_day = forms.DateField(
        label="To",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Leave it empty if you do not know yet.",
    )
    note = forms.CharField(label="A note, only for you", max_length=500, required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_first_day(self) -> date:
        """Keep the first day near enough to be meant."""
        first: date = self.cleaned_data["first_day"]
        soonest, latest = self.today - A_YEAR, self.today + A_YEAR
        if not soonest <= first <= latest:
            message = f"{_day(first)}: choose a day from {_day(soonest)} to {_day(latest)}."
            raise ValidationError(message)
        return first

    def clean(self) -> dict[str, Any]:
        """Keep the two days in order, and no more than a year apart."""
        data: dict[str, Any] = super().clean() or {}
        first, last = data.get("first_day"), data.get("last_day")
        if first and last and last < first:
            self.add_error(
                "last_day", f"{last:%d %B} is before {first:%d %B}: choose that day or a later one."
            )
        elif first and last and last - first > A_YEAR:
            latest = first + A_YEAR
            self.add_error(
                "last_day",
                f"{_day(last)} is more than a year after {_day(first)}: choose a day up to "
                f"{_day(latest)}, or leave it empty.",
            )
        return data


def _day(day: date) -> str:
    return f"{day.day} {day:%B} {day.year}"
