"""Which words of a template do not go through gettext."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser

from django.template.base import Lexer, Token, TokenType

SILENT = {"script", "style"}
SPOKEN = {"aria-label", "alt", "title", "placeholder"}
# Words that one template hands to another by these names are shown as they are.
HANDED_ON = re.compile(r'\b(?:label|words?|sentence|month_name|caption|title|ask)="([^"]*)"')
A_WORD = re.compile(r"[^\W\d_]{2,}")
# The program's own name is the same in every language; an attribute that a block adds is no word.
NO_WORDS = re.compile(r"\bFilar\b|[\w-]+=\"[^\"]*\"")
OPENING = {"blocktranslate": "endblocktranslate", "comment": "endcomment"}


class _Listener(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.said: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in SILENT
        self.said += [value for name, value in attrs if name in SPOKEN and value]

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in SILENT

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.said.append(data)


def unmarked(template: str) -> list[str]:
    """List the words of a template that no `translate` or `blocktranslate` holds."""
    plain, handed_on = [], []
    for token in _outside(Lexer(template).tokenize()):
        if token.token_type is TokenType.TEXT:
            plain.append(token.contents)
        elif token.token_type is TokenType.BLOCK:
            handed_on += HANDED_ON.findall(token.contents)
    listener = _Listener()
    listener.feed("".join(plain))
    listener.close()
    found = [" ".join(NO_WORDS.sub("", text).split()) for text in [*listener.said, *handed_on]]
    return [text for text in found if A_WORD.search(text)]


def _outside(tokens: list[Token]) -> Iterator[Token]:
    """Leave out what stands between a tag that translates, or a comment, and its end."""
    until = ""
    for token in tokens:
        tag = token.contents.split()[0] if token.contents.split() else ""
        is_tag = token.token_type is TokenType.BLOCK
        if until:
            until = "" if is_tag and tag == until else until
        elif is_tag and tag in OPENING:
            until = OPENING[tag]
        elif not (is_tag and tag == "translate"):
            yield token
