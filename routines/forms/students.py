"""A student's details: who they are, and what they play."""

from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from routines.engine import instruments
from routines.engine.instruments import Clef, Instrument
from routines.forms.wording import speak_plainly
from routines.words import instrument_choices, instrument_name
from studio.forms import PersonForm
from studio.models import Student

CLEFS = (
    (Clef.TREBLE.value, pgettext_lazy("clef", "Treble")),
    (Clef.BASS.value, pgettext_lazy("clef", "Bass")),
    (Clef.TENOR.value, pgettext_lazy("clef", "Tenor")),
)
CLEFS_WITHIN = {
    Clef.TREBLE: pgettext_lazy("clef", "treble"),
    Clef.BASS: pgettext_lazy("clef", "bass"),
    Clef.TENOR: pgettext_lazy("clef", "tenor"),
}


class StudentForm(PersonForm):
    """A student's fields, and nothing more: no birth date, photo or address."""

    instrument = forms.ChoiceField(
        label=_("Instrument"),
        choices=lambda: [("", _("Choose one")), *instrument_choices()],
    )
    clef = forms.ChoiceField(
        label=_("Clef"),
        choices=(("", _("As usual")), *CLEFS),
        required=False,
        help_text=_("For an instrument that is read in more than one clef."),
    )
    valves = forms.ChoiceField(
        label=_("Valves"),
        choices=(
            ("", _("As usual")),
            ("3", _("Three valves")),
            ("4", _("Four valves, compensating")),
            ("4-plain", _("Four valves, not compensating")),
        ),
        required=False,
        help_text=_("For euphonium, baritone and tuba."),
    )
    f_attachment = forms.BooleanField(
        label=_("Has an F attachment"), required=False, help_text=_("For trombone.")
    )
    field_order = ("name", "instrument", "clef", "valves", "f_attachment")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speak_plainly(self.fields)

    def clean(self) -> dict[str, Any]:
        """Hold the build against the instrument, and say the valves as the columns do."""
        data: dict[str, Any] = super().clean() or {}
        valves = data.pop("valves", "")
        data["four_valves"] = {"3": False, "4": True, "4-plain": True}.get(valves)
        data["compensating"] = {"4": True, "4-plain": False}.get(valves)
        data["f_attachment"] = data.get("f_attachment") or None
        if data.get("instrument"):
            self._hold_against(instruments.by_id(data["instrument"]), data, valves)
        return data

    def _hold_against(self, player: Instrument, data: dict[str, Any], valves: str) -> None:
        name = capfirst(instrument_name(player.id))
        if data.get("clef") and Clef(data["clef"]) not in player.clefs:
            named = CLEFS_WITHIN
            message = _("%(instrument)s is not read in %(clef)s clef here: %(allowed)s.") % {
                "instrument": name,
                "clef": named[Clef(data["clef"])],
                "allowed": _(" or ").join(str(named[clef]) for clef in player.clefs),
            }
            self.add_error("clef", message)
        if valves and not player.valves_vary:
            self.add_error(
                "valves",
                _(
                    "%(instrument)s has no choice of valves here: choose As usual. Euphonium, "
                    "baritone and tuba have one."
                )
                % {"instrument": name},
            )
        if data["f_attachment"] and player.family != "trombone":
            no_attachment = _("%(instrument)s has no F attachment: take the tick out.")
            self.add_error("f_attachment", no_attachment % {"instrument": name})

    @staticmethod
    def initial_of(student: Student) -> dict[str, Any]:
        """Say a student's columns as the form does."""
        names = [name for name in StudentForm.base_fields if hasattr(student, name)]
        values = {name: getattr(student, name) for name in names}
        values["child"] = "yes" if student.child else "no"
        if student.four_valves is not None:
            plain = student.compensating is False
            values["valves"] = ("4-plain" if plain else "4") if student.four_valves else "3"
        return values
