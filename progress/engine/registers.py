"""How often each register goes without trouble: advice, never a gate.

Conventions: recent check-ins weigh more, so ``weight`` is no whole count; only check-ins whose
question about trouble was answered are weighed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median

from progress.engine.check_in import Register
from progress.engine.evidence import CheckIn
from progress.engine.parameters import Parameters
from progress.engine.reasons import OF_REGISTER, Reason
from progress.engine.statistics import beta_below


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterReading:
    """One register: the weight of the answers, the share without trouble (None without answers)
    and the chance that the true share is at least the one asked, from a flat prior."""

    register: Register
    weight: float
    share: float | None
    chance: float


def readings(
    rows: Sequence[CheckIn], reached: date, parameters: Parameters
) -> tuple[RegisterReading, ...]:
    """Read the three registers on a day."""
    answered = [
        (0.5 ** ((reached - row.day).days / parameters.register_half_life_days), row.trouble)
        for row in rows
        if row.trouble is not None
    ]
    return tuple(_reading(register, answered, parameters) for register in Register)


def keep_range(found: Sequence[RegisterReading], parameters: Parameters) -> tuple[Reason, ...]:
    """Name the registers whose range should stay as it is."""
    return tuple(
        Reason(OF_REGISTER[reading.register], reading.share)
        for reading in found
        if reading.share is not None
        and reading.weight >= parameters.register_least_weight
        and reading.chance < parameters.register_chance
    )


def above_target(
    rows: Sequence[CheckIn], top_target: float | None, parameters: Parameters
) -> float | None:
    """Return the median of the last good notes minus the target, in half steps.

    None for an open top or without a note.
    """
    known = [row.high for row in rows if row.high is not None][-parameters.high_among :]
    return median(known) - top_target if known and top_target is not None else None


def _reading(
    register: Register,
    answered: Sequence[tuple[float, frozenset[Register]]],
    parameters: Parameters,
) -> RegisterReading:
    clean = sum(weight for weight, trouble in answered if register not in trouble)
    troubled = sum(weight for weight, trouble in answered if register in trouble)
    total = clean + troubled
    return RegisterReading(
        register=register,
        weight=total,
        share=clean / total if total > 0 else None,
        chance=1.0 - beta_below(parameters.register_share, 1.0 + clean, 1.0 + troubled),
    )
