"""Which block is shown of each student, read again no further back than it can matter.

Where a block is running, months before the one that asked something else decide nothing, whatever
happens to them: of those a look reads nothing.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from progress.queries.months import Plan, plan_of
from progress.queries.written_rows import Column, Reader, columns_of, texts, texts_in_two
from routines.models import Block, BlockVersion
from routines.queries import row_broken_by, with_versions

# Blocks that began in so many days are read at every look.
LATELY = timedelta(days=100)
# What a plan is chosen by, of every block: its days, and what it has asked.
OF_A_BLOCK = columns_of(
    Block,
    only=("id", "instrument", "first_day", "length_days", "extra_days", "ended_on"),
)
# How the instrument is built is no other plan; of the blocks that are shown it is read.
SETUP = ("clef", "four_valves", "compensating", "f_attachment")
OF_A_VERSION = columns_of(
    BlockVersion, through="versions__", but=("block", "made_by", "made_at", *SETUP)
)
WHOLE_BLOCK = columns_of(Block)
WHOLE_VERSION = columns_of(BlockVersion, through="versions__")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KeptPlan:
    """What is shown of a student's blocks, and the texts it was chosen by.

    `lately` has the blocks that began lately, `older` those before them. Where the plan
    `is_settled` by those of lately, `older` is left out.
    """

    lately: str | None
    older: str | None
    is_settled: bool
    plan: Plan


class KeptPlans:
    """What is shown of these students on a day; of whom nothing has changed, it is what is known.

    It asks two questions: for the blocks it is chosen by, and for all columns of those that are
    shown. A block that was taken out in between is not shown.
    """

    def __init__(
        self, students: Sequence[int], known: Mapping[int, KeptPlan], database: str, day: date
    ) -> None:
        self._day, self._lately = day, day - LATELY
        self._blocks = Blocks(OF_A_BLOCK, OF_A_VERSION, database)
        self._whole = Blocks(WHOLE_BLOCK, WHOLE_VERSION, database)
        self._made: dict[int, list[Block]] = {}
        unsettled = {one for one in students if one not in known or not known[one].is_settled}
        lately = Q(first_day__gte=self._lately)
        wanted = Block.objects.filter(student__in=students)
        if len(unsettled) < len(students):
            wanted = wanted.filter(lately | Q(student__in=unsettled) if unsettled else lately)
        self._texts = texts_in_two(wanted, [*OF_A_BLOCK, *OF_A_VERSION], lately)
        self._of: dict[int, KeptPlan] = {}
        # Whose block was settled by what began lately, and is no more.
        unsure = set()
        for one in students:
            texts_of_one = tuple(read.get(one) for read in self._texts)
            kept = known.get(one)
            if kept is not None and (kept.lately, kept.older) == texts_of_one:
                self._of[one] = kept
                continue
            self._choose(one)
            if one not in unsettled and not self._of[one].is_settled:
                unsure.add(one)
        self.shown = self._read_whole(unsure)

    def of(self, student: int) -> KeptPlan:
        """Give what is shown of a student; the very thing that was known if nothing changed."""
        return self._of[student]

    def whole(self, student: int, shown: str | None) -> Plan:
        """Give the same with all columns of the blocks that are shown."""
        plan = self._of[student].plan
        # Those that are shown are whole; of those before them only the plan counts.
        whole = {block.pk: block for block in self._whole.made(shown)}
        gone = {block.pk for block in (plan.block, plan.follows) if block} - whole.keys()
        there = [block for block in self._all(student) if block.pk not in gone]
        return plan_of([whole.get(block.pk, block) for block in there], self._day)

    def _all(self, student: int) -> list[Block]:
        if student not in self._made:
            both = [text for read in self._texts if (text := read.get(student))]
            self._made[student] = self._blocks.made(",".join(both))
        return self._made[student]

    def _choose(self, student: int) -> None:
        blocks = self._all(student)
        lately, older = (read.get(student) for read in self._texts)
        plan = plan_of(blocks, self._day)
        breaks = row_broken_by(blocks, plan.asked) if plan.asked else None
        is_settled = breaks is not None and breaks.first_day >= self._lately
        self._of[student] = KeptPlan(
            lately=lately,
            older=None if is_settled else older,
            is_settled=is_settled,
            plan=plan,
        )

    def _read_whole(self, unsure: Iterable[int]) -> dict[int, str]:
        """Read all columns of the blocks that are shown; of whom it is unsure, those of all."""
        sure = {one: kept.plan for one, kept in self._of.items() if one not in unsure}
        shown = [
            block.pk for plan in sure.values() for block in (plan.block, plan.follows) if block
        ]
        since = [plan.read_since(self._day) for plan in sure.values()]
        # None of them begins before the earliest day, by which an index finds them.
        wanted = Q(pk__in=shown, first_day__gte=min(since, default=self._day))
        if unsure:
            wanted |= Q(student__in=unsure)
        found = texts(Block.objects.filter(wanted), [*WHOLE_BLOCK, *WHOLE_VERSION])
        for one in unsure:
            self._made[one] = self._whole.made(found.get(one))
            self._choose(one)
        return found


class Blocks:
    """Makes blocks with their versions of a text that holds some of the columns of both."""

    def __init__(
        self, of_a_block: Sequence[Column], of_a_version: Sequence[Column], database: str
    ) -> None:
        self._database = database
        self._reader = Reader([*of_a_block, *of_a_version], database)
        self._block = [field.attname for _name, field in of_a_block]
        self._version = [field.attname for _name, field in of_a_version]
        fields = BlockVersion._meta.concrete_fields  # noqa: SLF001 - Django's own way
        self._usual = {
            field.attname: field.get_default()
            for field in fields
            if field.name in SETUP and field.attname not in self._version
        }

    def made(self, text: str | None) -> list[Block]:
        """Make the blocks, the newest first; what a text leaves out is not read."""
        versions = []
        for values in self._reader.rows(text):
            of_a_block, of_a_version = values[: len(self._block)], values[len(self._block) :]
            version = BlockVersion.from_db(self._database, self._version, of_a_version)
            version.__dict__.update(self._usual)
            if version.pk is not None:  # a block without one is not shown
                version.block = Block.from_db(self._database, self._block, of_a_block)
                versions.append(version)
        versions.sort(key=lambda row: (row.from_day, row.pk))
        versions.sort(key=lambda row: (row.block.first_day, row.block.pk), reverse=True)
        return with_versions(versions)
