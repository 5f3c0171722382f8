"""Which days a report is about, and the teacher's words in it."""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

MOST_DAYS = 400
MOST_WORDS = 1500
DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class DaysForm(forms.Form):
    """From one day to another; without any, the days that are proposed."""

    first_day = forms.DateField(label=_("From"), widget=DAY)
    last_day = forms.DateField(label=_("To"), widget=DAY)

    def clean(self) -> dict[str, Any]:
        """Refuse days that run backwards or over more than a school year."""
        cleaned: dict[str, Any] = super().clean() or {}
        first, last = cleaned.get("first_day"), cleaned.get("last_day")
        if isinstance(first, date) and isinstance(last, date):
            if last < first:
                self.add_error(
                    "last_day", _("The last day is before the first: choose a later one.")
                )
            elif last - first > timedelta(days=MOST_DAYS):
                self.add_error("last_day", _("That is over a year: choose 400 days at most."))
        return cleaned


class WordsForm(forms.Form):
    """What the teacher says to the family."""

    words = forms.CharField(
        label=_("Your words to the family"),
        required=False,
        max_length=MOST_WORDS,
        widget=forms.Textarea(attrs={"rows": 6}),
        help_text=_("Drafted from what was recorded. Change what you like; only this is kept."),
    )
