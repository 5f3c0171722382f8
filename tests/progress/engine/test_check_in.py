"""What the answers of a check-in stand for. The buttons and their numbers are decisions of ours."""

import pytest

from progress.engine.check_in import Effort, Rating, Register, register_of
from routines.engine.notes import parse


def test_the_five_answers_cover_nought_to_ten_without_a_gap():
    covered = [count for rating in Rating for count in range(*_both_ends(rating))]

    assert covered == list(range(11))


def _both_ends(rating: Rating) -> tuple[int, int]:
    least, most = rating.of_ten
    return least, most + 1


def test_effort_is_stored_by_twos_up_to_ten():
    assert [effort.value for effort in Effort] == [2, 4, 6, 8, 10]


# From G4 on the trumpet's staff: low is below C sharp 4, high above C sharp 5.
@pytest.mark.parametrize(
    ("note", "register"),
    [
        ("F#3", Register.LOW),
        ("C4", Register.LOW),
        ("C#4", Register.MIDDLE),
        ("G4", Register.MIDDLE),
        ("C#5", Register.MIDDLE),
        ("D5", Register.HIGH),
        ("G5", Register.HIGH),
    ],
)
def test_a_register_begins_more_than_six_half_steps_from_the_start_note(note, register):
    assert register_of(parse(note), parse("G4")) is register
