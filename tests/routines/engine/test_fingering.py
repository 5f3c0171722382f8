"""Fingerings against the harmonic rule, published charts and published intonation figures."""

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routines.engine import fingering, notes
from routines.engine.instruments import (
    INSTRUMENTS,
    Hint,
    Setup,
    by_id,
    chart,
    chart_note,
    tubing,
)

DATA = Path(__file__).parents[2] / "data"
CHARTS = json.loads((DATA / "fingering_charts.json").read_text())["instruments"]
PUBLISHED = json.loads((DATA / "fingering_published.json").read_text())["charts"]
INTONATION = json.loads((DATA / "trade_intonation.json").read_text())

# The rule once more, from the textbook: half steps of each partial over the fundamental, and what
# each valve adds. Nothing here is shared with the program.
PARTIALS = {2: 12, 3: 19, 4: 24, 5: 28, 6: 31, 7: 34, 8: 36, 9: 38, 10: 40, 12: 43, 16: 48}
VALVES = {"0": 0, "1": 2, "2": 1, "3": 3, "4": 5}
FUNDAMENTALS = {
    "treble": 48,
    "horn": 36,
    "tenor": 34,
    "tuba_bbb": 22,
    "tuba_cc": 24,
    "tuba_eb": 27,
    "tuba_f": 29,
}
# Chart A prints for a non-compensating euphonium one half step more tubing on these four.
EUPHONIUM_DIFFERENCES = {"C2": "1234", "C#2": "134", "D2": "234", "Eb2": "124"}
EVERY = [pytest.param(instrument, id=instrument.id) for instrument in INSTRUMENTS]
SETUPS = [Setup(), Setup(four_valves=False), Setup(four_valves=True)]


def _fundamental(instrument):
    if instrument.id in FUNDAMENTALS:
        return FUNDAMENTALS[instrument.id]
    if instrument.family == "horn":
        return FUNDAMENTALS["horn"]
    return FUNDAMENTALS["treble" if instrument.clefs == ("treble",) else "tenor"]


def _note_of(instrument, one):
    """Return the note a fingering gives by the textbook rule."""
    open_note = _fundamental(instrument) + PARTIALS[one.partial]
    if instrument.family == "trombone":
        return open_note - (int(one.text) - 1)
    thumb = 5 if one.text.startswith("T") else 0
    return open_note + thumb - sum(VALVES[valve] for valve in one.text.removeprefix("T"))


@pytest.mark.parametrize("setup", SETUPS, ids=["usual", "three valves", "four valves"])
@pytest.mark.parametrize("instrument", EVERY)
def test_every_usual_and_alternate_fingering_gives_its_note_by_the_harmonic_rule(instrument, setup):
    entries = [
        (note.written, one)
        for note in chart(instrument, setup)
        for one in (note.usual, *note.alternates)
    ]

    wrong = [(note, one) for note, one in entries if _note_of(instrument, one) != note]

    assert len(entries) > 35
    assert wrong == []


@pytest.mark.parametrize("instrument", EVERY)
def test_the_chart_has_the_choices_the_trade_makes_in_its_order(instrument):
    expected = [
        (
            row["written"],
            row.get("with_four_valves", row["usual"]),
            _order(row),
        )
        for row in CHARTS[instrument.id]["chart"]
    ]

    computed = [
        (note.name, _text(note.usual), [_text(one) for one in note.alternates])
        for note in chart(instrument)
    ]

    assert computed == expected


def _text(one):
    return f"{one.text}/{one.partial}"


def _order(row):
    """Return the alternates as this player has them: with four valves 13 and 123 become one."""
    alternates = row["alternates"].split()
    if "with_four_valves" not in row:
        return alternates
    return [row["usual"], *(one for one in alternates if one != row["with_four_valves"])]


@pytest.mark.parametrize("instrument", EVERY)
def test_a_player_with_three_valves_gets_the_three_valve_choices(instrument):
    expected = [
        (row["written"], row["usual"])
        for row in CHARTS[instrument.id]["chart"]
        if "4" not in row["usual"].partition("/")[0] or instrument.family == "trombone"
    ]

    computed = [
        (note.name, _text(note.usual)) for note in chart(instrument, Setup(four_valves=False))
    ]

    assert computed == expected


@pytest.mark.parametrize("id_", PUBLISHED)
def test_the_usual_choice_is_the_one_a_published_chart_prints(id_):
    setup = Setup(four_valves=False)
    ours = {note.name: note.usual.text for note in chart(by_id(id_), setup)}
    printed = {note: texts.split()[0] for note, texts in PUBLISHED[id_].items() if note in ours}

    differing = {note: text for note, text in printed.items() if ours[note] != text}

    assert len(printed) >= 25
    assert differing == {}


@pytest.mark.parametrize("id_", PUBLISHED)
def test_every_alternate_a_published_chart_prints_is_offered(id_):
    ours = {
        note.name: {one.text for one in (note.usual, *note.alternates)}
        for note in chart(by_id(id_))
    }

    missing = {
        note: texts
        for note, texts in PUBLISHED[id_].items()
        if not set(texts.split()) <= ours[note] and note not in EUPHONIUM_DIFFERENCES
    }

    assert missing == {}


def test_the_four_euphonium_rows_that_differ_are_those_of_a_non_compensating_instrument():
    euphonium = by_id("euphonium_bc")
    usual = {note.name: note.usual.text for note in chart(euphonium)}
    printed = {note: PUBLISHED["euphonium_bc"][note] for note in EUPHONIUM_DIFFERENCES}

    without = {note.name: note.usual.text for note in chart(euphonium, Setup(compensating=False))}

    assert printed == EUPHONIUM_DIFFERENCES
    assert {note: without[note] for note in printed} == printed
    assert all(usual[note] != text for note, text in printed.items())
    assert {note: text for note, text in without.items() if note not in printed} == {
        note: text for note, text in usual.items() if note not in printed and note != "B1"
    }


# 1-3 becomes 4 and 1-2-3 becomes 2-4: "Taming the Tuba", fingering patterns, bandworld.org.
@pytest.mark.parametrize(("half_steps", "three", "four"), [(5, "13", "4"), (6, "123", "24")])
def test_the_fourth_valve_stands_for_one_and_three(half_steps, three, four):
    assert fingering.usual_valves(half_steps) == three
    assert fingering.usual_valves(half_steps, valves=4) == four


# French Horn Fingering Chart, Scribd document 570094472: F side up to second-line G, either side
# from A flat to C, B-flat side from D flat.
def test_the_double_horn_changes_side_where_the_published_chart_lets_it():
    sides = {
        note.name: note.usual.text.startswith("T") for note in chart(by_id("horn_double_f_bb"))
    }
    names = list(sides)

    assert not any(sides[name] for name in names[: names.index("G4") + 1])
    assert all(sides[name] for name in names[names.index("C#5") :])


def test_the_trombone_takes_the_flat_seventh_partial_only_where_the_slide_can_be_raised():
    sevenths = {
        note.name: note.usual.text
        for note in chart(by_id("trombone_tenor"))
        if note.usual.partial == 7
    }

    assert sevenths == {"F#4": "3", "G4": "2"}


# Nothing longer than every valve or the seventh position: the tubing of the instrument itself.
@pytest.mark.parametrize("setup", SETUPS, ids=["usual", "three valves", "four valves"])
@pytest.mark.parametrize("instrument", EVERY)
def test_a_note_below_the_whole_tubing_has_no_fingering(instrument, setup):
    tubes = tubing(instrument, setup)

    assert fingering.usual(tubes, tubes.lowest - 1) is None
    assert fingering.alternates(tubes, tubes.lowest - 1) == ()


# The published chart for a non-compensating euphonium: its longest second choice is 2-4.
def test_without_compensation_no_second_choice_is_longer_than_the_published_ones():
    def half_steps(text):
        return sum(VALVES[valve] for valve in text)

    printed = [texts.split()[1:] for texts in PUBLISHED["euphonium_bc"].values()]
    whole = chart(by_id("euphonium_bc"), Setup(compensating=False))

    ours = [half_steps(one.text) for note in whole for one in note.alternates]

    assert max(ours) == max(half_steps(text) for texts in printed for text in texts)


# An F attachment in first position is a tube in F: F2, C3, F3 are its partials 2, 3, 4.
def test_the_f_attachment_is_offered_in_first_position():
    trombone = by_id("trombone_tenor")
    with_attachment = chart(trombone, Setup(f_attachment=True))

    thumb = [note.name for note in with_attachment if "T1" in {o.text for o in note.alternates}]

    assert thumb == ["F2", "C3", "F3"]
    assert not any(one.text == "T1" for note in chart(trombone) for one in note.alternates)


@pytest.mark.parametrize("case", INTONATION["partials"]["cases"], ids=lambda c: str(c["partial"]))
def test_a_partial_lies_as_far_from_the_scale_as_its_logarithm(case):
    assert fingering.partial_cents(case["partial"]) == pytest.approx(case["cents"], abs=0.005)


@pytest.mark.parametrize(
    "case", INTONATION["exact_single_valves"]["cases"], ids=lambda case: case["valves"]
)
def test_valves_together_are_as_sharp_as_their_added_lengths(case):
    cents = fingering.combination_cents(case["valves"])

    assert cents == pytest.approx(case["sharp_by_cents"], abs=0.01)


# The tube is the source: with the fourth valve down the air runs through loops that are longer in
# the same proportion, so that the other valves are as sharp together as on the open tube.
@pytest.mark.parametrize("others", ["", "1", "2", "12", "23", "13", "123"])
def test_a_compensating_fourth_valve_leaves_the_others_as_they_are_on_the_open_tube(others):
    steps = [VALVES[valve] for valve in others]
    whole = 2 ** (5 / 12) * (1 + sum(2 ** (one / 12) - 1 for one in steps))
    by_length = 100 * (5 + sum(steps)) - 1200 * math.log2(whole)

    cents = fingering.combination_cents(others + "4", compensating=True)

    assert cents == pytest.approx(by_length, abs=1e-9)


# JMU Brass Pedagogy 2016: a tube of 100 inches, six per cent a half step, needed against provided.
@pytest.mark.parametrize("case", INTONATION["jmu"]["cases"], ids=lambda case: case["valves"])
def test_valves_together_are_about_as_sharp_as_a_published_tube(case):
    published = 1200 * math.log2(case["needed_inches"] / case["provided_inches"])

    assert published == pytest.approx(case["sharp_by_cents"], abs=0.1)
    assert fingering.combination_cents(case["valves"]) == pytest.approx(published, abs=1.0)


# Monk's valves are built long, each alone flat, so that together they are less sharp: the
# published cents are absolute. The order in which combinations get sharper must be the same.
def test_combinations_get_sharper_in_the_order_monk_published():
    cases = INTONATION["monk"]["cases"]
    together = [case for case in cases if len(case["valves"]) > 1]
    for case in cases:
        cents = -1200 * math.log2(case["length_ratio"])
        assert cents == pytest.approx(case["cents_published"], abs=0.6)

    published = sorted(together, key=lambda case: case["sharp_by_cents_vs_ET"])
    own = {case["valves"]: fingering.combination_cents(case["valves"]) for case in together}

    assert [case["valves"] for case in published if case["valves"] in {"12", "13", "123"}] == [
        valves for valves in sorted(own, key=lambda v: own[v]) if valves in {"12", "13", "123"}
    ]


@pytest.mark.parametrize(
    ("id_", "name", "setup", "hint"),
    [
        ("trumpet_bb", "F#3", Setup(), Hint.THIRD_SLIDE),
        ("trumpet_bb", "D4", Setup(), Hint.THIRD_SLIDE),
        ("trumpet_bb", "G4", Setup(), Hint.NONE),
        ("horn_f", "C#3", Setup(), Hint.LIP_OR_HAND),
        ("horn_double_f_bb", "G2", Setup(), Hint.LIP_OR_HAND),
        ("horn_double_f_bb", "C#3", Setup(), Hint.LIP_HAND_OR_SIDE),
        ("euphonium_bc", "F2", Setup(), Hint.FOURTH_VALVE),
        ("euphonium_bc", "F2", Setup(four_valves=False), Hint.THIRD_SLIDE),
        ("euphonium_bc", "E2", Setup(), Hint.FOURTH_VALVE),
        ("euphonium_bc", "C2", Setup(), Hint.COMPENSATING),
        ("euphonium_bc", "C2", Setup(compensating=True), Hint.NONE),
        ("euphonium_bc", "C2", Setup(compensating=False), Hint.LONGER),
        ("trombone_tenor", "E2", Setup(), Hint.NONE),
    ],
)
def test_a_combination_out_of_tune_says_what_a_player_does(id_, name, setup, hint):
    assert chart_note(by_id(id_), notes.parse(name), setup).hint == hint


def test_a_note_is_as_far_out_of_tune_as_its_partial_and_its_valves():
    trumpet, euphonium = by_id("trumpet_bb"), by_id("euphonium_bc")
    low = chart_note(trumpet, notes.parse("F#3"))
    fifth = chart_note(trumpet, notes.parse("E5"))
    longer = chart_note(euphonium, notes.parse("Eb2"), Setup(compensating=False))

    # 53.56: exact single valves; -13.69: partial 5. Derived: 124 of a half step too much.
    assert low.cents == pytest.approx(53.56, abs=0.01)
    assert fifth.cents == pytest.approx(-13.69, abs=0.01)
    tube = sum(2 ** (steps / 12) - 1 for steps in (2, 1, 5))
    assert longer.cents == pytest.approx(700 - 1200 * math.log2(1 + tube), abs=0.01)


# The tube once more: a partial of the open length against the length that is used.
@pytest.mark.parametrize("instrument", EVERY)
def test_a_note_is_as_far_out_of_tune_as_the_length_of_its_tube(instrument):
    for note in chart(instrument, Setup(four_valves=False)):
        valves = "" if instrument.family == "trombone" else note.usual.text.strip("T0")
        steps = [VALVES[valve] for valve in valves]
        if instrument.family == "trombone":
            steps = [int(note.usual.text) - 1]
        length = 1 + sum(2 ** (one / 12) - 1 for one in steps)
        open_note = _fundamental(instrument) + 5 * note.usual.text.startswith("T")
        sounds = 100 * open_note + 1200 * math.log2(note.usual.partial / length)

        assert note.cents == pytest.approx(sounds - 100 * note.written, abs=1e-6)


@given(st.sampled_from(INSTRUMENTS), st.integers(0, 42))
def test_alternates_never_repeat_the_usual_choice_or_each_other(instrument, step):
    whole = chart(instrument)
    note = whole[step % len(whole)]

    choices = [note.usual, *note.alternates]

    assert len(set(choices)) == len(choices)
