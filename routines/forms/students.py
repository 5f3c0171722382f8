"""A student's details: who they are, and what they play."""

from typing import Any

from django import forms
from django.utils.text import capfirst

from routines.engine import instruments
from routines.engine.instruments import Clef, Instrument
from routines.forms.wording import speak_plainly
from studio.forms import PersonForm
from studio.models import Student


class StudentForm(PersonForm):
    """A student's fields, and nothing more: no birth date, photo or address."""

    instrument = forms.ChoiceField(
        label="Instrument",
        choices=[
            ("", "Choose one"),
            *((row.id, capfirst(row.name)) for row in instruments.INSTRUMENTS),
        ],
    )
    clef = forms.ChoiceField(
        label="Clef",
        choices=(("", "As usual"), *((clef.value, clef.value.capitalize()) for clef in Clef)),
        required=False,
        help_text="For an instrument that is read in more than one clef.",
    )
    valves = forms.ChoiceField(
        label="Valves",
        choices=(
            ("", "As usual"),
            ("3", "Three valves"),
            ("4", "Four valves, compensating"),
            ("4-plain", "Four valves, not compensating"),
        ),
        required=False,
        help_text="For euphonium, baritone and tuba.",
    )
    f_attachment = forms.BooleanField(
        label="Has an F attachment", required=False, help_text="For trombone."
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
        name = capfirst(player.name)
        if data.get("clef") and Clef(data["clef"]) not in player.clefs:
            allowed = " or ".join(clef.value for clef in player.clefs)
            self.add_error("clef", f"{name} is not read in {data['clef']} clef here: {allowed}.")
        if valves and not player.valves_vary:
            self.add_error(
                "valves",
                f"{name} has no choice of valves here: choose As usual. Euphonium, baritone and "
                "tuba have one.",
            )
        if data["f_attachment"] and player.family != "trombone":
            self.add_error("f_attachment", f"{name} has no F attachment: take the tick out.")

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
