"""The answers and the words beside each, shared by students' and teachers' forms."""

from typing import Any

from django import forms

from progress.engine.check_in import Effort, NoSession, Rating, Stopped
from studio.words import HowMuch, InterruptionKind, Place

QUESTION = "Out of 10 notes, how many had …"
RATING_WORDS = (
    (Rating.FEW, "0–3"),
    (Rating.HALF, "4–5"),
    (Rating.MANY, "6–7"),
    (Rating.MOST, "8–9"),
    (Rating.ALL, "10"),
)
EFFORT_WORDS = (
    (Effort.VERY_EASY, "Very easy"),
    (Effort.EASY, "Easy"),
    (Effort.SOME_WORK, "Some work"),
    (Effort.HARD, "Hard"),
    (Effort.NOT_ONE_MORE, "Not one more note"),
)
PLACE_WORDS = tuple((place, place.value.capitalize()) for place in Place)
HOW_MUCH_WORDS = ((HowMuch.MILD, "A little"), (HowMuch.PAIN, "A lot"))
STOPPED_WORDS = (
    (Stopped.SOUND, "The sound went"),
    (Stopped.TIRED, "I was tired"),
    (Stopped.TIME, "Out of time"),
)
NO_SESSION_WORDS = (
    (NoSession.NO_TIME, "No time"),
    (NoSession.ILL, "Ill"),
    (NoSession.AWAY, "Away"),
    (NoSession.ELSEWHERE, "Played elsewhere"),
)
RATED = ("attack", "sound", "evenness", "release")
INTERRUPTION_WORDS = (
    (InterruptionKind.AWAY, "Away"),
    (InterruptionKind.ILL, "Ill"),
    (InterruptionKind.MOUTH, "Mouth: braces, teeth, lip"),
    (InterruptionKind.LIGHT, "Light week"),
)
REQUIRED_ANSWERS = (*RATED, "effort")


def choice_of(label: str, words: Any, coerce: Any) -> forms.TypedChoiceField:
    """Make one row of answers as radio buttons; not answered is None."""
    return forms.TypedChoiceField(
        label=label,
        choices=[(str(value.value), said) for value, said in words],
        coerce=lambda value: coerce(int(value)) if issubclass(coerce, int) else coerce(value),
        empty_value=None,
        required=False,
        widget=forms.RadioSelect,
    )


class RatingsForm(forms.Form):
    """The four rows that the student's check-in and the teacher's lesson rating share."""

    attack = choice_of("a clean start", RATING_WORDS, Rating)
    sound = choice_of("a full, centred sound", RATING_WORDS, Rating)
    evenness = choice_of("a steady middle", RATING_WORDS, Rating)
    release = choice_of("a neat ending", RATING_WORDS, Rating)
