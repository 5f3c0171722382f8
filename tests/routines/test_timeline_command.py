"""The command ``timeline``: one JSON object on one line, or one clear line and exit status 2."""

import json
import subprocess
import sys
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

ROOT = Path(__file__).parents[2]
INSTRUMENTS = json.loads((ROOT / "tests" / "data" / "fingering_charts.json").read_text())[
    "instruments"
]
# Common practice, no published source: the counts of the five variants.
VARIANTS = {
    "baseline": (8, 8, "mf"),
    "endurance": (12, 8, "mf"),
    "recovery": (8, 4, "mf"),
    "compact": (4, 4, "mf"),
    "contrast": (8, 8, "by-note:f,p"),
}
TRUMPET = {"instrument": "trumpet_bb", "hold": "8", "rest": "8", "tempo": "60"}
STEP_KEYS = [
    *("index", "written", "name", "sounding", "hz"),
    *("start", "hold", "rest", "fingering", "dynamic"),
]


def _arguments(options):
    return [text for name, value in options.items() for text in (f"--{name}", str(value))]


def _timeline(**options):
    out = StringIO()
    call_command("timeline", *_arguments(TRUMPET | options), stdout=out)
    (line,) = out.getvalue().splitlines()
    return json.loads(line)


def _in_a_shell(*arguments):
    return subprocess.run(
        [sys.executable, "manage.py", "timeline", *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


def _expected(id_, *, hold, rest, tempo, back, dynamic):
    """Work the open session out once more, from the table of notes and by adding up seconds."""
    chart = {row["midi"]: row for row in INSTRUMENTS[id_]["chart"]}
    midi = {row["written"]: row["midi"] for row in INSTRUMENTS[id_]["chart"]}
    start, low = midi[INSTRUMENTS[id_]["start"]], midi[INSTRUMENTS[id_]["low"]]
    order = [start - step for step in range(start - low + 1)]
    order += [*range(low + 1, start)] if back == "step" else []
    order += [*range(start, max(chart) + 1)]
    levels = dynamic.split(":")[-1].split(",")
    steps = []
    clock = 0.0
    for index, note in enumerate(order):
        row = chart[note]
        usual = row.get("with_four_valves", row["usual"]).split("/")[0]
        steps.append(
            {
                "index": index,
                "written": note,
                "name": row["written"],
                "sounding": note + INSTRUMENTS[id_]["transposition"],
                "hz": row["hz"],
                "start": clock,
                "hold": hold * 60 / tempo,
                "rest": rest * 60 / tempo,
                "fingering": usual,
                "dynamic": levels[index % len(levels)],
            }
        )
        clock += hold * 60 / tempo + rest * 60 / tempo
    return steps, clock - rest * 60 / tempo


@pytest.mark.parametrize("back", ["restart", "step"])
@pytest.mark.parametrize("tempo", [48, 60, 84])
@pytest.mark.parametrize("variant", VARIANTS)
@pytest.mark.parametrize("id_", INSTRUMENTS)
def test_every_session_is_what_an_independent_calculation_gives(id_, variant, tempo, back):
    hold, rest, dynamic = VARIANTS[variant]
    asked = {"hold": hold, "rest": rest, "tempo": tempo, "back": back}
    steps, session_seconds = _expected(id_, **asked, dynamic=dynamic)

    printed = _timeline(instrument=id_, **asked, dynamics=dynamic)

    assert len(printed["steps"]) == printed["notes"] == len(steps)
    assert printed["session_seconds"] == pytest.approx(session_seconds, abs=1e-6)
    assert printed["hold_seconds"] == pytest.approx(len(steps) * hold * 60 / tempo, abs=1e-6)
    assert printed["share"] == pytest.approx(printed["hold_seconds"] / session_seconds, abs=1e-6)
    assert printed["duty"] == pytest.approx(hold / (hold + rest), abs=1e-6)
    for one, expected in zip(printed["steps"], steps, strict=True):
        assert {**one, "hz": None, "start": None, "hold": None, "rest": None} == {
            **expected,
            "hz": None,
            "start": None,
            "hold": None,
            "rest": None,
        }
        assert one["hz"] == pytest.approx(expected["hz"], abs=0.0005)
        for name in ("start", "hold", "rest"):
            assert one[name] == pytest.approx(expected[name], abs=1e-6)


@pytest.mark.parametrize("id_", INSTRUMENTS)
def test_the_nearer_end_of_an_open_session_is_the_intermediate_top(id_):
    top = INSTRUMENTS[id_]["intermediate"][1]

    opened, fixed = _timeline(instrument=id_), _timeline(instrument=id_, top=top)

    totals = ("notes", "hold_seconds", "session_seconds", "share", "duty")
    assert opened["shortest"] == {name: fixed[name] for name in totals}
    assert fixed["shortest"] is None


def test_the_object_has_exactly_the_promised_keys():
    printed = _timeline()

    assert list(printed) == [
        *("notes", "hold_seconds", "session_seconds", "share", "duty"),
        *("shortest", "steps"),
    ]
    assert {tuple(step) for step in printed["steps"]} == {tuple(STEP_KEYS)}


def test_a_walk_of_ones_own_and_levels_by_day_are_taken():
    printed = _timeline(start="C5", low="A4", top="D5", back="step", dynamics="by-day:f,p", day=2)

    assert [step["name"] for step in printed["steps"]] == [
        *("C5", "B4", "Bb4", "A4", "Bb4", "B4", "C5", "C#5", "D5")
    ]
    assert {step["dynamic"] for step in printed["steps"]} == {"p"}


def test_a_shell_gets_one_line_of_json_and_nothing_else():
    run = _in_a_shell(*_arguments(TRUMPET), "--top", "G5")

    assert (run.returncode, run.stderr, run.stdout.count("\n")) == (0, "", 1)
    assert json.loads(run.stdout)["session_seconds"] == 424


BAD: dict[str, tuple[dict[str, Any], str]] = {
    "unknown instrument": ({"instrument": "kazoo"}, "Instrument 'kazoo': choose one of trumpet_bb"),
    "no instrument": ({"instrument": ""}, "Instrument '': choose one of"),
    "instrument of two lines": ({"instrument": "a\nb"}, r"Instrument 'a\nb': choose one of"),
    "hold too long": ({"hold": 99}, "Hold 99 counts: choose 2 to 32."),
    "hold too short": ({"hold": 1}, "Hold 1 counts: choose 2 to 32."),
    "hold below nothing": ({"hold": -8}, "Hold -8 counts: choose 2 to 32."),
    "hold no number": ({"hold": "long"}, "Hold 'long': choose a whole number, 2 to 32."),
    "hold a fraction": ({"hold": "8.5"}, "Hold '8.5': choose a whole number, 2 to 32."),
    "hold empty": ({"hold": ""}, "Hold '': choose a whole number, 2 to 32."),
    "hold in other digits": ({"hold": "٨"}, "Hold '٨': choose a whole number"),
    "hold with underscore": ({"hold": "1_0"}, "Hold '1_0': choose a whole number"),
    "hold endless": ({"hold": "9" * 5000}, "choose a whole number, 2 to 32."),
    "rest too long": ({"rest": 33}, "Rest 33 counts: choose 0 to 32."),
    "rest below nothing": ({"rest": -1}, "Rest -1 counts: choose 0 to 32."),
    "rest no number": ({"rest": "none"}, "Rest 'none': choose a whole number, 0 to 32."),
    "tempo too slow": ({"tempo": 19}, "Tempo 19: choose 20 to 240."),
    "tempo too fast": ({"tempo": 241}, "Tempo 241: choose 20 to 240."),
    "tempo zero": ({"tempo": 0}, "Tempo 0: choose 20 to 240."),
    "tempo not a number": ({"tempo": "nan"}, "Tempo 'nan': choose a whole number, 20 to 240."),
    "tempo infinite": ({"tempo": "inf"}, "Tempo 'inf': choose a whole number"),
    "tempo in words": ({"tempo": "largo"}, "Tempo 'largo': choose a whole number"),
    "start no note": ({"start": "H4"}, "--start: Note 'H4': write a letter A to G"),
    "start empty": ({"start": ""}, "--start: Note '': write a letter A to G"),
    "start off the chart": ({"start": "C3"}, "Start note C3: B-flat trumpet goes from F#3 to E6."),
    "start beyond the numbers": ({"start": "C12"}, "--start: Note C12: choose a note from C-1"),
    "low without octave": ({"low": "F#"}, "--low: Note 'F#': write a letter A to G"),
    "low off the chart": ({"low": "F3"}, "Low note F3: B-flat trumpet goes from F#3 to E6."),
    "low above start": ({"low": "A4"}, "Low note A4: choose the start note G4 or a lower one."),
    "start under the usual low": (
        {"start": "G3", "low": "A3"},
        "Low note A3: choose the start note G3 or a lower one.",
    ),
    "top no note": ({"top": "high"}, "--top: Note 'high': write a letter A to G"),
    "top under start": ({"top": "F4"}, "Top note F4: choose the start note G4 or a higher one."),
    "top off the chart": ({"top": "C8"}, "Top note C8: B-flat trumpet goes from F#3 to E6."),
    "way back unknown": ({"back": "jump"}, "Way back 'jump': choose restart or step."),
    "dynamics unknown": ({"dynamics": "loud"}, "Dynamics 'loud': choose pp, p, mp, mf, f or ff"),
    "one level by day": ({"dynamics": "by-day:f"}, "Dynamics 'by-day:f': choose pp"),
    "the same level twice": ({"dynamics": "by-note:f,f"}, "name two different levels."),
    "shape unknown": ({"dynamics": "inside:wave"}, "Dynamics 'inside:wave': choose pp"),
    "day zero": ({"day": 0}, "Day 0: choose 1 to 62."),
    "day too late": ({"day": 63}, "Day 63: choose 1 to 62."),
    "day no number": ({"day": "Monday"}, "Day 'Monday': choose a whole number, 1 to 62."),
}


@pytest.mark.parametrize("what", BAD)
def test_bad_input_is_refused_in_one_clear_line(what):
    options, message = BAD[what]

    with pytest.raises(CommandError) as error:
        _timeline(**options)

    assert message in str(error.value)
    assert len(str(error.value).splitlines()) == 1
    assert error.value.returncode == 2


@pytest.mark.parametrize("option", TRUMPET)
def test_an_option_that_is_missing_is_named(option):
    rest = {name: value for name, value in TRUMPET.items() if name != option}

    with pytest.raises(CommandError, match=f"required: --{option}. See: manage.py") as error:
        call_command("timeline", *_arguments(rest))

    assert error.value.returncode == 2


def test_there_are_at_least_thirty_kinds_of_bad_input():
    assert len(BAD) >= 30


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([*_arguments(TRUMPET | {"hold": 99})], "Hold 99 counts: choose 2 to 32."),
        ([*_arguments(TRUMPET), "--top", "H4"], "--top: Note 'H4': write a letter A to G"),
        ([*_arguments(TRUMPET), "--volume", "11"], "Unrecognized arguments: --volume 11."),
        ([*_arguments(TRUMPET), "--dyn", "p"], "Unrecognized arguments: --dyn p."),
        ([*_arguments(TRUMPET), "--top"], "Argument --top: expected one argument."),
        ([*_arguments(TRUMPET), "G4\nA4"], "Unrecognized arguments: G4 A4."),
        ([], "The following arguments are required: --instrument, --hold, --rest, --tempo."),
        ([*_arguments(TRUMPET | {"instrument": "tuba\n\n"})], r"Instrument 'tuba\n\n': choose"),
        ([*_arguments(TRUMPET), "--verbosity", "9"], "Argument -v/--verbosity: invalid choice"),
    ],
)
def test_a_shell_gets_one_line_on_standard_error_and_status_2(arguments, message):
    run = _in_a_shell(*arguments)

    assert (run.returncode, run.stdout) == (2, "")
    assert message in run.stderr
    assert len(run.stderr.splitlines()) == 1
