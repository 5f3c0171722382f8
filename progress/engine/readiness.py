"""Did this block do its job? The assessment of one student on one day, and why.

Conventions: own ratings are moved by the gap between theirs and the teacher's at lessons, then put
together with the teacher's so that newer days and the teacher's ear count most. "May be ready"
means: the weakest of the four is likely enough at the teacher's 4, nothing hurts, and the evidence
is recent. The teacher decides; nothing here changes an assignment, and nothing is stored.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from progress.engine import proposal, registers
from progress.engine.caution import ease_off
from progress.engine.check_in import Criterion
from progress.engine.criteria import CriterionReading, weakest
from progress.engine.evidence import Evidence
from progress.engine.parameters import USUAL, Parameters
from progress.engine.proposal import Offer, Proposal
from progress.engine.reasons import Code, Reason
from progress.engine.registers import RegisterReading
from progress.engine.replay import Known, Standing, is_late, standings

NO_OFFER = Offer(proposal=None, reasons=())


class Outcome(StrEnum):
    """What the assessment comes to, the one that goes before all others first."""

    EASE_OFF = "ease off"
    TOO_LITTLE = "too little evidence"
    MAY_BE_READY = "may be ready"
    REPEAT = "repeat the block"
    KEEP_GOING = "keep going"


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """All a page needs of one student on one day.

    ``chance`` is that of the weakest criterion and ``ask`` the one after a lesson with four 4s;
    ``is_readable`` says whether the evidence suffices for them. ``bias`` is how far own ratings run
    above the teacher's, ``straight_share`` the share of own ratings that are one number, None
    unless so many are that only the teacher's are used; ``late`` check-ins were written too late to
    count as ratings. ``above_target`` is in half steps, None for an open top.
    ``recent_hold_seconds`` is what one session held lately.
    """

    day: date
    outcome: Outcome
    chance: float
    weakest: Criterion
    bias: float
    bias_deviation: float
    ask: float
    is_readable: bool
    criteria: tuple[CriterionReading, ...]
    usable_days: int
    lessons: int
    straight_share: float | None
    late: int
    open_count: int
    registers: tuple[RegisterReading, ...]
    above_target: float | None
    recent_hold_seconds: float
    proposal: Proposal | None
    reasons: tuple[Reason, ...]


def assess(evidence: Evidence, day: date, parameters: Parameters = USUAL) -> Assessment:
    """Assess a student on a day, from what was known by then."""
    (assessment,) = assess_days(evidence, [day], parameters)
    return assessment


def assess_as_of(evidence: Evidence, day: date, parameters: Parameters = USUAL) -> Assessment:
    """Assess a student on a day; a block that is over is assessed as of its last day.

    ``Assessment.day`` says which of the two it is. What was known of the block by ``day`` counts,
    whenever it came in; what was open on the last day and is over by now holds nobody back. Today's
    assessment stands where something is open today or something since the last day says to ease
    off. No next lesson of the block is left to ask for, so ASK is dropped.
    """
    today = assess(evidence, day, parameters)
    if day <= evidence.block.last_day or today.open_count:
        return today
    at_end = assess(looked_back_on(evidence, day), evidence.block.last_day, parameters)
    if today.outcome is Outcome.EASE_OFF and today.reasons[0] != at_end.reasons[0]:
        return today
    kept = tuple(reason for reason in at_end.reasons if reason.code is not Code.ASK)
    return replace(at_end, reasons=kept)


def assess_block(evidence: Evidence, parameters: Parameters = USUAL) -> tuple[Assessment, ...]:
    """Assess a student on every day of the block, in one pass."""
    block = evidence.block
    days = [block.start + timedelta(days=passed) for passed in range(block.days)]
    return assess_days(evidence, days, parameters)


def assess_days(
    evidence: Evidence, days: Sequence[date], parameters: Parameters = USUAL
) -> tuple[Assessment, ...]:
    """Assess a student on several days, given in ascending order."""
    return tuple(
        _assessment(known, standing, parameters)
        for known, standing in standings(evidence, days, parameters)
    )


def looked_back_on(evidence: Evidence, day: date) -> Evidence:
    """Let what is known by a day count from its own day on; how late it was filed is kept."""
    check_ins = (row for row in evidence.check_ins if row.known_on <= day)
    lessons = (row for row in evidence.lessons if row.known_on <= day)
    return replace(
        evidence,
        check_ins=tuple(replace(row, received=row.day) for row in check_ins),
        lessons=tuple(replace(row, filed=None) for row in lessons),
        open_things=(),
    )


def _assessment(known: Known, standing: Standing, parameters: Parameters) -> Assessment:
    block = known.block
    played = [row for row in known.check_ins if block.start <= row.day <= standing.day]
    criteria = standing.criteria(parameters)
    weak = weakest(criteria)
    missing = standing.missing(parameters)
    caution = ease_off(known, standing.day, parameters)
    outcome = _outcome(known, standing, weak, caution=caution, parameters=parameters)
    now = proposal.recent(played, block, parameters)
    offered = NO_OFFER
    if outcome is Outcome.MAY_BE_READY:
        offered = proposal.offer(block, now, weak, parameters)
    counted = [row for row in played if row.day >= standing.first]
    straight = standing.same_share if standing.is_straight(parameters) else None
    found = Assessment(
        day=known.day,
        outcome=outcome,
        chance=weak.chance,
        weakest=weak.criterion,
        bias=standing.level.bias,
        bias_deviation=standing.level.bias_variance**0.5,
        ask=standing.chance_after_fours(parameters),
        is_readable=not missing,
        criteria=criteria,
        usable_days=standing.usable_days,
        lessons=standing.lessons,
        straight_share=straight,
        late=sum(is_late(row, parameters) for row in counted),
        open_count=len(known.open_things),
        registers=registers.readings(counted, standing.day, parameters),
        above_target=registers.above_target(played, block.top_target, parameters),
        recent_hold_seconds=now.hold_seconds,
        proposal=offered.proposal,
        reasons=(),
    )
    own = (caution,) if caution else missing if outcome is Outcome.TOO_LITTLE else ()
    return replace(found, reasons=_reasons(found, own, offered, parameters))


def _outcome(
    known: Known,
    standing: Standing,
    weak: CriterionReading,
    *,
    caution: Reason | None,
    parameters: Parameters,
) -> Outcome:
    """Say what it comes to, in order of precedence."""
    if caution is not None:
        return Outcome.EASE_OFF
    if standing.missing(parameters):
        return Outcome.TOO_LITTLE
    if standing.is_on:
        return Outcome.KEEP_GOING if known.open_things else Outcome.MAY_BE_READY
    window = timedelta(days=parameters.repeat_window_days - 1)
    ending = standing.day >= known.block.last_day - window
    if ending and weak.chance < parameters.repeat_below:
        return Outcome.REPEAT
    return Outcome.KEEP_GOING


def _reasons(
    found: Assessment, own: tuple[Reason, ...], offered: Offer, parameters: Parameters
) -> tuple[Reason, ...]:
    """Put the reasons in their order, the outcome's own first."""
    told_open = any(reason.code is Code.OPEN for reason in own)
    is_straight = found.straight_share is not None
    general = (
        (found.open_count > 0 and not told_open, Code.OPEN, found.open_count),
        (True, Code.CHANCE, found.chance),
        (found.lessons > 0 and not is_straight, Code.BIAS, found.bias),
        (is_straight, Code.STRAIGHT, found.straight_share),
        (found.late > 0, Code.LATE, found.late),
        (found.outcome is Outcome.KEEP_GOING, Code.ASK, found.ask),
    )
    ready = found.outcome is Outcome.MAY_BE_READY
    high = found.above_target
    return (
        *own,
        *(Reason(code, figure or 0) for applies, code, figure in general if applies),
        *offered.reasons,
        *(registers.keep_range(found.registers, parameters) if ready else ()),
        *(() if high is None else (Reason(Code.HIGH, high),)),
    )
