"""Dynamics: what stands at which note on which day, and what is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routines.engine import dynamics
from routines.engine.dynamics import MEZZO_FORTE, DynamicsError, Kind, Level, Shape

TEXTS = [
    *Level,
    *(f"inside:{shape}" for shape in Shape),
    *(
        f"{kind}:{one},{two}"
        for kind in ("by-day", "by-note")
        for one, two in [("f", "p"), ("p", "f")]
    ),
    "by-note:ff,mp",
]


@pytest.mark.parametrize("text", TEXTS)
def test_dynamics_read_back_as_they_were_written(text):
    assert str(dynamics.parse(text)) == text


@pytest.mark.parametrize(
    "text",
    [
        "",
        "fff",
        "loud",
        "mf,p",
        "by-day:",
        "by-day:f",
        "by-day:f,p,mf",
        "by-day:f;p",
        "by-note:f,x",
        "by-week:f,p",
        "inside:",
        "inside:wave",
        "inside:f",
        ":f",
        "one:mf,p",
    ],
)
def test_what_is_no_dynamics_is_refused_with_what_is_allowed(text):
    with pytest.raises(DynamicsError, match=r"choose pp, p, mp, mf, f or ff, by-day:f,p"):
        dynamics.parse(text)


def test_two_levels_in_turn_must_differ():
    with pytest.raises(DynamicsError, match="name two different levels"):
        dynamics.parse("by-day:mf,mf")


def test_levels_alternate_by_day_beginning_with_the_first():
    by_day = dynamics.parse("by-day:f,p")

    assert [by_day.at(day, 5) for day in (1, 2, 3, 28)] == ["f", "p", "f", "p"]


def test_levels_alternate_by_note_beginning_with_the_first():
    by_note = dynamics.parse("by-note:f,p")

    assert [by_note.at(2, index) for index in range(4)] == ["f", "p", "f", "p"]


def test_a_shape_stands_at_every_note():
    swell = dynamics.parse("inside:swell")

    assert {swell.at(day, index) for day in (1, 2) for index in (0, 7)} == {"swell"}


@given(st.integers(1, 62), st.integers(0, 60))
def test_one_level_never_changes(day, index):
    assert MEZZO_FORTE.at(day, index) == "mf"


def test_a_shape_beside_a_level_is_refused():
    with pytest.raises(DynamicsError):
        dynamics.Dynamics(kind=Kind.ONE, levels=(Level.F,), shape=Shape.FADE)
