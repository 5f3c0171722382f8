"""What a teacher heard at a lesson."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from progress.forms.answers import RATED, RatingsForm


class LessonRatingForm(RatingsForm):
    """What the teacher heard: the student's own four rows, and a note for the teacher alone."""

    day = forms.DateField(
        label=_("Lesson on"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    note = forms.CharField(
        label=_("A note, only for you"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_day(self) -> date:
        """Refuse a lesson that is still to come."""
        day: date = self.cleaned_data["day"]
        if day > self.today:
            message = _("%(day)s is still to come: write the day of the lesson.") % {
                "day": date_format(day, "d F Y")
            }
            raise ValidationError(message)
        return day

    def clean(self) -> dict[str, Any]:
        """Ask for at least one of the four."""
        data: dict[str, Any] = super().clean() or {}
        if all(data.get(name) is None for name in RATED):
            message = _("Nothing is rated yet: press at least one of the four rows.")
            raise ValidationError(message)
        return data
