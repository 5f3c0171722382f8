"""Where a check-in of the wrong day belongs."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

OUT = "out"


class FixDayForm(forms.Form):
    """The day a check-in goes to; "out" is none, and takes it out."""

    day = forms.TypedChoiceField(
        coerce=lambda value: None if value == OUT else date.fromisoformat(value),
        empty_value=None,
        error_messages={
            "required": _("No day is chosen: press a day, or take the check-in out."),
            "invalid_choice": _("This day cannot be: choose one of those on the page."),
        },
    )

    def __init__(self, *args: Any, days: Sequence[date], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["day"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - narrows the type
        field.choices = [*((day.isoformat(), date_format(day, "l")) for day in days), (OUT, "out")]
