"""What teachers type about themselves, their colleagues and their settings."""

import unicodedata
from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from studio.models import Membership, Student
from studio.words import ROLE_EFFECTS, Caution, Role


class RoleForm(forms.Form):
    """What a teacher may do here, and until when."""

    role = forms.TypedChoiceField(
        label=_("May do"),
        choices=[(role.value, effect) for role, effect in ROLE_EFFECTS.items()],
        coerce=Role,
        initial=Role.TEACHER,
        widget=forms.RadioSelect,
    )
    ends_on = forms.DateField(
        label=_("Last day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("For a cover teacher: after this day the studio is closed to them."),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean(self) -> dict[str, Any]:
        """Ask for a last day of a cover teacher, and of nobody else."""
        data = super().clean() or {}
        role, ends_on = data.get("role"), data.get("ends_on")
        if "ends_on" not in data or role is None:
            return data
        if role is Role.COVER and ends_on is None:
            self.add_error("ends_on", _("A cover teacher needs a last day: choose one."))
        elif role is Role.COVER and ends_on and ends_on < self.today:
            over = _("%(day)s is over: choose today or a later day.") % {
                "day": date_format(ends_on, "d F Y")
            }
            self.add_error("ends_on", over)
        elif role is not Role.COVER and ends_on is not None:
            words = _(
                "Only a cover teacher has a last day: leave it empty, or choose cover teacher."
            )
            self.add_error("ends_on", words)
        return data


class InviteForm(RoleForm):
    """Whom to invite as what."""

    email = forms.EmailField(
        label=_("Their e-mail"),
        required=False,
        max_length=254,
        help_text=_("If you write it, the link works only for an account with this e-mail."),
    )

    field_order = ("role", "ends_on", "email")


class JoinForm(forms.Form):
    """The secret of an invitation, which the page takes from the link by itself."""

    token = forms.CharField(
        label=_("Your invitation"),
        max_length=100,
        help_text=_("The letters after the # in the link that you were sent."),
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )

    def clean_token(self) -> str:
        """Take the whole pasted link as well as its last part."""
        return str(self.cleaned_data["token"]).strip().rpartition("#")[2]


class HandOverForm(forms.Form):
    """Which teacher a student is with from now on."""

    to = forms.ChoiceField(label=_("Teacher"), required=False, widget=forms.RadioSelect)

    def __init__(self, *args: Any, teachers: Iterable[Membership], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by_id = {place.public_id: place for place in teachers}
        names = [(public_id, str(place.user)) for public_id, place in self.by_id.items()]
        self.fields["to"].choices = [*names, ("", _("Nobody in particular"))]  # type: ignore[attr-defined]

    def clean_to(self) -> Membership | None:
        """Turn the choice into the teacher's place in the studio."""
        return self.by_id.get(self.cleaned_data["to"])


class CautionForm(forms.Form):
    """How sure the program has to be."""

    caution = forms.TypedChoiceField(
        label=_("Before “may be ready”"),
        coerce=Caution,
        widget=forms.RadioSelect,
        choices=(
            (Caution.BOLD.value, _("Bold: 65 % likely at your 4 is enough")),
            (Caution.USUAL.value, _("Usual: 75 % likely")),
            (Caution.STRICT.value, _("Strict: 85 % likely")),
        ),
    )


class PrivacyForm(forms.Form):
    """How long the studio means to keep what students said."""

    keep_months = forms.IntegerField(
        label=_("Keep check-ins for"),
        min_value=12,
        max_value=60,
        help_text=_("Months, 12 to 60."),
    )


class LookForm(forms.Form):
    """Light or dark."""

    look = forms.ChoiceField(
        label=_("Light or dark"),
        required=False,
        choices=(("", _("As this device is set")), ("light", _("Light")), ("dark", _("Dark"))),
        widget=forms.RadioSelect,
    )


class LettersForm(forms.Form):
    """Which letters a teacher gets."""

    letters_at_once = forms.BooleanField(
        label=_("At once, when a student tells something that should not wait"), required=False
    )
    letters_on_mondays = forms.BooleanField(
        label=_("On Mondays: whom to look in on, who may be ready, which months end"),
        required=False,
    )


class SignOutEverywhereForm(forms.Form):
    """A yes before every phone of the studio is signed out."""

    sure = forms.BooleanField(
        label=_("Yes, every phone of every student"),
        error_messages={"required": _("Nothing was signed out: tick the box first.")},
    )


class EraseForm(forms.Form):
    """The student's name, typed, so that nobody is erased by a slip of the hand."""

    name = forms.CharField(
        label=_("Type the student’s name"),
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def __init__(self, *args: Any, student: Student, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._name = student.name

    def clean_name(self) -> str:
        """Hold what was typed against the name; capital letters and spaces make no difference."""
        typed = str(self.cleaned_data["name"])
        if _plain(typed) != _plain(self._name):
            message = _("“%(typed)s” is not the name: type %(name)s.") % {
                "typed": typed,
                "name": self._name,
            }
            raise ValidationError(message)
        return typed


def _plain(name: str) -> str:
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())
