"""A block as a teacher builds it."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dates import WEEKDAYS_ABBR
from django.utils.formats import date_format
from django.utils.translation import gettext_lazy as _

from routines.engine import instruments, section
from routines.engine.instruments import Setup
from routines.engine.notes import Naming
from routines.engine.plan import BlockPlan, Month
from routines.engine.section import Pitch, Short
from routines.engine.variants import Aim
from routines.forms.plan import PlanForm
from routines.forms.who import ForStudents
from routines.forms.wording import speak_plainly
from routines.queries import Clash, clashes, setup_of
from routines.services.assign import IfRunning, Order, Own
from routines.services.templates import Kept
from studio.models import Student, User

SOONEST_DAYS_BACK = 31
LATEST_DAYS_AHEAD = 366
OWN_ANSWER = "if_running_"
WHERE_TAKEN = (
    (IfRunning.AFTER.value, _("Start after it")),
    (IfRunning.REPLACE.value, _("Replace it")),
    (IfRunning.SKIP.value, _("Leave out")),
)
AIMS = (
    (Aim.ENDURANCE.value, _("Endurance")),
    (Aim.RECOVERY.value, _("Recovery")),
    (Aim.CLARITY.value, _("Clarity")),
    (Aim.DYNAMICS.value, _("Dynamics")),
)


class AssignForm(ForStudents, PlanForm):
    """A block as a teacher builds it, and for whom."""

    field_order = ("students", "instrument", "batch")

    pitch = forms.TypedChoiceField(
        label=_("For several players"),
        choices=(
            (Pitch.OWN.value, _("From each one’s own start note")),
            (Pitch.CONCERT.value, _("In one concert pitch")),
        ),
        coerce=Pitch,
        empty_value=Pitch.OWN,
        required=False,
        widget=forms.RadioSelect,
    )
    first_day = forms.DateField(
        label=_("First day"), widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    length_days = forms.IntegerField(label=_("Length"), help_text=_("days, 7 to 62"))
    weekdays_off = forms.TypedMultipleChoiceField(
        label=_("Days off"),
        choices=[(str(number), day) for number, day in WEEKDAYS_ABBR.items()],
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    aim = forms.TypedChoiceField(
        label=_("Aim"),
        choices=(("", _("None")), *AIMS),
        coerce=Aim,
        empty_value=None,
        required=False,
    )
    if_running = forms.TypedChoiceField(
        label=_("Where these days are taken"),
        choices=WHERE_TAKEN,
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
        super().__init__(
            *args,
            choose_from=choose_from,
            today=today,
            instrument=instrument,
            setup=setup,
            naming=naming,
            **kwargs,
        )
        self.month: Month | None = None
        self.clashes: list[Clash] = []
        asked = [row for row in choose_from if self.is_bound and _own_name(row) in self.data]
        self._ask_one_by_one(asked)

    def clean_first_day(self) -> date:
        """Keep the first day near enough to be meant."""
        day: date = self.cleaned_data["first_day"]
        soonest = self.today - timedelta(days=SOONEST_DAYS_BACK)
        latest = self.today + timedelta(days=LATEST_DAYS_AHEAD)
        if not soonest <= day <= latest:
            message = _("%(given)s: choose a day from %(first)s to %(last)s.") % {
                "given": date_format(day, "d F Y"),
                "first": date_format(soonest, "d F Y"),
                "last": date_format(latest, "d F Y"),
            }
            raise ValidationError(message)
        return day

    def clean(self) -> dict[str, Any]:
        """Build the plan and the month; each PlanError goes to the field it names."""
        data = super().clean()
        self.month = self.build(Month, _MONTH_FIELDS)
        if self.month is not None and self.chosen:
            self.clashes = clashes(
                self.chosen, first_day=self.month.first_day, last_day=self.month.last_day
            )
        return data

    @property
    def clashing(self) -> list[Student]:
        """The chosen students whose days are taken, each once."""
        return list({clash.student.pk: clash.student for clash in self.clashes}.values())

    @property
    def clash_mark(self) -> str:
        """Whose days are taken and until when, as one word: a page asks anew when it changes."""
        said = repr([(clash.student.pk, clash.block.last_day) for clash in self.clashes])
        return sha256(said.encode()).hexdigest()[:16] if self.clashes else ""

    @property
    def one_by_one(self) -> list[forms.BoundField]:
        """A question for each student whose days are taken, where there are several."""
        if len(self.clashing) < 2:
            return []
        self._ask_one_by_one(row for row in self.clashing if _own_name(row) not in self.fields)
        ends: dict[str, date] = {}
        for clash in self.clashes:
            name = _own_name(clash.student)
            ends[name] = max(clash.block.last_day, ends.get(name, clash.block.last_day))
            self.fields[name].label = _("%(name)s, to %(day)s") % {
                "name": clash.student.name,
                "day": _day(ends[name]),
            }
        return [self[name] for name in ends]

    @property
    def is_split(self) -> bool:
        """Whether some student has an answer of the own to where the days are taken."""
        return any(field.value() for field in self.one_by_one)

    def plan_for(self, student: Student) -> BlockPlan:
        """Carry the plan over to a student's own instrument."""
        assert self.plan is not None  # noqa: S101 - only asked for after a clean
        player = instruments.by_id(student.instrument)
        in_one_pitch = self.cleaned_data.get("pitch") is Pitch.CONCERT
        carry = section.in_concert if in_one_pitch else section.carry
        return carry(self.plan, player, setup_of(student, student.instrument))

    def short_for(self, student: Student) -> Short:
        """Say what of the plan does not fit a student's instrument."""
        assert self.plan is not None  # noqa: S101 - only asked for after a clean
        return section.falls_short(self.plan, self.plan_for(student))

    def check_for_assigning(self) -> bool:
        """Hold the form against what assigning needs besides a plan: students, and free days."""
        self.refuse_nobody()
        if not self.is_valid() or self.month is None:
            return False
        choices = {row: self._choice_for(row) for row in self.clashing}
        if undecided := [row for row, choice in choices.items() if choice is None]:
            self.add_error("if_running", self._about(undecided))
        elif list(choices.values()) == [IfRunning.SKIP] * len(self.chosen):
            self.add_error("if_running", _("This leaves out everybody you ticked: choose another."))
        return self.is_valid()

    def order(self, *, by: User, moment: datetime) -> Order:
        """Write the order: one month for all, and what was chosen for single students."""
        assert self.month is not None  # noqa: S101 - checked by check_for_assigning
        data = self.cleaned_data
        return Order(
            plans=[(student, self.plan_for(student)) for student in self.chosen],
            month=self.month,
            by=by,
            moment=moment,
            batch=data["batch"],
            aim=data["aim"],
            message=data["message"],
            if_running=data["if_running"] or IfRunning.SKIP,
            own={row.pk: Own(if_running=self._choice_for(row)) for row in self.clashing},
        )

    def kept(self) -> Kept | None:
        """Say what a template would keep, or None while something is not in order."""
        if self.plan is None or self.month is None:
            return None
        return Kept(
            plan=self.plan,
            pitch=self.cleaned_data["pitch"],
            length_days=self.month.length_days,
            weekdays_off=self.month.weekdays_off,
            aim=self.cleaned_data["aim"],
        )

    def _choice_for(self, student: Student) -> IfRunning | None:
        """Say what happens where a student's days are taken: the own answer, else that for all."""
        own: IfRunning | None = self.cleaned_data.get(_own_name(student))
        return own or self.cleaned_data.get("if_running")

    def _ask_one_by_one(self, students: Iterable[Student]) -> None:
        asked: dict[str, forms.Field] = {
            _own_name(student): forms.TypedChoiceField(
                label=student.name,
                choices=(("", _("As for all of them")), *WHERE_TAKEN),
                coerce=IfRunning,
                empty_value=None,
                required=False,
            )
            for student in students
        }
        speak_plainly(asked)
        self.fields |= asked

    def _about(self, students: Sequence[Student]) -> str:
        asked = {student.pk for student in students}
        said = [
            _("%(name)s has a block to %(day)s.")
            % {"name": clash.student.name, "day": _day(clash.block.last_day)}
            for clash in self.clashes
            if clash.student.pk in asked
        ]
        return " ".join([*said, str(_("Choose what happens."))])


def _day(day: date) -> str:
    return date_format(day, "j F")


def _own_name(student: Student) -> str:
    return f"{OWN_ANSWER}{student.public_id}"


_MONTH_FIELDS = ("first_day", "length_days", "weekdays_off")
NOTE_FIELDS = ("instrument", "start_note", "low_note", "top_note")
KEPT_FIELDS = tuple(AssignForm.base_fields)
