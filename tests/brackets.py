"""A made-up language that says everything in brackets, and what a page says outside them."""

import re
from html.parser import HTMLParser
from typing import Any

from django.utils import translation

from routines.engine.notes import Naming, display, spoken

SILENT = {"script", "style"}
# What people typed is theirs, and so are names; a part of a note's name is no word.
OWN = {"bdi", "code", "textarea"}
SPOKEN = {"aria-label", "alt", "title", "placeholder"}
A_WORD = re.compile(r"[^\W\d_]{2,}")
# The same in every language: notes, by any of their names; the program, signs of loudness, file
# formats, zones, addresses.
NOTES = {
    re.escape(said(midi, naming))
    for naming in Naming
    for midi in range(128)
    for said in (display, spoken)
}
NO_WORDS = re.compile(
    rf"(?<!\w)(?:{'|'.join(sorted(NOTES, key=len, reverse=True))})(?!\w)"
    r"|\bFilar\b|\b[A-G] (?:sharp|flat)\b|\b(?:pp|mp|mf|ff)\b|\b(?:UTC|CSV)\b"
    r"|\b[A-Z]\w+(?:/[\w+-]+(?: \w+)*)+|\S+@\S+"
)


def speak(monkeypatch: Any) -> None:
    """Let gettext say everything in brackets from here on."""
    language = vars(translation)["_trans"]
    monkeypatch.setattr(language, "gettext", lambda words: f"⟦{words}⟧")
    monkeypatch.setattr(language, "pgettext", lambda _context, words: f"⟦{words}⟧")
    monkeypatch.setattr(language, "ngettext", lambda one, many, n: f"⟦{one if n == 1 else many}⟧")
    monkeypatch.setattr(
        language, "npgettext", lambda _context, one, many, n: f"⟦{one if n == 1 else many}⟧"
    )


class _Listener(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.bare: list[str] = []
        self.silent = self.depth = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in SILENT | OWN
        for name, value in attrs:
            if name in SPOKEN and value:
                self.bare.append(_outside(value)[0])

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in SILENT | OWN

    def handle_data(self, data: str) -> None:
        if not self.silent:
            outside, self.depth = _outside(data, self.depth)
            self.bare.append(outside)


def bare_words(page: str, data: tuple[str, ...] = ()) -> list[str]:
    """List what a page says outside the brackets that is neither a figure nor one of `data`."""
    listener = _Listener()
    listener.feed(page)
    listener.close()
    names = sorted(filter(None, data), key=len, reverse=True)
    found = []
    for text in listener.bare:
        left = text
        for name in names:
            left = left.replace(name, "")
        if A_WORD.search(NO_WORDS.sub("", left)):
            found.append(" ".join(text.split()))
    return found


def _outside(text: str, depth: int = 0) -> tuple[str, int]:
    kept = []
    for sign in text:
        depth -= sign == "⟧"
        kept.append(sign if depth == 0 and sign not in "⟦⟧" else " ")
        depth += sign == "⟦"
    return "".join(kept), depth
