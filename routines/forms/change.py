"""What a block asks, changed from a day on."""

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from routines.forms.plan import PlanForm


class ChangeForm(PlanForm):
    """A plan for the days of a block from one on; which days can be is the service's to say."""

    field_order = ("from_day",)

    from_day = forms.DateField(
        label=_("From"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: Any, days: tuple[date, date], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        first, last = days
        self.fields["from_day"].widget.attrs |= {"min": str(first), "max": str(last)}
