"""Passwords that anybody would try here: made of the words of this place and little else."""

from typing import ClassVar

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django_scopes import scopes_disabled

from studio.models import Membership, User

LEAST_LEFT = 8
SHORTEST_WORD = 4  # of a studio's name: "of" and "the" are in many good sentences


class WordsOfThisPlaceValidator:
    """Refuses what is mostly the program's, the studio's or an instrument's name.

    Without those words at least eight letters or digits must be left. A sentence of other words
    may hold any of them.
    """

    words: ClassVar[tuple[str, ...]] = (
        *("flugelhorn", "sousaphone", "euphonium", "trombone", "mouthpiece", "baritone"),
        *("trumpet", "cornet", "treble", "double", "single", "studio", "teacher", "lesson"),
        *("tenor", "brass", "filar", "music", "tuba", "horn", "bass", "clef", "alto", "flat"),
    )

    def validate(self, password: str, user: User | None = None) -> None:
        """Raise ValidationError where too little is left without the words of this place."""
        left = _bare(password)
        for word in sorted({*self.words, *_studio_words(user)}, key=len, reverse=True):
            left = left.replace(word, "")
        if len(left) < LEAST_LEFT:
            raise ValidationError(self.get_help_text(), code="words_of_this_place")

    def get_help_text(self) -> str:
        """Say what is asked."""
        return _(
            "This is mostly the name of an instrument, the studio or the program: "
            "add a few words of your own."
        )


def _bare(text: str) -> str:
    return "".join(sign for sign in text.casefold() if sign.isalnum())


def _studio_words(user: User | None) -> set[str]:
    """Take the studios' names apart; of an account that is still to be made its form knows them."""
    if user is None:
        return set()
    names = list(getattr(user, "studio_names", ()))
    if user.pk is not None:
        names += _names_of_studios(user)
    words = {_bare(part) for name in names for part in [name, *name.split()]}
    return {word for word in words if len(word) >= SHORTEST_WORD}


def _names_of_studios(user: User) -> list[str]:
    with scopes_disabled():
        return list(Membership.objects.filter(user=user).values_list("studio__name", flat=True))
