"""Reading a list of students, and saying yes to it."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.text import capfirst

from routines.engine import instruments, roster
from routines.engine.roster import Letters, RosterError, Sheet, same_name
from routines.engine.roster_rows import Row
from routines.forms.wording import speak_plainly
from studio.models import Student

LEAVE_OUT, ADD_ANYWAY = "leave", "add"
NAME_ENDINGS = (".csv", ".txt", ".tsv")


class RosterForm(forms.Form):
    """A list, as a file or as pasted text; after a clean, `sheet` holds what was read.

    `here` marks the rows whose names are in the studio already.
    """

    file = forms.FileField(label="A file", required=False, allow_empty_file=True)
    text = forms.CharField(
        label="Or paste the list",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text="One student a line: name, instrument. A heading over the columns may say more.",
    )
    letters = forms.TypedChoiceField(
        label="Letters",
        choices=[("", "Find out"), *((one.value, one.words) for one in Letters)],
        coerce=Letters,
        empty_value=None,
        required=False,
    )
    instrument = forms.ChoiceField(
        label="Instrument where none is named",
        choices=[("", "None"), *((row.id, capfirst(row.name)) for row in instruments.INSTRUMENTS)],
        required=False,
    )
    already = forms.ChoiceField(
        label="Names that are here already",
        choices=((LEAVE_OUT, "Leave them out"), (ADD_ANYWAY, "Add them as others")),
        initial=LEAVE_OUT,
        required=False,
        widget=forms.RadioSelect,
    )
    looked = forms.BooleanField(label="The names look right", required=False)

    def __init__(self, *args: Any, known: Iterable[Student], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        speak_plainly(self.fields)
        self.known = {same_name(student.name) for student in known}
        self.today = today
        self.sheet: Sheet | None = None

    def clean(self) -> dict[str, Any]:
        """Read the list; what is no list is said in words and nothing is lost."""
        data: dict[str, Any] = super().clean() or {}
        file = data.get("file")
        try:
            self._refuse_name(file.name if file else "")
            content = file.read() if file else data.get("text", "").encode()
            letters = data.get("letters") if file else Letters.UTF_8
            self.sheet = roster.read(
                content,
                today=self.today,
                letters=letters,
                instrument=data.get("instrument", ""),
            )
        except RosterError as error:
            raise ValidationError(str(error)) from None
        return data

    @property
    def problems(self) -> list[str]:
        """All that is wrong with single rows."""
        rows = self.sheet.rows if self.sheet else ()
        return [problem for row in rows for problem in row.problems]

    @property
    def here(self) -> list[Row]:
        """The rows whose names are in the studio already."""
        rows = self.sheet.rows if self.sheet else ()
        return [row for row in rows if same_name(row.name) in self.known]

    @property
    def to_add(self) -> list[Row]:
        """The rows that would be added."""
        rows = list(self.sheet.rows) if self.sheet else []
        if self.cleaned_data.get("already") == ADD_ANYWAY:
            return rows
        return [row for row in rows if row not in self.here]

    @property
    def as_text(self) -> str:
        """What was read, as a list that can be pasted: it carries the list to the next step."""
        return roster.as_text(self.sheet.rows) if self.sheet else ""

    def check_for_adding(self) -> bool:
        """Hold the list against what adding needs: no problem left, and a look at the names."""
        if not self.is_valid():
            return False
        if self.problems:
            self.add_error(None, "Put the marked rows right first; nothing is added until then.")
        elif not self.to_add:
            self.add_error(None, "Everybody on this list is here already.")
        if self.data.get("guessed") and not self.cleaned_data["looked"]:
            self.add_error("looked", "Look at the names, then tick this.")
        return self.is_valid()

    def _refuse_name(self, name: str) -> None:
        if name and not name.lower().endswith(NAME_ENDINGS):
            ending = name.rsplit(".", 1)[-1][:10]
            message = f"The file ends in “{ending}”: save the list as CSV first, then choose that."
            raise RosterError(message)
