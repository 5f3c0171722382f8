"""Reading a list of students, and saying yes to it."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from routines.engine import roster
from routines.engine.catalogue import Sentence, gettext_noop
from routines.engine.roster import Letters, RosterError, Sheet, same_name
from routines.engine.roster_rows import Row
from routines.forms.wording import speak_plainly
from routines.words import in_words, instrument_choices
from studio.models import Student

LEAVE_OUT, ADD_ANYWAY = "leave", "add"
LETTERS = {
    Letters.UTF_8: _("Unicode (UTF-8)"),
    Letters.UTF_16: _("Unicode (UTF-16)"),
    Letters.WESTERN: _("Western European"),
    Letters.CENTRAL: _("Central European"),
}
NAME_ENDINGS = (".csv", ".txt", ".tsv")


class RosterForm(forms.Form):
    """A list, as a file or as pasted text; after a clean, `sheet` holds what was read.

    `here` marks the rows whose names are in the studio already.
    """

    file = forms.FileField(label=_("A file"), required=False, allow_empty_file=True)
    text = forms.CharField(
        label=_("Or paste the list"),
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text=_(
            "One student a line: name, instrument. A heading over the columns may say more."
        ),
    )
    letters = forms.TypedChoiceField(
        label=_("Letters"),
        choices=[("", _("Find out")), *((one.value, LETTERS[one]) for one in Letters)],
        coerce=Letters,
        empty_value=None,
        required=False,
    )
    instrument = forms.ChoiceField(
        label=_("Instrument where none is named"),
        choices=lambda: [("", _("None")), *instrument_choices()],
        required=False,
    )
    already = forms.ChoiceField(
        label=_("Names that are here already"),
        choices=((LEAVE_OUT, _("Leave them out")), (ADD_ANYWAY, _("Add them as others"))),
        initial=LEAVE_OUT,
        required=False,
        widget=forms.RadioSelect,
    )
    looked = forms.BooleanField(label=_("The names look right"), required=False)

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
            raise ValidationError(in_words(error)) from None
        return data

    @property
    def problems(self) -> list[str]:
        """All that is wrong with single rows."""
        rows = self.sheet.rows if self.sheet else ()
        return [in_words(problem) for row in rows for problem in row.problems]

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
            self.add_error(None, _("Put the marked rows right first; nothing is added until then."))
        elif not self.to_add:
            self.add_error(None, _("Everybody on this list is here already."))
        if self.data.get("guessed") and not self.cleaned_data["looked"]:
            self.add_error("looked", _("Look at the names, then tick this."))
        return self.is_valid()

    def _refuse_name(self, name: str) -> None:
        if name and not name.lower().endswith(NAME_ENDINGS):
            ending = name.rsplit(".", 1)[-1][:10]
            message = Sentence(
                gettext_noop(
                    "The file ends in “%(ending)s”: save the list as CSV first, then choose that."
                ),
                ending=ending,
            )
            raise RosterError(message)
