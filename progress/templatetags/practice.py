"""Words about practice for templates."""

from django import template

from progress.charts import MonthLine
from progress.engine.check_in import Effort, Rating
from progress.forms import EFFORT_WORDS, RATING_WORDS
from routines.engine import notes

register = template.Library()


@register.filter
def of_ten(rating: int | None) -> str:
    """Say an answer as it stands on its button: 4 is "8–9", not answered is "–"."""
    return "–" if rating is None else dict(RATING_WORDS)[Rating(rating)]


@register.filter
def effort(value: int | None) -> str:
    """Say an effort as it stands on its button."""
    return "–" if value is None else dict(EFFORT_WORDS)[Effort(value)]


@register.filter
def full_note(midi: int) -> str:
    """Name a written note with its octave: 66 is "F♯4"."""
    return f"{notes.display(midi)}{notes.spelling(midi).octave}"


@register.filter
def sentence(line: MonthLine) -> str:
    """Say a month line in one sentence: "18 of 22 days." """
    return f"{line.done} of {line.asked} day{'' if line.asked == 1 else 's'}."
