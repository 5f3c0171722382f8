"""Whom a block is for: the studio's students to tick, under headings, and what ticks several."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from routines.engine.variants import Variant, named
from routines.forms.wording import speak_plainly
from routines.models import Block
from routines.queries import version_on
from routines.words import hold_and_rest, instrument_name
from studio.models import Student
from studio.queries import told_apart
from studio.words import WEEKDAYS

EVERYBODY = "everybody"
NO_GROUP, NO_DAY = _("No group"), _("No lesson day")


class ForStudents(forms.Form):
    """The ticks of the students that a block goes to."""

    students = forms.MultipleChoiceField(
        label=_("Students"), widget=forms.CheckboxSelectMultiple, required=False
    )
    batch = forms.RegexField(r"^[0-9a-f]{16}$", required=False, widget=forms.HiddenInput)
    # "on" where each student gets the own last block once more.
    again = forms.CharField(required=False, max_length=2, widget=forms.HiddenInput)
    message = forms.CharField(
        label=_("A word to the student"),
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    recording = forms.BooleanField(
        label=_("Ask for a recording of a few notes"),
        required=False,
        help_text=_("Of those who may record. They read it under Today."),
    )

    def __init__(
        self, *args: Any, choose_from: Sequence[Student], today: date, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        speak_plainly(self.fields)
        self.fields["students"].error_messages["invalid_choice"] = _(
            "A student you ticked is not on your list any more: look through the ticks again."
        )
        self.choose_from = {student.public_id: student for student in choose_from}
        self.today = today
        field = self.fields["students"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - narrows the type
        field.choices = _names(choose_from)

    @property
    def chosen(self) -> list[Student]:
        """The students ticked so far, in the order of the list."""
        ticked = set(self["students"].value() or ())
        return [row for public_id, row in self.choose_from.items() if public_id in ticked]

    def refuse_nobody(self) -> None:
        """Ask for at least one tick."""
        if not self.chosen and "students" not in self.errors:
            self.add_error("students", _("Nobody is ticked: tick at least one student."))


@dataclass(frozen=True, slots=True, kw_only=True)
class Several:
    """Students who are ticked together by one press, unless all are ticked: then unticked."""

    value: str
    words: str
    members: frozenset[str]
    ticked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """Students under one heading; without words the list needs none."""

    words: str
    all_of_them: Several
    boxes: Sequence[tuple[Any, Block | None]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Who:
    """The list as a page shows it: headings, and presses by block and by lesson day."""

    headings: Sequence[Heading]
    by_block: Sequence[Several]
    by_day: Sequence[Several]


def who(form: ForStudents, running: Mapping[int, Block]) -> Who:
    """Lay the list out: by group where the studio has groups, else by lesson day.

    `running` holds the block that each student has now, by their number in the table.
    """
    students = list(form.choose_from.values())
    ticked = {student.public_id for student in form.chosen}
    boxes = {str(box.data["value"]): box for box in form["students"]}
    kinds = kinds_of(students, running)
    by = "group" if any(row.group.strip() for row in students) else "day"
    several = {
        kind: [_several(kind, words, members, ticked) for words, members in found.items()]
        for kind, found in kinds.items()
    }
    headed = several[by] if len(several[by]) > 1 else several[EVERYBODY]
    return Who(
        headings=[
            Heading(
                words=each.words,
                all_of_them=each,
                boxes=[
                    (boxes[row.public_id], running.get(row.pk))
                    for row in students
                    if row.public_id in each.members
                ],
            )
            for each in headed
        ],
        by_block=several["block"],
        by_day=several["day"] if headed is not several["day"] and len(several["day"]) > 1 else [],
    )


def press(
    ticked: Iterable[str], pressed: str, students: Sequence[Student], running: Mapping[int, Block]
) -> list[str]:
    """Say who is ticked after a press; what is no press of the page's changes nothing."""
    kind, _, words = pressed.partition(":")
    members = kinds_of(students, running).get(kind, {}).get(words, frozenset())
    before = set(ticked)
    after = before - members if members <= before else before | members
    return [row.public_id for row in students if row.public_id in after]


def kinds_of(
    students: Sequence[Student], running: Mapping[int, Block]
) -> dict[str, dict[str, frozenset[str]]]:
    """Sort the students by group, by lesson day and by the block they have: words to members."""
    groups, days, blocks = defaultdict(set), defaultdict(set), defaultdict(set)
    for row in students:
        groups[row.group.strip() or str(NO_GROUP)].add(row.public_id)
        days[str(NO_DAY if row.lesson_day is None else WEEKDAYS[row.lesson_day])].add(row.public_id)
        if row.pk in running:
            blocks[_block_words(running[row.pk])].add(row.public_id)
    no_group = str(NO_GROUP)
    order = [str(words) for words in (*WEEKDAYS, NO_DAY)]
    everybody = frozenset(row.public_id for row in students)
    return {
        "group": {
            words: frozenset(groups[words])
            for words in sorted(groups, key=lambda words: (words == no_group, words.casefold()))
        },
        "day": {words: frozenset(days[words]) for words in order if words in days},
        "block": {
            words: frozenset(members)
            for words, members in sorted(blocks.items(), key=lambda pair: (-len(pair[1]), pair[0]))
        },
        EVERYBODY: {"": everybody} if everybody else {},
    }


def _several(kind: str, words: str, members: frozenset[str], ticked: set[str]) -> Several:
    return Several(value=f"{kind}:{words}", words=words, members=members, ticked=members <= ticked)


def _block_words(block: Block) -> str:
    asked = version_on(block, block.last_day).plan
    counts = hold_and_rest(asked.hold, asked.rest)
    if named(asked) is not Variant.CONTRAST:
        return counts
    return _("%(counts)s, loud and soft") % {"counts": counts}


def _names(students: Sequence[Student]) -> list[tuple[str, str]]:
    """Name the students to tick; two of one name are told apart by their instruments, or more."""
    often = Counter(row.name for row in students)
    apart = told_apart(students)
    named_so = []
    for row in students:
        words = [row.name]
        if often[row.name] > 1:
            words += [instrument_name(row.instrument), apart.get(row.pk, "")]
        named_so.append((row.public_id, ", ".join(filter(None, words))))
    return named_so
