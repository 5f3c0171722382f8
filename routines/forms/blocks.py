"""A block as a teacher builds it."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from routines.engine import dynamics, instruments, plan, section, variants
from routines.engine.instruments import Setup
from routines.engine.notes import Naming
from routines.engine.plan import BlockPlan, Month
from routines.engine.variants import Aim, Variant
from routines.forms.plan import PlanForm, as_fields
from routines.queries import Clash, clashes, setup_of
from routines.services.assign import IfRunning
from studio.models import Student, new_public_id
from studio.queries import told_apart
from studio.words import WEEKDAYS

SOONEST_DAYS_BACK = 31
LATEST_DAYS_AHEAD = 366


class AssignForm(PlanForm):
    """A block as a teacher builds it, and for whom."""

    field_order = ("students", "instrument", "batch")

    students = forms.MultipleChoiceField(
        label="Students", widget=forms.CheckboxSelectMultiple, required=False
    )
    batch = forms.RegexField(r"^[0-9a-f]{16}$", required=False, widget=forms.HiddenInput)
    first_day = forms.DateField(
        label="First day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    length_days = forms.IntegerField(label="Length", help_text="days, 7 to 62")
    weekdays_off = forms.TypedMultipleChoiceField(
        label="Days off",
        choices=[(str(number), day[:3]) for number, day in enumerate(WEEKDAYS)],
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    aim = forms.TypedChoiceField(
        label="Aim",
        choices=(("", "None"), *((aim.value, aim.value.capitalize()) for aim in Aim)),
        coerce=Aim,
        empty_value=None,
        required=False,
    )
    message = forms.CharField(
        label="A word to the student",
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    if_running = forms.TypedChoiceField(
        label="Where these days are taken",
        choices=(
            (IfRunning.AFTER.value, "Start after it"),
            (IfRunning.REPLACE.value, "Replace it"),
            (IfRunning.SKIP.value, "Leave them out"),
        ),
        coerce=IfRunning,
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
    )

    def __init__(
        self,
        *args: Any,
        choose_from: Sequence[Student],
        instrument: str,
        setup: Setup,
        naming: Naming,
        today: date,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, instrument=instrument, setup=setup, naming=naming, **kwargs)
        self.fields["students"].error_messages["invalid_choice"] = (
            "A student you ticked is not on your list any more: look through the ticks again."
        )
        self.choose_from = {student.public_id: student for student in choose_from}
        self.today = today
        self.month: Month | None = None
        self.clashes: list[Clash] = []
        self.offer("students", _names(choose_from))

    @property
    def chosen(self) -> list[Student]:
        """The students ticked so far, in the order of the list."""
        ticked = set(self["students"].value() or ())
        return [row for public_id, row in self.choose_from.items() if public_id in ticked]

    def clean_first_day(self) -> date:
        """Keep the first day near enough to be meant."""
        day: date = self.cleaned_data["first_day"]
        soonest = self.today - timedelta(days=SOONEST_DAYS_BACK)
        latest = self.today + timedelta(days=LATEST_DAYS_AHEAD)
        if not soonest <= day <= latest:
            message = f"{day:%d %B %Y}: choose a day from {soonest:%d %B %Y} to {latest:%d %B %Y}."
            raise ValidationError(message)
        return day

    def clean(self) -> dict[str, Any]:
        """Build the plan and the month; each PlanError goes to the field it names."""
        data = super().clean()
        self.month = self.build(Month, _MONTH_FIELDS)
        return data

    def plan_for(self, student: Student) -> BlockPlan:
        """Carry the plan over to a student's own instrument."""
        assert self.plan is not None  # noqa: S101 - only asked for after a clean
        player = instruments.by_id(student.instrument)
        return section.carry(self.plan, player, setup_of(student, student.instrument))

    def check_for_assigning(self) -> bool:
        """Hold the form against what assigning needs besides a plan: students, and free days."""
        if not self.chosen and "students" not in self.errors:
            self.add_error("students", "Nobody is ticked: tick at least one student.")
        if not self.is_valid() or self.month is None:
            return False
        self.clashes = clashes(
            self.chosen, first_day=self.month.first_day, last_day=self.month.last_day
        )
        choice = self.cleaned_data["if_running"]
        if self.clashes and choice is None:
            self.add_error("if_running", self._about_clashes())
        if choice is IfRunning.SKIP and len({clash.student for clash in self.clashes}) == len(
            self.chosen
        ):
            self.add_error("if_running", "This leaves out everybody you ticked: choose another.")
        return self.is_valid()

    def _about_clashes(self) -> str:
        said = [
            f"{clash.student.name} has a block to {clash.block.last_day:%d %B}."
            for clash in self.clashes
        ]
        return " ".join([*said, "Choose what happens."])


def _names(students: Sequence[Student]) -> list[tuple[str, str]]:
    """Name the students to tick; two of one name are told apart by their instruments, or more."""
    often = Counter(row.name for row in students)
    apart = told_apart(students)
    named = []
    for row in students:
        words = [row.name]
        if often[row.name] > 1:
            words += [instruments.by_id(row.instrument).name, apart.get(row.pk, "")]
        named.append((row.public_id, ", ".join(filter(None, words))))
    return named


_MONTH_FIELDS = ("first_day", "length_days", "weekdays_off")
NOTE_FIELDS = ("instrument", "start_note", "low_note", "top_note")
KEPT_FIELDS = tuple(AssignForm.base_fields)


def begin_with(base: BlockPlan, *, first_day: date) -> dict[str, Any]:
    """Fill the builder with a plan: what a teacher starts to change."""
    return {
        **as_fields(base),
        "batch": new_public_id(),
        "first_day": first_day,
        "length_days": plan.DEFAULT_LENGTH,
        "weekdays_off": [str(plan.SUNDAY)],
    }


def by_variant(variant: Variant, begun: Mapping[str, Any]) -> dict[str, Any]:
    """Say which of the builder's fields a variant sets, and to what; the others stay."""
    try:
        now = dynamics.parse(str(begun["dynamics"]))
    except dynamics.DynamicsError:
        now = dynamics.MEZZO_FORTE
    player = instruments.by_id(str(begun["instrument"]))
    applied = variants.apply(variant, replace(plan.baseline(player), dynamics=now))
    counts = {} if variant is Variant.CONTRAST else {"hold": applied.hold, "rest": applied.rest}
    return {"dynamics": str(applied.dynamics), **counts}


def as_typed(values: Mapping[str, Any]) -> QueryDict:
    """Say a form's first values as if they had been sent."""
    typed = QueryDict(mutable=True)
    for name, value in values.items():
        typed.setlist(name, value if isinstance(value, list) else [str(value)])
    return typed
