"""The answers and the words beside each, shared by students' and teachers' forms."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from progress.engine.check_in import Effort, NoSession, Rating, Stopped
from studio.words import HowMuch, InterruptionKind, Place

QUESTION = _("Out of 10 notes, how many had …")
RATING_WORDS = (
    (Rating.FEW, "0–3"),
    (Rating.HALF, "4–5"),
    (Rating.MANY, "6–7"),
    (Rating.MOST, "8–9"),
    (Rating.ALL, "10"),
)
EFFORT_WORDS = (
    (Effort.VERY_EASY, _("Very easy")),
    (Effort.EASY, _("Easy")),
    (Effort.SOME_WORK, _("Some work")),
    (Effort.HARD, _("Hard")),
    (Effort.NOT_ONE_MORE, _("Not one more note")),
)
PLACE_WORDS = (
    (Place.LIPS, pgettext_lazy("where it hurt", "Lips")),
    (Place.TEETH, pgettext_lazy("where it hurt", "Teeth")),
    (Place.JAW, pgettext_lazy("where it hurt", "Jaw")),
    (Place.NECK, pgettext_lazy("where it hurt", "Neck")),
    (Place.CHEST, pgettext_lazy("where it hurt", "Chest")),
    (Place.BACK, pgettext_lazy("where it hurt", "Back")),
    (Place.HANDS, pgettext_lazy("where it hurt", "Hands")),
    (Place.HEAD, pgettext_lazy("where it hurt", "Head")),
    (Place.DIZZY, pgettext_lazy("where it hurt", "Dizzy")),
    (Place.OTHER, pgettext_lazy("where it hurt", "Other")),
)
HOW_MUCH_WORDS = ((HowMuch.MILD, _("A little")), (HowMuch.PAIN, _("A lot")))
STOPPED_WORDS = (
    (Stopped.SOUND, _("The sound went")),
    (Stopped.TIRED, _("I was tired")),
    (Stopped.TIME, _("Out of time")),
)
NO_SESSION_WORDS = (
    (NoSession.NO_TIME, _("No time")),
    (NoSession.ILL, _("Ill")),
    (NoSession.AWAY, _("Away")),
    (NoSession.ELSEWHERE, _("Played elsewhere")),
)
RATED = ("attack", "sound", "evenness", "release")
INTERRUPTION_WORDS = (
    (InterruptionKind.AWAY, _("Away")),
    (InterruptionKind.ILL, _("Ill")),
    (InterruptionKind.MOUTH, _("Mouth: braces, teeth, lip")),
    (InterruptionKind.LIGHT, _("Light week")),
)
REQUIRED_ANSWERS = (*RATED, "effort")


def choice_of(label: Any, words: Any, coerce: Any) -> forms.TypedChoiceField:
    """Make one row of answers as radio buttons; not answered is None."""
    rows = [(str(value.value), said) for value, said in words]
    return forms.TypedChoiceField(
        label=label,
        # Asked for: each form copies its fields with all their rows, but not what is asked for.
        choices=lambda: rows,
        coerce=lambda value: coerce(int(value)) if issubclass(coerce, int) else coerce(value),
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
    )


class RatingsForm(forms.Form):
    """The four rows that the student's check-in and the teacher's lesson rating share."""

    attack = choice_of(_("a clean start"), RATING_WORDS, Rating)
    sound = choice_of(_("a full, centred sound"), RATING_WORDS, Rating)
    evenness = choice_of(_("a steady middle"), RATING_WORDS, Rating)
    release = choice_of(_("a neat ending"), RATING_WORDS, Rating)
