"""What keeps a student from the plan."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from progress.forms.answers import INTERRUPTION_WORDS
from studio.words import InterruptionKind

A_YEAR = timedelta(days=365)


class InterruptionForm(forms.Form):
    """What keeps a student from the plan for a while, as the teacher knows it."""

    kind = forms.TypedChoiceField(
        label=_("What"),
        choices=[(kind.value, said) for kind, said in INTERRUPTION_WORDS],
        coerce=InterruptionKind,
        widget=forms.RadioSelect,
    )
    first_day = forms.DateField(
        label=_("From"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    last_day = forms.DateField(
        label=_("To"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("Leave it empty if you do not know yet."),
    )
    note = forms.CharField(label=_("A note, only for you"), max_length=500, required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_first_day(self) -> date:
        """Keep the first day near enough to be meant."""
        first: date = self.cleaned_data["first_day"]
        soonest, latest = self.today - A_YEAR, self.today + A_YEAR
        if not soonest <= first <= latest:
            message = _("%(given)s: choose a day from %(first)s to %(last)s.") % {
                "given": _day(first),
                "first": _day(soonest),
                "last": _day(latest),
            }
            raise ValidationError(message)
        return first

    def clean(self) -> dict[str, Any]:
        """Keep the two days in order, and no more than a year apart."""
        data: dict[str, Any] = super().clean() or {}
        first, last = data.get("first_day"), data.get("last_day")
        if first and last and last < first:
            message = _("%(last)s is before %(first)s: choose that day or a later one.")
            days = {"last": date_format(last, "d F"), "first": date_format(first, "d F")}
            self.add_error("last_day", message % days)
        elif first and last and last - first > A_YEAR:
            latest = first + A_YEAR
            self.add_error(
                "last_day",
                _(
                    "%(last)s is more than a year after %(first)s: choose a day up to %(latest)s, "
                    "or leave it empty."
                )
                % {"last": _day(last), "first": _day(first), "latest": _day(latest)},
            )
        return data


def _day(day: date) -> str:
    return date_format(day, "j F Y")
