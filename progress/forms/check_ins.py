"""What a phone sends: a check-in, why there is no session, that something hurts."""

from collections.abc import Collection, Mapping, Sequence
from copy import deepcopy
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from progress.engine.check_in import Discomfort, Effort, Register, Stopped
from progress.forms.answers import (
    EFFORT_WORDS,
    HOW_MUCH_WORDS,
    PLACE_WORDS,
    REQUIRED_ANSWERS,
    STOPPED_WORDS,
    RatingsForm,
    choice_of,
)
from studio.words import HowMuch, Place, day_in_words_later

NOWHERE = "nowhere"
REGISTERS = (
    (Register.LOW.value, pgettext_lazy("range", "Low")),
    (Register.MIDDLE.value, pgettext_lazy("range", "Middle")),
    (Register.HIGH.value, pgettext_lazy("range", "High")),
)
CLOCK_MAY_BE_AHEAD = timedelta(minutes=10)
OLDEST = timedelta(days=15)


def told_at(said: str) -> datetime | None:
    """Read the moment a phone says something was told at; None where it says none."""
    try:
        moment = datetime.fromisoformat(said)
        return moment.astimezone(UTC) if moment.tzinfo is not None else None
    except (ValueError, OverflowError):
        return None


def believed(said: str, moment: datetime) -> datetime:
    """Take the phone's time if it can be true, else the time of arrival."""
    done = told_at(said)
    if done is None:
        return moment
    return done if moment - OLDEST <= done <= moment + CLOCK_MAY_BE_AHEAD else moment


def clock_may_be_right(said: str, moment: datetime) -> bool:
    """Whether the phone that sent this says when, and not a time that has not come yet."""
    done = told_at(said)
    return done is not None and done <= moment + CLOCK_MAY_BE_AHEAD


def _trouble(said: Sequence[str]) -> list[str] | None:
    """Say where it was hard: nowhere is an answer, nothing ticked is none."""
    places = [place for place in said if place != NOWHERE]
    return places if said else None


class DayField(forms.TypedChoiceField):
    """One of the days that may be filled in, said in words where it is none of them."""

    def validate(self, value: Any) -> None:
        """Name the day that was given, and what to do."""
        try:
            super().validate(value)
        except ValidationError as error:
            if error.code != "invalid_choice":
                raise
            message = _("%(day)s cannot be filled in: pick another day.") % {
                "day": _day_words(value)
            }
            raise ValidationError(message, code=error.code) from error


def _day_words(said: str) -> str:
    try:
        day = date.fromisoformat(said)
    except ValueError:
        return said
    return date_format(day, "l j F Y")


class _Fields(dict[str, forms.Field]):
    """The fields of a form, of which each form has its own only where it changes them.

    To copy twenty fields with all their parts takes longer than to read what was sent.
    """

    def __init__(self, fields: Mapping[str, forms.Field], *, changed: Collection[str]) -> None:
        super().__init__(fields)
        self.changed = changed

    def __deepcopy__(self, memo: dict[int, Any]) -> dict[str, forms.Field]:
        """Copy those that are changed, and share the others."""
        return {
            name: deepcopy(field, memo) if name in self.changed else field
            for name, field in self.items()
        }


class CheckInForm(RatingsForm):
    """A check-in. Nothing is filled in beforehand; what is not answered stays not answered."""

    effort = choice_of(_("How hard was it?"), EFFORT_WORDS, Effort)
    place = choice_of(_("Where did it hurt?"), PLACE_WORDS, Place)
    how_much = choice_of(_("How much?"), HOW_MUCH_WORDS, HowMuch)
    high_note = forms.TypedChoiceField(
        label=_("Highest good note"), coerce=int, empty_value=None, required=False
    )
    stopped_because = choice_of(_("Why did you stop there?"), STOPPED_WORDS, Stopped)
    completed = forms.TypedChoiceField(
        label=_("How much did you play?"),
        choices=(("1.0", _("All of it")), ("0.5", _("About half"))),
        coerce=float,
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
    )
    trouble = forms.MultipleChoiceField(
        label=_("Where was it hard?"),
        choices=[*REGISTERS, (NOWHERE, _("Nowhere"))],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    words = forms.CharField(
        label=_("Tell your teacher more"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    day = DayField(
        label=_("Day"), coerce=date.fromisoformat, error_messages={"required": _("Pick the day.")}
    )
    key = forms.UUIDField(widget=forms.HiddenInput)
    hurt = forms.ChoiceField(
        choices=(("no", "no"), ("yes", "yes"), ("anyway", "anyway")),
        widget=forms.HiddenInput,
        error_messages={"required": _("Did something hurt? Press one of the two last buttons.")},
    )
    seconds = forms.IntegerField(
        required=False, min_value=0, max_value=36_000, widget=forms.HiddenInput
    )
    share = forms.FloatField(required=False, min_value=0, max_value=1, widget=forms.HiddenInput)
    zone = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    utc_offset_minutes = forms.IntegerField(
        required=False, min_value=-900, max_value=900, widget=forms.HiddenInput
    )
    done_at = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        days: Sequence[date],
        high_notes: Sequence[tuple[str, str]],
        moment: datetime,
        first_day: date | None = None,
        **kwargs: Any,
    ) -> None:
        shown = first_day if first_day in days else next(iter(days), None)
        kwargs.setdefault("initial", {"key": uuid4(), "day": shown.isoformat() if shown else ""})
        # Django copies what it finds under this name.
        fields = _Fields(self.base_fields, changed=("day", "high_note"))
        self.base_fields = fields  # type: ignore[misc] # of this form alone, and not of the class
        super().__init__(*args, **kwargs)
        self.days, self.high_notes, self.moment = days, high_notes, moment
        self.may_save_anyway = False
        self._offer("day", [(day.isoformat(), day_in_words_later(day)) for day in days])
        self._offer("high_note", [("", _("Not said")), *high_notes])

    def clean_done_at(self) -> datetime:
        """Take the phone's time if it can be true, else the time of arrival."""
        return believed(self.cleaned_data["done_at"], self.moment)

    def clean(self) -> dict[str, Any]:
        """Ask once for what is missing; a student who is hurting is not asked."""
        data: dict[str, Any] = super().clean() or {}
        if data.get("hurt") == "yes":
            if data.get("how_much") is None and "how_much" not in self.errors:
                self.add_error("how_much", _("Pick one."))
            return data
        data["how_much"], data["place"] = None, None
        missing = [name for name in REQUIRED_ANSWERS if data.get(name) is None]
        if missing and data.get("hurt") != "anyway":
            self.may_save_anyway = True
            for name in missing:
                if name not in self.errors:
                    self.add_error(name, ValidationError(_("Pick one."), code="missing"))
        return data

    def with_a_new_key(self) -> "CheckInForm":
        """Return the same answers as another check-in, to change one that was saved before."""
        typed = QueryDict(mutable=True)
        typed.update(self.data)
        typed["key"] = str(uuid4())
        return CheckInForm(typed, days=self.days, high_notes=self.high_notes, moment=self.moment)

    @property
    def answers(self) -> dict[str, Any]:
        """What was said, under the names of the columns."""
        data = self.cleaned_data
        hurt = data["how_much"].value if data["hurt"] == "yes" else Discomfort.NONE.value
        return {
            **{name: data[name] for name in REQUIRED_ANSWERS},
            "discomfort": hurt,
            "place": data["place"] or "",
            "high_note": data["high_note"],
            "stopped_because": data["stopped_because"] or "",
            "completed": data["share"] if data["completed"] is None else data["completed"],
            "seconds": data["seconds"],
            "trouble": _trouble(data["trouble"]),
            "words": data["words"],
            "zone": data["zone"],
            "utc_offset_minutes": data["utc_offset_minutes"],
        }

    def _offer(self, name: str, choices: Sequence[tuple[str, Any]]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - narrows the type
        field.choices = list(choices)


class ToldForm(forms.Form):
    """What everything that waits on a phone carries: its key, its day and when it was told."""

    key = forms.UUIDField(required=False)
    day = forms.DateField(required=False)
    done_at = forms.CharField(required=False, max_length=40)


class HurtForm(ToldForm):
    """What the session sends when something hurts; nothing else has to be said."""

    key = forms.UUIDField()
    step = forms.IntegerField(required=False, min_value=0, max_value=1000)
