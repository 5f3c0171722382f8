"""Words about practice for templates."""

from collections.abc import Sequence
from math import ceil, floor
from typing import Any

from django import template
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, pgettext_lazy

from progress.charts import month_svg
from progress.charts.month_line import MonthLine, MonthSystem
from progress.engine.check_in import Criterion, Effort, NoSession, Rating
from progress.engine.choices import Choice
from progress.engine.proposal import BY_AIM
from progress.engine.readiness import Assessment
from progress.engine.reasons import Code, Reason
from progress.forms.answers import (
    EFFORT_WORDS,
    INTERRUPTION_WORDS,
    RATING_WORDS,
)
from progress.queries import recordings
from progress.services.decisions import CHOICE_WORDS
from routines.engine import notes
from routines.engine.notes import Naming
from routines.engine.variants import Aim
from routines.player_words import by_number, minutes
from studio import glyphs
from studio.words import InterruptionKind, Place, in_a_row

register = template.Library()

CRITERION_NAMES = {
    Criterion.ATTACK: gettext_lazy("Starts"),
    Criterion.SOUND: gettext_lazy("Sound"),
    Criterion.EVENNESS: gettext_lazy("Steadiness"),
    Criterion.RELEASE: gettext_lazy("Endings"),
}
VARIABLE_NAMES = {
    "hold": pgettext_lazy("what changes", "hold"),
    "rest": pgettext_lazy("what changes", "rest"),
    "tempo": gettext_lazy("tempo"),
    "dynamics": gettext_lazy("dynamics"),
    "instrument": gettext_lazy("instrument"),
    "setup": gettext_lazy("setup"),
    "start_note": gettext_lazy("start note"),
    "low_note": gettext_lazy("lowest note"),
    "top_note": gettext_lazy("highest note"),
    "back": gettext_lazy("the way back"),
    "cycle": gettext_lazy("the whole cycle"),
}
AIMS_WITHIN = {
    Aim.ENDURANCE: gettext_lazy("endurance"),
    Aim.RECOVERY: gettext_lazy("recovery"),
    Aim.CLARITY: gettext_lazy("clarity"),
    Aim.DYNAMICS: gettext_lazy("dynamics"),
}
# A day is off the plan for a pause of the teacher's or for a reason that the student gave.
WHYS_WITHIN: dict[str, Any] = {
    InterruptionKind.AWAY: gettext_lazy("away"),
    InterruptionKind.ILL: gettext_lazy("ill"),
    InterruptionKind.MOUTH: gettext_lazy("mouth"),
    InterruptionKind.LIGHT: gettext_lazy("light"),
    NoSession.NO_TIME: gettext_lazy("no time"),
    NoSession.ELSEWHERE: gettext_lazy("elsewhere"),
}
PLACES_WITHIN = {
    Place.LIPS: pgettext_lazy("something hurt", "lips"),
    Place.TEETH: pgettext_lazy("something hurt", "teeth"),
    Place.JAW: pgettext_lazy("something hurt", "jaw"),
    Place.NECK: pgettext_lazy("something hurt", "neck"),
    Place.CHEST: pgettext_lazy("something hurt", "chest"),
    Place.BACK: pgettext_lazy("something hurt", "back"),
    Place.HANDS: pgettext_lazy("something hurt", "hands"),
    Place.HEAD: pgettext_lazy("something hurt", "head"),
    Place.DIZZY: pgettext_lazy("something hurt", "dizzy"),
    Place.OTHER: pgettext_lazy("something hurt", "other"),
}


@register.simple_tag
def anybody_may_record() -> bool:
    """Whether any student of the studio may record held notes."""
    return recordings.anybody_may_record()


@register.simple_tag
def check_in_words() -> dict[str, Any]:
    """List the sentences that the check-in fills in on the phone."""
    return {
        "pick_one": _("Pick one."),
        "pick_the_day": _("Pick the day."),
        "pick_a_day": _("Pick the day"),
        "for_day": _("For {day}."),
        "for_which_day": _("For which day?"),
        "minutes": minutes(),
        "seconds": by_number(
            lambda number: ngettext("{number} second", "{number} seconds", number)
        ),
    }


@register.filter
def of_ten(rating: int | None) -> str:
    """Say an answer as it stands on its button: 4 is "8–9", not answered is "–"."""
    return "–" if rating is None else dict(RATING_WORDS)[Rating(rating)]


@register.filter
def effort(value: int | None) -> str:
    """Say an effort as it stands on its button."""
    return "–" if value is None else str(dict(EFFORT_WORDS)[Effort(value)])


@register.filter
def full_note(midi: int, naming: str = Naming.LETTERS) -> str:
    """Name a written note with its octave: 66 is "F♯4"."""
    return notes.with_octave(midi, Naming(naming))


@register.filter
def drawn(system: MonthSystem) -> str:
    """Draw a system of the month line."""
    return month_svg.drawn(system, glyphs.file_address())


@register.filter
def sentence(line: MonthLine) -> str:
    """Say a month line in one sentence: "18 of 22 days.", or that no day was to be played."""
    if not line.asked:
        return _("No day to play so far.")
    said = ngettext("%(done)d of %(asked)d day.", "%(done)d of %(asked)d days.", line.asked)
    return said % {"done": line.done, "asked": line.asked}


@register.filter
def interruption(kind: str) -> str:
    """Say what keeps a student from the plan: "Ill", "Light week"."""
    return str(dict(INTERRUPTION_WORDS)[InterruptionKind(kind)])


@register.filter
def place(stored: str) -> str:
    """Say where something hurt, within a sentence: "lips"."""
    return str(PLACES_WITHIN[Place(stored)])


@register.filter
def why(stored: str) -> str:
    """Say why nothing was played or asked on a day, within a sentence: "no time"."""
    return str(WHYS_WITHIN[stored])


@register.filter
def aim_within(aim: str) -> str:
    """Say what a block is for, within a sentence: "endurance"."""
    return str(AIMS_WITHIN[Aim(aim)])


@register.filter
def choice_name(choice: str) -> str:
    """Say what a teacher decided: "Move on"."""
    return str(CHOICE_WORDS[Choice(choice)])


@register.filter
def criterion_name(criterion: Criterion) -> str:
    """Name one of the four in a teacher's word."""
    return str(CRITERION_NAMES[criterion])


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
        return _("under 1 % likely")
    if chance > 0.99:
        return _("over 99 % likely")
    # Rounded down, so that what has not reached a threshold never reads as if it had.
    return _("%(percent)d %% likely") % {"percent": floor(chance * 100 + 1e-9)}


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
def mean(figure: float | None) -> str:
    """Write a mean answer with one place; none is "–"."""
    return "–" if figure is None else f"{figure:.1f}"


@register.filter
def measure_name(name: str) -> str:
    """Name one of the four, or effort: "Starts"."""
    return _("Effort") if name == "effort" else str(CRITERION_NAMES[Criterion(name)])


@register.filter
def measure_names(names: Sequence[str]) -> str:
    """Name several of the four to begin a sentence: "Starts and endings"."""
    said = [measure_name(name) for name in names]
    return in_a_row([*said[:1], *(name.lower() for name in said[1:])])


@register.filter
def variable_names(names: Sequence[str]) -> str:
    """Name what changes from one plan to another: "hold, rest and tempo"."""
    return in_a_row([str(VARIABLE_NAMES[name]) for name in names])


@register.filter
def distance(figure: float) -> str:
    """Write how far a figure is from nought, with one place, two where it is small."""
    far = abs(figure)
    return two_places(far) if far < 0.1 else f"{far:.1f}".removesuffix(".0")


@register.filter
def for_plural(figure: float) -> int:
    """Count a distance for its plural: one when it is written "1", else several."""
    return 1 if distance(figure) == "1" else max(2, ceil(abs(figure)))


@register.filter
def slope(figure: float) -> str:
    """Write a change that is there but may be small: 0.05, "less than 0.01"."""
    return _("less than 0.01") if abs(figure) < 0.01 else distance(figure)


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
