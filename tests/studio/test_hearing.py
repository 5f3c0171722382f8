"""The published limit on loud sound: the function against the printed table.

The table is that of NIOSH, Criteria for a Recommended Standard: Occupational Noise Exposure,
Publication 98-126 (1998), as reproduced; see tests/data/niosh_98_126.json.
"""

import json
from pathlib import Path

import pytest

from studio import hearing

DATA = json.loads((Path(__file__).parent.parent / "data" / "niosh_98_126.json").read_text())
PRINTED = {row["level_dba"]: row["printed"] for row in DATA["rows"]}
MISPRINTED = 99


def seconds(printed: str) -> int:
    hours, minutes, rest = map(int, printed.split(":"))
    return hours * 3600 + minutes * 60 + rest


@pytest.mark.parametrize("level", sorted(set(PRINTED) - {MISPRINTED}))
def test_every_printed_row_but_one_is_met_to_its_precision(level):
    worked_out = hearing.allowed_minutes(level) * 60

    # Printed to the minute below 95 dB(A), to the second from there.
    precision = 60 if level < 95 else 1
    assert abs(worked_out - seconds(PRINTED[level])) <= precision / 2 + 1e-9


def test_the_row_that_does_not_follow_from_the_formula_is_known():
    worked_out = hearing.allowed_minutes(MISPRINTED) * 60

    assert seconds(PRINTED[MISPRINTED]) == 1139
    assert worked_out == pytest.approx(1133.9, abs=0.05)


def test_the_printed_table_is_here_in_full():
    assert sorted(PRINTED) == list(range(85, 116))


def test_three_more_halve_the_time():
    for level in range(85, 113):
        assert hearing.allowed_minutes(level) == pytest.approx(
            2 * hearing.allowed_minutes(level + 3)
        )


# A worked example that the table prints to the second: 100 dB(A), 15 minutes.
def test_a_hundred_is_a_quarter_of_an_hour():
    assert hearing.allowed(100) == hearing.Allowed(level_dba=100, hours=0, minutes=15, seconds=0)


def test_a_time_is_rounded_down_and_never_up():
    assert hearing.allowed(115).seconds == 28
    assert hearing.allowed_minutes(115) * 60 == pytest.approx(28.125)


@pytest.mark.parametrize("level", [79.9, 115.1, -1])
def test_what_the_table_does_not_speak_of_is_refused_in_words(level):
    with pytest.raises(hearing.LevelError, match=r"choose 80 to 115"):
        hearing.allowed_minutes(level)


def test_the_page_shows_the_table_its_source_and_what_comes_first(client):
    page = client.get("/help/hearing").content.decode()

    assert '<tr><th scope="row">100 dB(A)</th><td class="figure"> 15 min</td></tr>' in page
    assert "99 dB(A)" not in page
    assert "Publication 98-126 (1998)" in page
    assert "The rules of your country, school or employer" in page
    assert "not medical advice" in page
