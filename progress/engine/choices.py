"""What a teacher may decide at a month's end, and what each next month would ask.

Conventions: seconds are of one session, duty is hold / (hold + rest), a ratio compares with what
one session held lately. Everything is worked out from the plan as it is really played: an open top
counts up to the note that was reached. An option is an offer; the teacher may set anything.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from progress.engine.parameters import USUAL, Parameters
from progress.engine.proposal import Proposal
from progress.engine.readiness import Outcome
from routines.engine import timeline, variants
from routines.engine.dynamics import Level
from routines.engine.plan import BlockPlan
from routines.engine.variants import Variant

# Room for the rounding of binary fractions, far below a count.
ROUNDING = 1e-9
STEP = "step"


class Choice(StrEnum):
    """The four answers to "what next", all of equal rank."""

    MOVE_ON = "move on"
    REPEAT = "repeat"
    CHANGE = "change"
    LATER = "later"


@dataclass(frozen=True, slots=True, kw_only=True)
class Session:
    """One session of a plan in figures."""

    notes: int
    session_seconds: float
    hold_seconds: float
    duty: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """A plan to move on to.

    `key` is "step" for the proposal's step, else the variant; `variables` is what it changes,
    `ratio` its hold-seconds over those played lately. `is_much` says that the ratio is over the
    cap of the proposal, `is_harder` that it asks more playing, less rest or a louder level.
    """

    key: str
    variant: Variant
    plan: BlockPlan
    session: Session
    ratio: float
    variables: tuple[str, ...]
    is_suggested: bool
    is_much: bool
    is_harder: bool


def session_of(plan: BlockPlan, reached: int | None) -> Session:
    """Work out a session; an open top goes to the note reached, else the shorter walk."""
    totals = (
        timeline.build(plan.to(reached)).totals
        if plan.top_note is None and reached is not None
        else _shorter(plan)
    )
    return Session(
        notes=totals.notes,
        session_seconds=totals.session_seconds,
        hold_seconds=totals.hold_seconds,
        duty=totals.duty,
    )


def options(
    today: BlockPlan,
    *,
    reached: int | None,
    recent_hold_seconds: float,
    proposal: Proposal | None,
    parameters: Parameters = USUAL,
) -> tuple[Option, ...]:
    """List the plans to move on to: the proposal's step first, then the named variants.

    What would change nothing is left out, and so is a variant that the step already is.
    """
    found: list[Option] = []
    plans = [(variant, variants.apply(variant, today)) for variant in Variant]
    if proposal is not None:
        plans.insert(0, (proposal.variant, _step(today, proposal)))
    for place, (variant, plan) in enumerate(plans):
        is_step = proposal is not None and place == 0
        if plan == today or any(plan == option.plan for option in found):
            continue
        session = session_of(plan, reached)
        ratio = session.hold_seconds / recent_hold_seconds
        option = Option(
            key=STEP if is_step else variant.value,
            variant=variant,
            plan=plan,
            session=session,
            ratio=ratio,
            variables=variants.variables(today, plan),
            is_suggested=is_step,
            is_much=ratio > parameters.load_cap + ROUNDING,
            is_harder=is_harder(today, plan),
        )
        found.append(option)
    return tuple(found)


def is_harder(today: BlockPlan, after: BlockPlan) -> bool:
    """Whether a plan asks more than today's: longer playing, less rest, or a louder level."""
    one, other = _shorter(today), _shorter(after)
    return (
        other.hold_seconds > one.hold_seconds + ROUNDING
        or other.duty > one.duty + ROUNDING
        or _loudest(after) > _loudest(today)
    )


def suggested(outcome: Outcome) -> Choice | None:
    """Say which choice the assessment speaks for; None where it speaks for none of them."""
    return {Outcome.MAY_BE_READY: Choice.MOVE_ON, Outcome.REPEAT: Choice.REPEAT}.get(outcome)


def _step(today: BlockPlan, proposal: Proposal) -> BlockPlan:
    if proposal.variant is Variant.CONTRAST:
        return variants.apply(Variant.CONTRAST, today)
    return replace(today, hold=proposal.hold, rest=proposal.rest)


def _shorter(plan: BlockPlan) -> timeline.Totals:
    built = timeline.build(plan)
    return built.shortest or built.totals


def _loudest(plan: BlockPlan) -> int:
    # A shape inside each note has no level; it reaches a loud one on the way.
    order = list(Level)
    return max(order.index(level) for level in plan.dynamics.levels or (Level.F,))
