"""Whether a student may record, and until when the sound is kept."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

from progress.models import RecordingLeave
from studio.models import Student

KEEP_DAYS = (14, 30, 60, 90, 180)
USUAL_DAYS = 60


class LeaveForm(forms.Form):
    """The switch of one student; for a child, a parent's yes goes with it."""

    is_on = forms.BooleanField(label=_("May record held notes"), required=False)
    agreed_on = forms.DateField(
        label=_("A parent said yes on"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    agreed_how = forms.CharField(
        label=_("How they said it"),
        max_length=120,
        required=False,
        help_text=_("Such as a signed form, or at the lesson."),
    )
    keep_days = forms.TypedChoiceField(
        label=_("Delete the sound after"),
        coerce=int,
        choices=[
            (days, ngettext_lazy("%(days)d day", "%(days)d days", days) % {"days": days})
            for days in KEEP_DAYS
        ],
    )

    def __init__(self, *args: Any, student: Student, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.student, self.today = student, today
        if not student.child:
            del self.fields["agreed_on"], self.fields["agreed_how"]

    def clean_agreed_on(self) -> date | None:
        """Refuse a yes that is still to come."""
        day: date | None = self.cleaned_data["agreed_on"]
        if day is not None and day > self.today:
            message = _("%(day)s is still to come: write the day of the yes.") % {
                "day": date_format(day, "d F Y")
            }
            raise ValidationError(message)
        return day

    def clean(self) -> dict[str, Any]:
        """Ask for a parent's yes before a child is recorded."""
        data: dict[str, Any] = super().clean() or {}
        if self.student.child and data.get("is_on"):
            for name, words in (
                ("agreed_on", _("A child needs a parent’s yes: write its day.")),
                ("agreed_how", _("Write how the parent said yes.")),
            ):
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, words)
        return {"agreed_on": None, "agreed_how": ""} | data

    @staticmethod
    def initial_of(leave: RecordingLeave | None) -> dict[str, Any]:
        """Say the row as the form does."""
        if leave is None:
            return {"keep_days": USUAL_DAYS}
        names = ("is_on", "agreed_on", "agreed_how", "keep_days")
        return {name: getattr(leave, name) for name in names}
