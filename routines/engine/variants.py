"""The five variants of a block, and what one changes.

Conventions: hold and rest are whole counts. The counts (8 and 8, 12 and 8, 8 and 4, 4 and 4) are
common practice, no published source. Recovery is the densest of them: its rest is short, two
thirds of the time is playing.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from types import MappingProxyType

from routines.engine.dynamics import MEZZO_FORTE, Dynamics, Kind, Level
from routines.engine.plan import BlockPlan


class Variant(StrEnum):
    """What a block is built for."""

    BASELINE = "baseline"
    ENDURANCE = "endurance"
    RECOVERY = "recovery"
    COMPACT = "compact"
    CONTRAST = "contrast"


class Aim(StrEnum):
    """What the teacher wants from a block."""

    ENDURANCE = "endurance"
    RECOVERY = "recovery"
    CLARITY = "clarity"
    DYNAMICS = "dynamics"


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """How long to hold and to rest."""

    hold: int
    rest: int


COUNTS: Mapping[Variant, Counts] = MappingProxyType(
    {
        Variant.BASELINE: Counts(hold=8, rest=8),
        Variant.ENDURANCE: Counts(hold=12, rest=8),
        Variant.RECOVERY: Counts(hold=8, rest=4),
        Variant.COMPACT: Counts(hold=4, rest=4),
        Variant.CONTRAST: Counts(hold=8, rest=8),
    }
)
LOUD_AND_SOFT = Dynamics(kind=Kind.BY_DAY, levels=(Level.F, Level.P))


def named(plan: BlockPlan) -> Variant | None:
    """Say which variant a plan is; None where a teacher has counts of their own.

    Dynamics that change make it a contrast, whatever the counts.
    """
    if plan.dynamics.kind in {Kind.BY_DAY, Kind.BY_NOTE}:
        return Variant.CONTRAST
    given = Counts(hold=plan.hold, rest=plan.rest)
    return next((variant for variant, counts in COUNTS.items() if counts == given), None)


def apply(variant: Variant, plan: BlockPlan) -> BlockPlan:
    """Return the plan as the variant has it.

    Baseline sets the counts and one level, mf unless the plan has one. Endurance, recovery and
    compact set the counts and leave the dynamics; contrast sets loud and soft by day, unless the
    plan alternates already, and leaves the counts.
    """
    one_level = plan.dynamics.kind is Kind.ONE
    if variant is Variant.CONTRAST:
        return replace(plan, dynamics=LOUD_AND_SOFT) if one_level else plan
    counts = COUNTS[variant]
    keeps = one_level or variant is not Variant.BASELINE
    dynamics = plan.dynamics if keeps else MEZZO_FORTE
    return replace(plan, hold=counts.hold, rest=counts.rest, dynamics=dynamics)


def changed(before: BlockPlan, after: BlockPlan) -> tuple[str, ...]:
    """Name the fields that differ, in the order of the plan; by default a block changes one."""
    return tuple(
        field.name
        for field in fields(BlockPlan)
        if getattr(before, field.name) != getattr(after, field.name)
    )


CYCLE = "cycle"


def variables(before: BlockPlan, after: BlockPlan) -> tuple[str, ...]:
    """Name what changes between two blocks as a teacher counts it.

    Hold and rest made longer or shorter alike are one variable, the cycle: that is what the
    compact variant changes. How the instrument is built is none.
    """
    names = [name for name in changed(before, after) if name != "setup"]
    alike = before.hold * after.rest == before.rest * after.hold
    if {"hold", "rest"} <= set(names) and alike:
        at = names.index("hold")
        names[at : at + 2] = [CYCLE]
    return tuple(names)
