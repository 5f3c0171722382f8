"""What keeps a student from the plan."""

from typing import Any

from django import forms

from progress.forms.answers import INTERRUPTION_WORDS
from studio.words import InterruptionKind


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

    def clean(self) -> dict[str, Any]:
        """Keep the two days in order."""
        data: dict[str, Any] = super().clean() or {}
        first, last = data.get("first_day"), data.get("last_day")
        if first and last and last < first:
            self.add_error(
                "last_day", f"{last:%d %B} is before {first:%d %B}: choose that day or a later one."
            )
        return data
