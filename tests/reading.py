"""The words that a page says to its reader, taken from what the page really shows."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser

from textstat import textstat

# Where one of these begins or ends, a sentence does too.
BREAKS = {
    "p", "li", "h1", "h2", "h3", "td", "th", "dt", "dd", "button", "summary", "label", "legend",
    "option", "div", "section", "ul", "ol", "tr", "header", "figcaption", "caption", "form",
    "main", "br", "noscript", "table", "details", "figure", "fieldset", "select", "textarea",
}  # fmt: skip
SILENT = {"script", "style", "template", "svg"}
SPOKEN = {"aria-label", "alt", "title", "placeholder"}
# A date is as long as it is; it is read as one short word.
_WEEKDAY = r"(?:Mon|Tues|Wednes|Thurs|Fri|Satur|Sun)day"
_DAY = (
    r"\d{1,2} (?:January|February|March|April|May|June|July|August|September|October|November"
    r"|December)(?: \d{4})?"
)
DATE = re.compile(rf"\b(?:{_WEEKDAY},? {_DAY}|{_WEEKDAY}|{_DAY})\b")


class _Listener(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.blocks: list[list[str]] = [[]]
        self.names: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in SILENT
        self.names += [value for name, value in attrs if name in SPOKEN and value]
        if tag in BREAKS:
            self.blocks.append([])

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in SILENT
        if tag in BREAKS:
            self.blocks.append([])

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.blocks[-1].append(data)


def said_on(page: str) -> Iterator[str]:
    """Give what the page itself says, a paragraph, button or label at a time; names too."""
    listener = _Listener()
    listener.feed("<main" + page.partition("<main")[2])
    for text in ["".join(parts) for parts in listener.blocks] + listener.names:
        if said := " ".join(text.split()):
            yield said


def sentences(said: str) -> list[str]:
    """Part what is said in one place into its sentences."""
    return [one for one in re.split(r"(?<=[.?!])\s+", said) if one]


def grade(said: str) -> float:
    """Measure by the Flesch-Kincaid formula, as the library textstat 0.7.3 has it.

    Kincaid, Fishburne, Rogers and Chissom, Derivation of new readability formulas, 1975.
    """
    return float(textstat.flesch_kincaid_grade(DATE.sub("May", said)))


def words(said: str) -> int:
    """Count the words; a number is one, a lone sign is none."""
    return len(re.findall(r"[^\W_][\w’'–-]*", said))
