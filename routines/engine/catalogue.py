"""Marks for words that an engine only hands on.

An engine translates nothing and knows no language: `makemessages` finds its words by these marks,
and whoever shows them asks gettext, as in `gettext(level.words)` and `routines.words.in_words`.
"""

from typing import Any


def gettext_noop(message: str) -> str:
    """Mark a message for the catalogue and return it as it is."""
    return message


class Sentence(str):
    """A sentence in English that still knows its message and its figures.

    `message` is what the catalogue holds, with a named place for each of `figures`.
    """

    message: str
    figures: dict[str, Any]

    def __new__(cls, message: str, **figures: Any) -> "Sentence":
        """Write the sentence from a marked message; KeyError when a figure is missing."""
        made = super().__new__(cls, message % figures)
        made.message, made.figures = message, figures
        return made
