"""The reasons of an assessment: codes with figures; templates hold the sentences."""

from dataclasses import dataclass
from enum import StrEnum

from progress.engine.check_in import Register


class Code(StrEnum):
    """What speaks for an outcome; the figure that goes with each stands beside it."""

    OPEN = "open"  # how many things are open
    PAIN = "pain"  # days since the last pain
    MILD = "mild"  # check-ins with discomfort among the last five
    OVERLOAD = "overload"  # this week's load over the mean of the weeks before
    EARLY = "early"  # number of the day in the evidence, the first being 1
    FEW = "few"  # usable days
    NO_LESSON = "no_lesson"  # lesson ratings seen
    STALE = "stale"  # days since the last usable check-in
    CHANCE = "chance"  # chance that the weakest criterion is at the goal
    BIAS = "bias"  # how far own ratings run above the teacher's
    STRAIGHT = "straight"  # share of the own ratings that are one number
    LATE = "late"  # check-ins written too late to count as ratings
    ASK = "ask"  # the chance after a lesson with a 4 on each of the four
    AIM = "aim"  # 1: the teacher chose the aim
    WEAKEST = "weakest"  # level of the weakest criterion
    EFFORT = "effort"  # mean effort
    EFFORT_TREND = "effort_trend"  # change of effort a day
    NO_LOAD = "no_load"  # 0: nothing speaks for more playing
    EFFORT_HIGH = "effort_high"  # mean effort
    INCOMPLETE = "incomplete"  # mean share completed
    CAP = "cap"  # how many times the playing of today is the most
    NO_CHANGE = "no_change"  # 0: nothing is left to change
    REGISTER_LOW = "register_low"  # share of check-ins without trouble there
    REGISTER_MIDDLE = "register_middle"
    REGISTER_HIGH = "register_high"
    HIGH = "high"  # last good note minus the target, in half steps


OF_REGISTER = {
    Register.LOW: Code.REGISTER_LOW,
    Register.MIDDLE: Code.REGISTER_MIDDLE,
    Register.HIGH: Code.REGISTER_HIGH,
}


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason and its figure; no sentence."""

    code: Code
    figure: float
