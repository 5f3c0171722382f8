"""A plan as a teacher types it: counts, notes, way back, dynamics."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext, pgettext_lazy
from django.utils.translation import gettext_lazy as _

from routines.engine import dynamics, instruments, notes
from routines.engine.instruments import Setup
from routines.engine.notes import Naming
from routines.engine.plan import BlockPlan, PlanError
from routines.engine.walk import WayBack
from routines.forms.wording import speak_plainly
from routines.words import dynamic_words, in_words, instrument_choices

OPEN_TOP = "open"


def dynamics_choices() -> list[tuple[Any, list[tuple[str, str]]]]:
    """List the dynamics a block may have, in the words of the trade."""
    pairs = (("f", "p"), ("p", "f"), ("mf", "p"), ("mf", "pp"), ("f", "mp"))
    words = {level.value: dynamic_words(level.value) for level in dynamics.Level}
    levels = [(sign, f"{sign}: {words[sign]}") for sign in ("pp", "p", "mp", "mf", "f", "ff")]
    next_day, next_note = _("%(first)s, next day %(second)s"), _("%(first)s, next note %(second)s")
    by_day = [(f"by-day:{a},{b}", next_day % {"first": a, "second": b}) for a, b in pairs]
    by_note = [(f"by-note:{a},{b}", next_note % {"first": a, "second": b}) for a, b in pairs]
    inside = [
        (f"inside:{shape.value}", f"{_shape_name(shape)}: {dynamic_words(shape.value)}")
        for shape in dynamics.Shape
    ]
    return [
        (_("One level"), levels),
        (_("Alternate by day"), by_day),
        (_("Alternate by note"), by_note),
        (_("A shape inside each note"), inside),
    ]


def _shape_name(shape: dynamics.Shape) -> str:
    return {
        dynamics.Shape.SWELL: gettext("swell"),
        dynamics.Shape.FADE: gettext("fade"),
        dynamics.Shape.GROW: gettext("grow"),
    }[shape]


def note_choices(
    instrument: str, setup: Setup, naming: Naming, *, in_concert: bool = False
) -> list[tuple[str, str]]:
    """List an instrument's notes from the lowest up, with the one it starts on marked.

    In concert, a note is named by what sounds, with what the player reads beside it.
    """
    player = instruments.by_id(instrument)
    marks = {player.start_note: _("usual start"), player.low_note: _("usual low note")}
    listed = []
    for row in instruments.chart(player, setup):
        words = notes.with_octave(row.written, naming)
        if in_concert:
            named = {"concert": notes.with_octave(row.sounding, naming), "written": words}
            if player.transposition:
                words = _("Concert %(concert)s, written %(written)s") % named
            else:
                words = _("Concert %(concert)s") % named
        mark = f" ({marks[row.written]})" if row.written in marks else ""
        listed.append((str(row.written), words + mark))
    return listed


class PlanForm(forms.Form):
    """What is asked each day, on one instrument. After a clean, `plan` is None or playable."""

    instrument = forms.ChoiceField(widget=forms.HiddenInput)
    hold = forms.IntegerField(
        label=pgettext_lazy("what changes", "Hold"), help_text=_("counts, 2 to 32")
    )
    rest = forms.IntegerField(
        label=pgettext_lazy("silence between notes", "Rest"), help_text=_("counts, 0 to 32")
    )
    tempo = forms.IntegerField(label=_("Tempo"), help_text=_("counts a minute, 20 to 240"))
    start_note = forms.TypedChoiceField(label=_("Start"), coerce=int)
    low_note = forms.TypedChoiceField(label=_("Lowest"), coerce=int)
    top_note = forms.TypedChoiceField(
        label=_("Highest"),
        coerce=lambda value: None if value == OPEN_TOP else int(value),
        empty_value=None,
    )
    back = forms.TypedChoiceField(
        label=_("Way back to the start"),
        choices=(
            (WayBack.RESTART.value, _("Lift off and restart")),
            (WayBack.STEP.value, _("By half steps")),
        ),
        coerce=WayBack,
        widget=forms.RadioSelect,
    )
    dynamics = forms.TypedChoiceField(
        label=_("Dynamics"), choices=dynamics_choices, coerce=dynamics.parse
    )

    def __init__(
        self,
        *args: Any,
        instrument: str,
        setup: Setup,
        naming: Naming,
        in_concert: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        speak_plainly(self.fields)
        self.setup = setup
        self.plan: BlockPlan | None = None
        listed = note_choices(instrument, setup, naming, in_concert=in_concert)
        self.offer("instrument", instrument_choices())
        self.offer("start_note", listed)
        self.offer("low_note", listed)
        open_top = (OPEN_TOP, _("Open: as high as the sound stays good"))
        self.offer("top_note", [open_top, *reversed(listed)])

    def clean(self) -> dict[str, Any]:
        """Build the plan; a PlanError goes to the field it names."""
        data: dict[str, Any] = super().clean() or {}
        self.plan = self.build(BlockPlan, PLAN_FIELDS, setup=self.setup)
        return data

    def build(self, make: Any, names: tuple[str, ...], **more: Any) -> Any:
        """Make a value of the engine's from fields that are all in order, else None."""
        data = self.cleaned_data
        if any(name not in data for name in names):
            return None
        values = {name: data[name] for name in names}
        if "weekdays_off" in values:
            values["weekdays_off"] = frozenset(values["weekdays_off"])
        try:
            return make(**values, **more)
        except PlanError as error:
            self.add_error(error.field if error.field in self.fields else None, in_words(error))
            return None

    def offer(self, name: str, choices: list[tuple[str, Any]]) -> None:
        """Set what a field lets one choose from."""
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - narrows the type
        field.choices = choices


PLAN_FIELDS = (
    "instrument", "start_note", "low_note", "top_note", "back", "hold", "rest", "tempo", "dynamics",
)  # fmt: skip


def as_fields(plan: BlockPlan) -> Mapping[str, Any]:
    """Fill a plan's fields with a plan."""
    return {
        "instrument": plan.instrument,
        "hold": plan.hold,
        "rest": plan.rest,
        "tempo": plan.tempo,
        "start_note": plan.start_note,
        "low_note": plan.low_note,
        "top_note": OPEN_TOP if plan.top_note is None else plan.top_note,
        "back": plan.back.value,
        "dynamics": str(plan.dynamics),
    }
