"""What the next block could change: exactly one thing, and never much more playing.

Conventions: hold-seconds are notes x hold x 60 / tempo of one session, duty is hold /
(hold + rest); a cap is a multiple of today. Everything starts from the block's own counts. A
proposal is an offer to the teacher; nothing changes by itself.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from progress.engine.check_in import Criterion
from progress.engine.criteria import CriterionReading
from progress.engine.evidence import SECONDS_A_MINUTE, AssignedBlock, CheckIn
from progress.engine.parameters import Parameters
from progress.engine.reasons import Code, Reason
from progress.engine.statistics import theil_sen
from routines.engine.plan import HOLD_LIMITS
from routines.engine.variants import Aim, Variant

# Endurance leads to a hold of one and a half times the rest; recovery to a rest of half the hold.
# Below this hold there is nothing to halve.
SHORTEST_TO_HALVE = 4
# Room for the rounding of binary fractions, far below a count.
ROUNDING = 1e-12

BY_AIM = {
    Aim.ENDURANCE: Variant.ENDURANCE,
    Aim.RECOVERY: Variant.RECOVERY,
    Aim.CLARITY: Variant.COMPACT,
    Aim.DYNAMICS: Variant.CONTRAST,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Recent:
    """The last check-ins in figures; None where nothing was answered."""

    hold_seconds: float
    completed: float | None
    effort: float | None
    effort_trend: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """One step: its counts, the counts it leads to, and how it compares with what was played.

    ``ratio`` is ``hold_seconds`` over ``recent_hold_seconds``; ``duty`` that of the step.
    """

    variant: Variant
    hold: int
    rest: int
    final_hold: int
    final_rest: int
    hold_seconds: float
    recent_hold_seconds: float
    ratio: float
    duty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A proposal, or None, and why."""

    proposal: Proposal | None
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class _Counts:
    hold: int
    rest: int


@dataclass(frozen=True, slots=True)
class _Step:
    """Where a variant leads, and how far it gets at once; None when the cap leaves no room."""

    final: _Counts
    now: _Counts | None


def recent(rows: Sequence[CheckIn], block: AssignedBlock, parameters: Parameters) -> Recent:
    """Sum up the last check-ins; rows come in order of their day."""
    last = rows[-parameters.proposal_check_ins :]
    planned = block.hold_seconds
    played = [
        (planned if row.planned is None else row.planned) * row.completed
        for row in last
        if row.completed is not None
    ]
    completed = [row.completed for row in last if row.completed is not None]
    efforts = [row for row in last if row.effort is not None]
    values = [row.effort for row in efforts if row.effort is not None]
    enough = len(values) >= parameters.trend_efforts
    trend = theil_sen([float(row.day.toordinal()) for row in efforts], values) if enough else None
    return Recent(
        hold_seconds=fmean(played) if played else planned,
        completed=fmean(completed) if completed else None,
        effort=fmean(values) if values else None,
        effort_trend=trend,
    )


def offer(
    block: AssignedBlock, now: Recent, weakest: CriterionReading, parameters: Parameters
) -> Offer:
    """Choose a variant and work out its step; the reasons say why, or why there is none."""
    variant, why = _choice(block, now, weakest, parameters)
    reasons = [why]
    hard = now.effort is not None and now.effort >= parameters.high_effort
    if hard and now.effort is not None and variant in {Variant.ENDURANCE, Variant.RECOVERY}:
        variant = Variant.CONTRAST
        reasons.append(Reason(Code.EFFORT_HIGH, now.effort))
    if now.completed is not None and now.completed < parameters.incomplete_share:
        reasons.append(Reason(Code.INCOMPLETE, now.completed))
        return Offer(proposal=None, reasons=tuple(reasons))
    step = _step(variant, block, now, parameters)
    if step is None:
        reasons.append(Reason(Code.NO_CHANGE, 0))
        return Offer(proposal=None, reasons=tuple(reasons))
    proposal = _within_cap(variant, step, block, now, parameters)
    if proposal is None:
        reasons.append(Reason(Code.CAP, parameters.load_cap))
    return Offer(proposal=proposal, reasons=tuple(reasons))


def _choice(
    block: AssignedBlock, now: Recent, weakest: CriterionReading, parameters: Parameters
) -> tuple[Variant, Reason]:
    if block.aim is not None:
        return BY_AIM[block.aim], Reason(Code.AIM, 1)
    if weakest.criterion is Criterion.ATTACK:
        return Variant.COMPACT, Reason(Code.WEAKEST, weakest.level)
    complete = now.completed is not None and now.completed >= parameters.complete_share
    if complete and now.effort is not None and now.effort <= parameters.easy_effort:
        return Variant.ENDURANCE, Reason(Code.EFFORT, now.effort)
    if complete and now.effort_trend is not None and now.effort_trend < 0:
        return Variant.RECOVERY, Reason(Code.EFFORT_TREND, now.effort_trend)
    return Variant.CONTRAST, Reason(Code.NO_LOAD, 0)


def _step(
    variant: Variant, block: AssignedBlock, now: Recent, parameters: Parameters
) -> _Step | None:
    """Return where a variant leads from the block's counts; None when nothing is left to change."""
    today = _Counts(block.hold, block.rest)
    if variant is Variant.ENDURANCE:
        return _longer_hold(today, block, now, parameters)
    if variant is Variant.RECOVERY:
        return _shorter_rest(today, parameters)
    if variant is Variant.COMPACT:
        return _shorter_cycle(today)
    return None if block.contrasts else _Step(today, today)


def _longer_hold(
    today: _Counts, block: AssignedBlock, now: Recent, parameters: Parameters
) -> _Step | None:
    goal = min(today.rest * 3 // 2, HOLD_LIMITS[1])
    if goal <= today.hold:
        return None
    most_seconds = parameters.load_cap * now.hold_seconds
    one_count = block.notes * SECONDS_A_MINUTE / block.tempo
    hold = min(goal, math.floor(most_seconds / one_count + ROUNDING))
    most_duty = parameters.load_cap * block.duty
    while hold > today.hold and hold / (hold + today.rest) > most_duty + ROUNDING:
        hold -= 1
    step = _Counts(hold, today.rest) if hold > today.hold else None
    return _Step(_Counts(goal, today.rest), step)


def _shorter_rest(today: _Counts, parameters: Parameters) -> _Step | None:
    goal = -(-today.hold // 2)
    if today.rest <= goal:
        return None
    shortest = (today.hold + today.rest) / parameters.load_cap - today.hold
    rest = max(goal, math.ceil(shortest - ROUNDING))
    step = _Counts(today.hold, rest) if rest < today.rest else None
    return _Step(_Counts(today.hold, goal), step)


def _shorter_cycle(today: _Counts) -> _Step | None:
    if today.hold <= SHORTEST_TO_HALVE:
        return None
    half = _Counts(-(-today.hold // 2), -(-today.rest // 2))
    return _Step(half, half)


def _within_cap(
    variant: Variant,
    step: _Step,
    block: AssignedBlock,
    now: Recent,
    parameters: Parameters,
) -> Proposal | None:
    if step.now is None:
        return None
    seconds = block.notes * step.now.hold * SECONDS_A_MINUTE / block.tempo
    if seconds > parameters.load_cap * now.hold_seconds * (1 + ROUNDING):
        return None
    return Proposal(
        variant=variant,
        hold=step.now.hold,
        rest=step.now.rest,
        final_hold=step.final.hold,
        final_rest=step.final.rest,
        hold_seconds=seconds,
        recent_hold_seconds=now.hold_seconds,
        ratio=seconds / now.hold_seconds,
        duty=step.now.hold / (step.now.hold + step.now.rest),
    )
