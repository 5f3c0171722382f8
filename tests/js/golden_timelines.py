"""The maker of tests/data/timelines_golden.json: sessions counted through without the program.

`python -m tests.js.golden_timelines` writes the file anew. Nothing of the program is used: start
and low note of each instrument come from tests/data/fingering_charts.json (common practice, no
published source), the walk is counted note by note, the seconds by `counting.py` in whole
fractions. A count lasts 60 / tempo seconds, which is what a metronome mark means.
"""

import json
import random
from fractions import Fraction
from itertools import cycle
from pathlib import Path
from typing import Any

from tests.js.counting import Count, counted, place_at

DATA = Path(__file__).parents[1] / "data"
GOLDEN = DATA / "timelines_golden.json"
COUNT_IN = 4
LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
# Hold and rest of the five variants (common practice, no published source), and four odd ones.
VARIANTS = (
    ("baseline", 8, 8, "mf"), ("endurance", 12, 8, "mf"), ("recovery", 8, 4, "mp"),
    ("compact", 4, 4, "mf"), ("contrast", 8, 8, "by-day:f,p"), ("by note", 8, 8, "by-note:p,f"),
    ("no rest", 5, 0, "mf"), ("longest", 32, 32, "ff"), ("uneven", 3, 7, "inside:swell"),
)  # fmt: skip
TEMPI = (20, 40, 54, 60, 63, 72, 88, 107, 132, 180, 240)
TOPS = (0, 5, 7, 12)
CASES_OF_AN_INSTRUMENT = 4
PLACES = 12


def number_of(name: str) -> int:
    """Read a note such as F#3 as its MIDI number, C4 being 60."""
    sign = {"#": 1, "b": -1}.get(name[1], 0)
    return 12 * (int(name[-1]) + 1) + LETTERS[name[0]] + sign


def walked(start: int, low: int, top: int, *, by_step: bool) -> list[int]:
    """Walk note by note: down to the low one, back by step or not at all, up to the top."""
    notes = [start]
    while notes[-1] > low:
        notes.append(notes[-1] - 1)
    if by_step:
        while notes[-1] < start:
            notes.append(notes[-1] + 1)
    else:
        notes.append(start)
    while notes[-1] < top:
        notes.append(notes[-1] + 1)
    return notes


def dynamic_of(text: str, day: int, index: int) -> str:
    """Say what stands at a note: the first level named is that of day 1 and of the first note."""
    kind, colon, said = text.partition(":")
    if not colon:
        return text
    if kind == "inside":
        return said
    return said.split(",")[(day - 1 if kind == "by-day" else index) % 2]


def rows_of(places: list[Count], chance: random.Random) -> list[list[Any]]:
    """Pick seconds of a session, some on a count, and say what a player would say there."""
    length = places[1].begins - places[0].begins
    picked = sorted({0, COUNT_IN, *chance.sample(range(len(places)), PLACES)})
    rows = []
    for at in picked:
        second = places[at].begins + length * chance.choice((0, Fraction(1, 3), Fraction(9, 10)))
        place = place_at(places, second)
        left = place["counts"] - place["count"] + 1
        rows.append(
            [float(second), place["phase"], place["index"], place["count"], left, place["breathe"]]
        )
    return rows


def case_of(number: int, instrument: str, row: dict[str, Any]) -> dict[str, Any]:
    """Count one session through; the numbers of the cases go through variants, tempi and tops."""
    variant, hold, rest, dynamics = VARIANTS[number % len(VARIANTS)]
    tempo, top_steps = TEMPI[number % len(TEMPI)], TOPS[number % len(TOPS)]
    by_step, day = number % 3 == 0, 1 + number % 2
    start, low = number_of(row["start"]), number_of(row["low"])
    notes = walked(start, low, start + top_steps, by_step=by_step)
    counts = counted(len(notes), hold, rest, tempo, COUNT_IN)
    attacks = [count for count in counts if count.phase == "hold" and count.count == 1]
    end = counts[-1].begins + Fraction(60, tempo)
    return {
        "instrument": instrument,
        "variant": variant,
        "plan": {
            "start": start, "low": low, "top": start + top_steps,
            "back": "step" if by_step else "restart", "hold": hold, "rest": rest, "tempo": tempo,
            "dynamics": dynamics, "day": day,
        },
        "notes": notes,
        "dynamics": [dynamic_of(dynamics, day, index) for index in range(len(notes))],
        "attacks": [round(float(attack.begins), 9) for attack in attacks],
        "ends": round(float(end), 9),
        "places": rows_of(counts, random.Random(number)),  # noqa: S311 - only to choose places
    }  # fmt: skip


def golden() -> dict[str, Any]:
    """Count all sessions through: every instrument in four variants and tempi."""
    charts = json.loads((DATA / "fingering_charts.json").read_text())["instruments"]
    numbers = cycle(range(len(charts) * CASES_OF_AN_INSTRUMENT))
    return {
        "about": "Sessions counted through: notes, dynamics, attacks and end in seconds from the "
        "first attack; places are [second, phase, note index, count, counts left, breathe].",
        "source": "tests/js/golden_timelines.py: a count lasts 60 / tempo seconds; starts, low "
        "notes and counts are common practice, no published source.",
        "count_in": COUNT_IN,
        "cases": [
            case_of(next(numbers), instrument, row)
            for instrument, row in charts.items()
            for _ in range(CASES_OF_AN_INSTRUMENT)
        ],
    }


def text() -> str:
    """Write the file's text, a case a line, so that a change can be read."""
    whole = golden()
    cases = ",\n".join(f"  {json.dumps(case)}" for case in whole.pop("cases"))
    head = ",\n".join(f' "{name}": {json.dumps(value)}' for name, value in whole.items())
    return f'{{\n{head},\n "cases": [\n{cases}\n ]\n}}\n'


if __name__ == "__main__":
    GOLDEN.write_text(text())
