"""Words about practice for templates."""

from collections.abc import Sequence
from math import ceil, floor

from django import template

from progress.charts import MonthLine
from progress.engine.check_in import Criterion, Effort, Rating
from progress.engine.proposal import BY_AIM
from progress.engine.readiness import Assessment
from progress.engine.reasons import Code, Reason
from progress.forms.answers import EFFORT_WORDS, INTERRUPTION_WORDS, RATING_WORDS
from routines.engine import notes
from routines.engine.notes import Naming
from routines.engine.variants import Aim
from studio.words import InterruptionKind

register = template.Library()

CRITERION_NAMES = {
    Criterion.ATTACK: "Starts",
    Criterion.SOUND: "Sound",
    Criterion.EVENNESS: "Steadiness",
    Criterion.RELEASE: "Endings",
}
VARIABLE_NAMES = {
    "start_note": "start note",
    "low_note": "lowest note",
    "top_note": "highest note",
    "back": "the way back",
    "cycle": "the whole cycle",
}


@register.filter
def of_ten(rating: int | None) -> str:
    """Say an answer as it stands on its button: 4 is "8–9", not answered is "–"."""
    return "–" if rating is None else dict(RATING_WORDS)[Rating(rating)]


@register.filter
def effort(value: int | None) -> str:
    """Say an effort as it stands on its button."""
    return "–" if value is None else dict(EFFORT_WORDS)[Effort(value)]


@register.filter
def full_note(midi: int, naming: str = Naming.LETTERS) -> str:
    """Name a written note with its octave: 66 is "F♯4"."""
    return notes.with_octave(midi, Naming(naming))


@register.filter
def sentence(line: MonthLine) -> str:
    """Say a month line in one sentence: "18 of 22 days." """
    return f"{line.done} of {line.asked} day{'' if line.asked == 1 else 's'}."


@register.filter
def interruption(kind: str) -> str:
    """Say what keeps a student from the plan: "Ill", "Light week"."""
    return dict(INTERRUPTION_WORDS)[InterruptionKind(kind)]


@register.filter
def criterion_name(criterion: Criterion) -> str:
    """Name one of the four in a teacher's word."""
    return CRITERION_NAMES[criterion]


@register.filter
def criterion(criterion: Criterion) -> str:
    """Begin a sentence with one of the four: "Starts are", "Sound is"."""
    name = CRITERION_NAMES[criterion]
    return f"{name} {'are' if name.endswith('s') and name != 'Steadiness' else 'is'}"


@register.filter
def weakest_level(found: Assessment) -> str:
    """Write the level of the weakest criterion, with one place."""
    return next(
        f"{reading.level:.1f}" for reading in found.criteria if reading.criterion == found.weakest
    )


@register.filter
def shown_reasons(found: Assessment) -> list[Reason]:
    """List the reasons a page shows: the chance only when it can be read, the next lesson's number
    only when it is above the chance and nothing is open."""
    return [reason for reason in found.reasons if _is_shown(reason, found)]


@register.filter
def follows(found: Assessment, aim: str) -> bool:
    """Whether the proposed step is the one that the block's aim leads to."""
    return bool(aim) and found.proposal is not None and found.proposal.variant is BY_AIM[Aim(aim)]


@register.filter
def likely(chance: float) -> str:
    """Write a chance: 0.78 is "78 % likely"; no chance is said to be nought or certain."""
    if chance < 0.01:
        return "under 1 % likely"
    # Rounded down, so that what has not reached a threshold never reads as if it had.
    return "over 99 % likely" if chance > 0.99 else f"{floor(chance * 100 + 1e-9)} % likely"


@register.filter
def whole(figure: float) -> int:
    """Round a figure to a whole one."""
    return round(figure)


@register.filter
def one_place(figure: float) -> str:
    """Write a figure with one place."""
    return f"{figure:.1f}"


@register.filter
def two_places(figure: float) -> str:
    """Write a figure with two places at most: 1.25, 1.5, 1."""
    return f"{figure:.2f}".rstrip("0").rstrip(".")


@register.filter
def times_as_much(ratio: float) -> str:
    """Begin a comparison: 1.5 is "1.5 times what", 1.0 is "as much as"."""
    said = two_places(ratio)
    return "as much as" if said == "1" else f"{said} times what"


@register.filter
def mean(figure: float | None) -> str:
    """Write a mean answer with one place; none is "–"."""
    return "–" if figure is None else f"{figure:.1f}"


@register.filter
def measure_name(name: str) -> str:
    """Name one of the four, or effort: "Starts"."""
    return "Effort" if name == "effort" else CRITERION_NAMES[Criterion(name)]


@register.filter
def measure_names(names: Sequence[str]) -> str:
    """Name several of the four to begin a sentence: "Starts and endings"."""
    said = [measure_name(name) for name in names]
    return listed([*said[:1], *(name.lower() for name in said[1:])])


def listed(said: Sequence[str]) -> str:
    """Put words in a row as people say them: "hold, rest and tempo"."""
    return " and ".join(filter(None, [", ".join(said[:-1]), said[-1]]))


@register.filter
def variable_names(names: Sequence[str]) -> str:
    """Name what changes from one plan to another: "hold, rest and tempo"."""
    return listed([VARIABLE_NAMES.get(name, name) for name in names])


@register.filter
def distance(figure: float) -> str:
    """Write how far a figure is from nought, with one place, two where it is small."""
    far = abs(figure)
    return two_places(far) if far < 0.1 else f"{far:.1f}".removesuffix(".0")


@register.filter
def slope(figure: float) -> str:
    """Write a change that is there but may be small: 0.05, "less than 0.01"."""
    return "less than 0.01" if abs(figure) < 0.01 else distance(figure)


@register.filter
def is_near_nought(figure: float) -> bool:
    """Whether a figure is 0.0 when it is written with one place."""
    return one_place(abs(figure)) == "0.0"


@register.filter
def percent_under(share: float, limit: float) -> str:
    """Write a share that is under a limit, rounded down so that it never reads as the limit."""
    return f"{min(floor(share * 100 + 1e-9), ceil(limit * 100) - 1)} %"


def _is_shown(reason: Reason, found: Assessment) -> bool:
    if reason.code is Code.CHANCE:
        return found.is_readable
    if reason.code is Code.BIAS:
        # Without own answers the figure is only where the program starts from.
        return found.usable_days > 0
    if reason.code is Code.ASK:
        return found.is_readable and found.ask > found.chance and not found.open_count
    return True
