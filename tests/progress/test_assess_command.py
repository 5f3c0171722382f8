"""The command ``assess``: JSON Lines in and out, bad lines by their number, exit status 2."""

import json
import subprocess
import sys
from datetime import date, timedelta
from io import BytesIO, StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.core.management import CommandError, call_command

ROOT = Path(__file__).parents[2]
# The scenarios name their source in the file.
SCENARIOS = json.loads((ROOT / "tests" / "data" / "readiness_vectors.json").read_text())[
    "scenarios"
]
READY = next(found for found in SCENARIOS if found["input"]["id"] == "h-ready")
KEYS = ["id", "day", "outcome", "probability", "weakest", "bias", "reasons", "variant"]
VARIANT_KEYS = [
    *("variant", "hold", "rest", "final_hold", "final_rest"),
    *("hold_seconds", "recent_hold_seconds", "ratio", "duty"),
]


def as_lines(*students):
    return "".join(json.dumps(student) + "\n" for student in students)


@pytest.fixture
def assess(monkeypatch):
    """Run the command on a standard input: exit status, objects printed, lines of trouble."""

    def run(given, *arguments):
        read = given if isinstance(given, bytes) else given.encode()
        monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=BytesIO(read)))
        out, trouble = StringIO(), StringIO()
        status: Any = 0
        try:
            call_command("assess", *arguments, stdout=out, stderr=trouble)
        except SystemExit as stopped:
            status = stopped.code
        return (
            status,
            [json.loads(line) for line in out.getvalue().splitlines()],
            trouble.getvalue().splitlines(),
        )

    return run


def in_a_shell(*arguments, given=b""):
    return subprocess.run(
        [sys.executable, "manage.py", "assess", *arguments],
        cwd=ROOT,
        capture_output=True,
        input=given,
        check=False,
    )


def test_each_scenario_comes_out_as_it_was_worked(assess):
    for scenario in SCENARIOS:
        status, printed, trouble = assess(as_lines(scenario["input"]), "--day", scenario["today"])

        (line,) = printed
        assert (status, trouble) == (0, [])
        assert list(line) == KEYS
        assert line["id"] == scenario["input"]["id"]
        assert line["day"] == scenario["today"]
        assert line["probability"] == pytest.approx(scenario["probability"], abs=1e-6)
        assert line["bias"] == pytest.approx(scenario["bias"], abs=1e-6)
        for name in ("outcome", "weakest"):
            assert line[name] == scenario[name]
        assert line["reasons"] == [
            [code, pytest.approx(figure, abs=1e-6)] for code, figure in scenario["reasons"]
        ]
        assert (line["variant"] is None) == (scenario["variant"] is None)
        for name, figure in (scenario["variant"] or {}).items():
            assert list(line["variant"]) == VARIANT_KEYS
            assert line["variant"][name] == (
                figure if isinstance(figure, str) else pytest.approx(figure, abs=1e-6)
            )


def test_without_a_day_there_is_a_line_for_each_day_of_each_block(assess):
    students = [scenario["input"] for scenario in SCENARIOS[:3]]

    _, printed, _ = assess(as_lines(*students))

    assert [(line["id"], line["day"]) for line in printed] == [
        (student["id"], (date.fromisoformat(student["block"]["start"]) + timedelta(n)).isoformat())
        for student in students
        for n in range(student["block"]["days"])
    ]


def test_a_bad_line_is_named_by_its_number_and_the_others_still_run(assess):
    good = as_lines(READY["input"])
    text = good + "\n" + '{"id": "x"}\n' + "horn\n" + good

    status, printed, trouble = assess(text, "--day", READY["today"])

    assert status == 2
    assert [line["id"] for line in printed] == ["h-ready", "h-ready"]
    assert trouble == [
        "Line 3: block is missing.",
        "Line 4: not JSON: Expecting value at column 1.",
    ]


@pytest.mark.parametrize(
    ("given", "lines"),
    [(b"", 0), (b"\n \n", 0), (b"\xff\xfe\x00", 1), (b"[" * 100_000, 1), (bytes(range(256)), 2)],
    ids=["empty", "blank", "binary", "deep", "every byte"],
)
def test_whatever_comes_in_there_is_no_traceback(given, lines):
    run = in_a_shell(given=given)

    trouble = run.stderr.decode().splitlines()
    assert (run.returncode, run.stdout) == (2 if lines else 0, b"")
    assert len(trouble) == lines
    assert all(line.startswith("Line ") for line in trouble)


def test_a_file_is_read_as_standard_input_is(assess, tmp_path):
    file = tmp_path / "students.jsonl"
    file.write_bytes(b"\xef\xbb\xbf" + as_lines(READY["input"]).encode())

    from_file = assess(b"", str(file))

    assert from_file == assess(as_lines(READY["input"]), "-") == assess(as_lines(READY["input"]))
    assert from_file[0] == 0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--day", "2026-3-9"], '--day "2026-3-9": write a day as 2026-03-31.'),
        (["--day", "soon"], '--day "soon": write a day as 2026-03-31.'),
        (["--day", "9999-12-31"], "--day 9999-12-31: choose a year from 1900 to 2200."),
        (["no-such-file"], "'no-such-file': No such file or directory. Name a file"),
        (["tests"], "'tests': Is a directory. Name a file of JSON Lines, or - for standard input."),
        (["a", "b"], "Unrecognized arguments: b. See: "),
    ],
)
def test_what_is_asked_wrongly_is_refused_in_one_line(arguments, message):
    with pytest.raises(CommandError) as refused:
        call_command("assess", *arguments)

    assert str(refused.value).startswith(message)
    assert refused.value.returncode == 2


def test_a_shell_gets_the_refusal_alone_and_exit_status_2():
    run = in_a_shell("--day", "soon")

    assert (run.returncode, run.stdout) == (2, b"")
    assert run.stderr == b'--day "soon": write a day as 2026-03-31.\n'


def test_a_reader_who_has_seen_enough_leaves_no_traceback():
    given = as_lines(*[READY["input"]] * 60).encode()
    command = f"{sys.executable} manage.py assess | head -n 1"

    run = subprocess.run(
        ["/bin/sh", "-c", command], cwd=ROOT, capture_output=True, input=given, check=False
    )

    assert run.stdout.count(b"\n") == 1
    assert run.stderr == b""
