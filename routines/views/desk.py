"""What the builder stands on: the studio's students, what they have now, and how it begins."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from django.http import QueryDict
from django.utils import timezone

from routines.engine import instruments
from routines.engine.grades import Tier
from routines.engine.instruments import Setup
from routines.engine.notes import Naming
from routines.engine.plan import baseline
from routines.engine.section import Pitch
from routines.engine.variants import Variant
from routines.forms.again import AgainForm
from routines.forms.begin import begin_with, by_month, by_template, by_tier, by_variant
from routines.forms.blocks import KEPT_FIELDS, NOTE_FIELDS, OWN_ANSWER, AssignForm
from routines.forms.who import press
from routines.models import Block
from routines.queries import setup_of, templates
from routines.same_again import latest_blocks, same_again
from routines.views.signed_out import typed_before
from studio import access
from studio.access import practice_day
from studio.http import TeacherRequest
from studio.models import Student

AGAIN, ONE_FOR_ALL = "again", "one-for-all"
Begun = dict[str, Any]


@dataclass(kw_only=True)
class Desk:
    """A teacher's desk for one request: who is there, and what each has."""

    students: Sequence[Student]
    naming: Naming
    today: date

    @classmethod
    def of(cls, request: TeacherRequest) -> "Desk":
        """Lay out the desk of the signed-in teacher."""
        studio = request.membership.studio
        return cls(
            students=list(access.students_of(request.membership)),
            naming=Naming(studio.note_naming),
            today=practice_day(studio, timezone.now()),
        )

    @cached_property
    def latest(self) -> dict[int, Block]:
        """The block each student has now, or had last, by their number in the table."""
        return latest_blocks(self.students, self.today)

    @cached_property
    def running(self) -> dict[int, Block]:
        """The blocks of those that run today."""
        return {pk: row for pk, row in self.latest.items() if row.last_day >= self.today}

    def form(
        self, data: QueryDict | None, *, initial: Mapping[str, Any] | None = None
    ) -> AssignForm | AgainForm:
        """Make the builder's form with the notes of the instrument that it is written for."""
        given: Mapping[str, Any] = initial or data or {}
        if given.get("again"):
            return AgainForm(data, initial=initial, choose_from=self.students, today=self.today)
        return self.block_form(data, initial=initial)

    def block_form(
        self, data: QueryDict | None, *, initial: Mapping[str, Any] | None = None
    ) -> AssignForm:
        """Make the form of a block that is written here."""
        given: Mapping[str, Any] = initial or data or {}
        asked = str(given.get("instrument", ""))
        instrument = asked if asked in instruments.ids() else _first(self.students)
        if data is not None and asked != instrument:
            # A hidden field has no place for an error: what the page did not send is put right.
            data = data.copy()
            data["instrument"] = instrument
        ticked = data.getlist("students") if data is not None else given.get("students", [])
        return AssignForm(
            data,
            initial=initial,
            choose_from=self.students,
            instrument=instrument,
            setup=self._setup(instrument, ticked),
            naming=self.naming,
            in_concert=given.get("pitch") == Pitch.CONCERT,
            today=self.today,
        )

    def begin(self, request: TeacherRequest, given: QueryDict) -> Begun:
        """Begin with what was given, under what was asked for, over what is played now."""
        given = given or typed_before(request, self.students) or given
        ticked = given.getlist("students")
        if pressed := given.get("tick", ""):
            ticked = press(ticked, pressed, self.students, self.running)
        chosen = [row for row in self.students if row.public_id in ticked]
        player = instruments.by_id(_first(chosen or self.students))
        begun = begin_with(baseline(player), first_day=self.today)
        if len(chosen) == 1 and chosen[0].instrument == self._last_instrument(chosen[0]):
            begun |= self._once_more(chosen)
        typed: Begun = {
            name: given[name]
            for name in given
            if name in KEPT_FIELDS or name.startswith(OWN_ANSWER)
        }
        if typed.get("instrument", begun["instrument"]) != begun["instrument"]:
            typed = {name: typed[name] for name in typed if name not in NOTE_FIELDS}
        begun = begun | typed | {"students": ticked}
        if "hold" in typed:
            begun["weekdays_off"] = given.getlist("weekdays_off")
        return begun | self._asked_for(given.get("apply", ""), begun, chosen)

    def _asked_for(self, asked: str, begun: Begun, chosen: Sequence[Student]) -> Begun:
        """Say what a button of the page sets; what is none of the page's sets nothing."""
        kind, _, name = asked.partition(":")
        if asked in set(Variant):
            return by_variant(Variant(asked), begun)
        if asked == ONE_FOR_ALL:
            return {"again": ""}
        if asked == AGAIN:
            return self._once_more(chosen) if len(chosen) < 2 else {"again": "on"}
        player = instruments.by_id(str(begun["instrument"]))
        setup = self._setup(player.id, begun["students"])
        if kind == "grade" and name in set(Tier):
            return by_tier(Tier(name), player, setup)
        template = templates().filter(public_id=name).first() if kind == "template" else None
        if template is None:
            return {}
        if not chosen:
            player, setup = template.plan.player, instruments.USUAL
        return by_template(template, player, setup)

    def _once_more(self, chosen: Sequence[Student]) -> Begun:
        return next((by_month(row.plan, row.month) for row in same_again(chosen, self.today)), {})

    def _last_instrument(self, student: Student) -> str:
        block = self.latest.get(student.pk)
        return block.instrument if block else ""

    def _setup(self, instrument: str, ticked: Sequence[str]) -> Setup:
        """Say how the instrument of the first chosen player of it is built."""
        readers = (
            row for row in self.students if row.public_id in ticked and row.instrument == instrument
        )
        first = next(readers, None)
        return setup_of(first, instrument) if first else instruments.USUAL


def _first(students: Sequence[Student]) -> str:
    return students[0].instrument if students else instruments.ids()[0]
