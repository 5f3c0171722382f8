"""Every figure the assessment rests on, in one place, each with its reason.

Conventions: levels and biases on the scale 1 to 5 of the ratings, variances in its square, days are
calendar days. Unless a line says otherwise the figures were tuned and measured on simulated
students (docs/evaluation.md); no real student has been measured.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """The figures of the assessment."""

    # A 4 stands for 85 % of the notes. 0.2 lower, because the estimate lags a rising student: at
    # 4.0 a stated .7 came true nine times in ten. 3.7 doubles the false flags.
    goal: float = 3.8
    # A student given this block is unlikely to be at the goal on the first day; two lessons can
    # overrule it.
    first_level: float = 3.2
    first_level_variance: float = 0.8
    # Self-ratings run high, children's more (direction: Hewitt 2015, J Res Music Educ 63:298-313;
    # size assumed). Wide on purpose.
    first_bias: float = 0.4
    first_bias_child: float = 0.8
    first_bias_variance: float = 0.8
    # A day's forgetting: a standard deviation of .65 over 28 days.
    drift_variance_per_day: float = 0.015
    # A day's mood, shared by the four own ratings; then each rating's noise, rounding included.
    own_shared_variance: float = 0.20
    own_rating_variance: float = 0.80
    # A lesson is worth four or five check-ins and has no bias to learn.
    lesson_shared_variance: float = 0.10
    lesson_rating_variance: float = 0.15
    # A 1 or a 5 is cut off by the end of the scale and says less.
    end_of_scale_variance: float = 0.20
    # The four criteria differ by about .3; a student's bias on one criterion never averages out;
    # what set them apart fades by half in three weeks.
    offset_variance: float = 0.10
    own_offset_bias_variance: float = 0.07
    offset_half_life_days: float = 21.0
    # "May be ready" goes on at the first and off below the second, so that it does not flicker.
    enter: float = 0.75
    leave: float = 0.50
    # Usable days, and days of the block that must have passed: from 4 to 8 changes little, 10
    # costs those who practise seldom.
    least_usable_days: int = 6
    days_before_reading: int = 10
    # Own ratings alone cannot tell; a teacher's ear must be recent, and so must the last check-in.
    lesson_age_days: int = 21
    fresh_days: int = 7
    # What is written down later is recalled badly, and batches repeat one value.
    late_after_days: int = 2
    # Rest first. A choice of this program, no published figure.
    pain_days: int = 7
    # Discomfort in so many of the last check-ins.
    mild_count: int = 3
    mild_among: int = 5
    # Load (effort x minutes: Foster 1998, Med Sci Sports Exerc 30:1164-1168) of a week against the
    # mean of the weeks before, and only with high effort: a prompt to talk, no measure of injury.
    overload_ratio: float = 1.5
    overload_effort: float = 8.0
    overload_weeks: int = 3
    overload_least_weeks: int = 2
    # Finds all who tap one number and next to none of the others.
    straight_days: int = 8
    straight_share: float = 0.95
    # At .50 up to a quarter of the ready students were told to repeat, at .25 fewer than a tenth.
    repeat_below: float = 0.25
    repeat_window_days: int = 5
    # A convention; no evidence sets such a number (Impellizzeri et al. 2020, J Athl Train
    # 55:893-901).
    load_cap: float = 1.25
    # For the proposal: check-ins looked at, least efforts for a trend, and where effort and the
    # completed share count as low or high. Choices of this program.
    proposal_check_ins: int = 7
    trend_efforts: int = 5
    easy_effort: float = 4.0
    high_effort: float = 7.0
    complete_share: float = 0.95
    incomplete_share: float = 0.80
    # Advice by register: a trouble counts half after two weeks; three quarters without trouble is
    # asked; fewer than three answers say nothing.
    register_half_life_days: float = 14.0
    register_share: float = 0.75
    register_least_weight: float = 3.0
    register_chance: float = 0.5
    # Check-ins behind the median of the last good note.
    high_among: int = 5


class Caution(StrEnum):
    """How sure a studio wants the program to be before it says "may be ready"."""

    BOLD = "bold"
    USUAL = "usual"
    STRICT = "strict"


USUAL = Parameters()
BY_CAUTION: Mapping[Caution, Parameters] = MappingProxyType(
    {
        Caution.BOLD: replace(USUAL, enter=0.65, leave=0.45),
        Caution.USUAL: USUAL,
        Caution.STRICT: replace(USUAL, enter=0.85, leave=0.60),
    }
)
