"""What a teacher decides at a month's end, asked step by step."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from hashlib import sha256
from typing import Any
from uuid import uuid4

from django import forms
from django.core import signing
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from progress.engine.choices import Choice, Option
from routines.engine import variants
from routines.engine.plan import BlockPlan
from routines.forms.plan import PlanForm

SALT = "filar.decision.seen"
CHOICES = [(choice.value, choice.value) for choice in Choice]


class Ask(StrEnum):
    """What is still to be said before a decision can be written."""

    NOTHING = "nothing"
    WHERE_TO = "where to"
    WHAT = "what"
    SURE = "sure"


def as_pressed(data: QueryDict) -> QueryDict:
    """Say in the form's own fields which of its buttons was pressed.

    One of the four begins anew; "take this", "give this" and "yes" carry on where they stand.
    """
    said = data.copy()
    if "choice" in data:
        said.pop("to", None)
    elif "take" in data:
        said["choice"], said["to"] = Choice.MOVE_ON.value, str(data["take"])
    elif "give" in data:
        said["choice"] = Choice.CHANGE.value
    elif "sure" in data:
        said["choice"] = str(data["sure"])
    return said


def code_of(plan: BlockPlan) -> str:
    """Stand for a plan, so that a yes to one plan is no yes to another."""
    return sha256(repr(plan).encode()).hexdigest()[:16]


def signed(seen: Mapping[str, Any]) -> str:
    """Write what stands on the page so that it comes back as it was shown."""
    return signing.dumps(dict(seen), salt=SALT, compress=True)


class DecisionForm(forms.Form):
    """One of four choices, a reason, and what "move on" and "change" need besides.

    After a clean, `asks` says what is missing; with nothing missing `plan` is the next month's,
    None for "later", and `variables` names what it changes. `plan_form` holds the typed plan, or
    today's where none was typed.
    """

    choice = forms.TypedChoiceField(
        choices=CHOICES,
        coerce=Choice,
        widget=forms.HiddenInput,
        error_messages={"required": _("Nothing is chosen yet: press one of the four.")},
    )
    to = forms.CharField(required=False, max_length=20, widget=forms.HiddenInput)
    reason = forms.CharField(
        label=_("Why, in your words"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    shown = forms.BooleanField(required=False)
    key = forms.UUIDField(widget=forms.HiddenInput)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        *args: Any,
        name: str,
        today: BlockPlan,
        offered: Sequence[Option],
        plan_form: PlanForm,
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("initial", {"key": uuid4()})
        super().__init__(*args, **kwargs)
        self.fields["shown"].label = _("%(name)s may read this") % {"name": name}
        self.fields["shown"].help_text = _(
            "From the first day of the next month; if you decide later, at once."
        )
        self.today, self.offered, self.plan_form = today, offered, plan_form
        self.asks = Ask.NOTHING
        self.plan: BlockPlan | None = None
        self.variables: tuple[str, ...] = ()

    def clean_seen(self) -> Mapping[str, Any]:
        """Read what stood on the page; nothing where it does not come from this program."""
        try:
            shown: Mapping[str, Any] = signing.loads(self.cleaned_data["seen"], salt=SALT)
        except signing.BadSignature:
            return {}
        return shown

    def clean(self) -> dict[str, Any]:
        """Find the next month's plan, or what still has to be asked for it."""
        data: dict[str, Any] = super().clean() or {}
        choice = data.get("choice")
        if choice is Choice.REPEAT:
            self.plan = self.today
        elif choice is Choice.MOVE_ON:
            self.plan = self._plan_to(data.get("to", ""))
        elif choice is Choice.CHANGE:
            self.plan = self._plan_typed()
        if self.plan is not None:
            self.variables = variants.variables(self.today, self.plan)
            is_sure = "sure" in self.data and self.data.get("sure_of") == code_of(self.plan)
            if len(self.variables) > 1 and not is_sure:
                self.asks = Ask.SURE
        return data

    @property
    def plan_code(self) -> str:
        """Stand for the plan that is asked about."""
        return code_of(self.plan) if self.plan else ""

    def ask_again(self) -> None:
        """Stay at the step where something was said, so that none of it is lost."""
        steps = {Choice.MOVE_ON.value: Ask.WHERE_TO, Choice.CHANGE.value: Ask.WHAT}
        self.asks = steps.get(str(self["choice"].value()), Ask.NOTHING)

    @property
    def chosen(self) -> Option | None:
        """The plan to move on to, where one is named."""
        return next((one for one in self.offered if one.key == self["to"].value()), None)

    def _plan_to(self, key: str) -> BlockPlan | None:
        if self.chosen is not None:
            return self.chosen.plan
        self.asks = Ask.WHERE_TO
        if key:
            raise ValidationError(_("That plan is not on offer now: choose one of these."))
        return None

    def _plan_typed(self) -> BlockPlan | None:
        typed = self.plan_form
        self.asks = Ask.WHAT
        if not {"give", "sure"} & set(self.data):
            return None
        if not typed.is_valid() or typed.plan is None:
            raise ValidationError(
                _("This plan cannot be played yet: look at what is marked in it.")
            )
        if not variants.variables(self.today, typed.plan):
            raise ValidationError(_("Nothing is changed: change something, or press Repeat."))
        self.asks = Ask.NOTHING
        return typed.plan
