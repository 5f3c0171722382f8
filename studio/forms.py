"""What teachers type about studios and students."""

import unicodedata
from datetime import date
from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth import password_validation
from django.core.exceptions import ValidationError
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from studio.models import User
from studio.words import WEEKDAYS, Grade

NOTE_NAMINGS = (
    ("letters", _("English: B♭ B C")),
    ("german", _("German and Nordic: B H C")),
    ("dutch", _("Dutch: bes b c")),
    ("italian", _("Italian: si♭ si do, said si bemolle")),
    ("french", _("French: si♭ si do, said si bémol")),
    ("spanish", _("Spanish: si♭ si do, said si bemol")),
)


def _zones() -> list[tuple[str, str]]:
    """List the time zones that people mean, in the order of their names."""
    return [
        (zone, zone.replace("_", " "))
        for zone in sorted(available_timezones())
        if "/" in zone and not zone.startswith(("Etc/", "SystemV/", "posix/", "right/"))
    ] + [("UTC", "UTC")]


class StudioForm(forms.Form):
    """The studio's settings."""

    name = forms.CharField(label=_("Studio’s name"), max_length=80)
    time_zone = forms.ChoiceField(
        label=_("Time zone"), choices=_zones, help_text=_("Days are counted in this zone.")
    )
    day_ends_at = forms.TimeField(
        label=_("Day ends at"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text=_("Practice before this hour counts for the evening before. 00:00 to 06:00."),
    )
    back_fill_days = forms.IntegerField(
        label=_("Days to fill in later"),
        min_value=0,
        max_value=14,
        help_text=_("How many days back a student may still check in. 0 to 14."),
    )
    link_hours = forms.IntegerField(
        label=_("A sent link lasts"),
        min_value=1,
        max_value=168,
        help_text=_("Hours until a phone’s link is too old. 1 to 168, which is a week."),
    )
    note_naming = forms.ChoiceField(
        label=_("Note names"),
        choices=NOTE_NAMINGS,
        widget=forms.RadioSelect,
        help_text=_("How notes are called, whatever the language of the pages."),
    )

    def clean_day_ends_at(self) -> Any:
        """Keep the end of the day in the night."""
        ends = self.cleaned_data["day_ends_at"]
        if ends.hour > 6 or (ends.hour == 6 and ends.minute):
            message = _("%(time)s is too late: choose 00:00 to 06:00.") % {"time": f"{ends:%H:%M}"}
            raise ValidationError(message)
        return ends


class AccountForm(forms.Form):
    """Who a new teacher is, and how they sign in."""

    name = forms.CharField(
        label=_("Your name"), max_length=80, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    email = forms.EmailField(
        label=_("Your e-mail"),
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
        help_text=_("You sign in with it."),
    )
    password = forms.CharField(
        label=_("A password"),
        strip=False,
        max_length=128,
        widget=forms.PasswordInput(
            attrs={"autocomplete": "new-password"},
            render_value=False,
        ),
        help_text=_("At least 12 characters. A few words in a row are good."),
    )

    def clean(self) -> dict[str, Any]:
        """Hold the password against the usual rules, with the name and e-mail at hand."""
        data = super().clean() or {}
        if data.get("password"):
            owner = User(email=data.get("email", ""), name=data.get("name", ""))
            owner.studio_names = [data.get("studio_name", "")]
            try:
                password_validation.validate_password(data["password"], owner)
            except ValidationError as error:
                self.add_error("password", error)
        return data

    @property
    def teacher(self) -> dict[str, Any]:
        """The teacher's part of what was typed."""
        return {name: self.cleaned_data[name] for name in ("name", "email", "password")}


class OpenStudioForm(AccountForm):
    """Who you are, and the studio you open."""

    studio_name = forms.CharField(label=_("Studio’s name"), max_length=80)
    time_zone = forms.ChoiceField(
        label=_("Time zone"),
        choices=_zones,
        initial="UTC",
        help_text=_("Taken from this computer. Days are counted in it."),
    )
    note_naming = forms.ChoiceField(
        label=_("Note names"),
        choices=NOTE_NAMINGS,
        initial="letters",
        widget=forms.RadioSelect,
        help_text=_("A student can have other ones. All of this can be changed under Settings."),
    )

    @property
    def studio(self) -> dict[str, Any]:
        """The studio's part of what was typed."""
        return {
            "name": self.cleaned_data["studio_name"],
            "time_zone": self.cleaned_data["time_zone"],
            "note_naming": self.cleaned_data["note_naming"],
        }


class FirstRunForm(OpenStudioForm):
    """The first page of an empty database: the token from the console comes first."""

    token = forms.CharField(
        label=_("First-run token"),
        max_length=100,
        help_text=_("It stands in the window where you started Filar."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )

    field_order = (
        "token", "name", "email", "password", "studio_name", "time_zone", "note_naming",
    )  # fmt: skip

    def clean_token(self) -> str:
        """Forgive spaces round a pasted token."""
        return str(self.cleaned_data["token"]).strip()


class PersonForm(forms.Form):
    """The fields of a student that are about the person; what they play is added above."""

    name = forms.CharField(label=_("First name or nickname"), max_length=80)
    grade = forms.ChoiceField(
        label=_("Grade"),
        choices=(
            (Grade.BEGINNER, _("Beginner")),
            (Grade.INTERMEDIATE, _("Intermediate")),
            (Grade.OPEN, pgettext_lazy("grade", "Open")),
        ),
        initial=Grade.BEGINNER,
        widget=forms.RadioSelect,
    )
    group = forms.CharField(
        label=_("Group or place"), max_length=80, required=False, help_text=_("Such as a school.")
    )
    lesson_day = forms.TypedChoiceField(
        label=_("Lesson day"),
        choices=(("", _("Not fixed")), *((str(i), day) for i, day in enumerate(WEEKDAYS))),
        coerce=int,
        empty_value=None,
        required=False,
    )
    note_naming = forms.ChoiceField(
        label=_("Note names"),
        choices=(("", _("As in the studio")), *NOTE_NAMINGS),
        required=False,
        help_text=_("How this student calls notes."),
    )
    child = forms.TypedChoiceField(
        label=_("Child or adult"),
        choices=(("yes", _("Child")), ("no", _("Adult"))),
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
        help_text=_("Up to which age a parent decides is set by local law."),
    )
    parent_email = forms.EmailField(
        label=_("Parent’s e-mail"),
        required=False,
        max_length=254,
        help_text=_("Only for reminders."),
    )
    remind_parent = forms.BooleanField(
        label=_("Send a kind reminder there"),
        required=False,
        help_text=_(
            "After four days without news, once a week at most. A link in the letter stops it."
        ),
    )
    consent_on = forms.DateField(
        label=_("Parent said yes on"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("A child’s phone can be set up once a parent has said yes. Until then: paper."),
    )
    consent_how = forms.CharField(
        label=_("How they said it"),
        max_length=120,
        required=False,
        help_text=_("Such as: signed form, e-mail, at the lesson."),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_name(self) -> str:
        """Refuse a name that nobody could see or read."""
        name: str = self.cleaned_data["name"]
        if all(unicodedata.category(sign)[0] in "CZM" for sign in name):
            message = _("This name has no visible letter: write a first name or a nickname.")
            raise ValidationError(message)
        return name

    def clean_remind_parent(self) -> bool:
        """Refuse reminders that have nowhere to go."""
        asked: bool = self.cleaned_data["remind_parent"]
        if asked and not self.cleaned_data.get("parent_email"):
            raise ValidationError(_("Write the parent’s e-mail, or leave the reminder off."))
        return asked

    def clean_consent_on(self) -> date | None:
        """Refuse a yes that has not been said yet."""
        said: date | None = self.cleaned_data["consent_on"]
        if said and said > self.today:
            message = _("%(day)s is still to come: write the day they said yes.") % {
                "day": date_format(said, "d F Y")
            }
            raise ValidationError(message % {"day": date_format(said, "d F Y")})
        return said


class CloseDiscomfortForm(forms.Form):
    """What a teacher says on closing a discomfort."""

    spoken_with_family = forms.BooleanField(
        label=_("I have spoken with the family"), required=False
    )
