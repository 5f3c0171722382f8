"""How figures are said on a page."""

import pytest

from routines.engine import instruments
from routines.engine.plan import baseline
from routines.sheet import sheet
from routines.templatetags import music

TRUMPET = baseline(instruments.by_id("trumpet_bb"))


def test_an_open_top_gives_a_span():
    # 24 notes take 376 s and 36 notes 568 s at hold 8, rest 8 and 60 counts a minute.
    assert music.session_span(sheet(TRUMPET)) == "6 min to 9 min"


def test_a_fixed_top_gives_one_figure():
    assert music.session_span(sheet(TRUMPET.to(79))) == "7 min"


@pytest.mark.parametrize(
    ("seconds", "said"), [(424, "7 min 4 s"), (3600, "60 min"), (1.5, "2 s"), (0, "0 s")]
)
def test_seconds_are_said_in_minutes(seconds, said):
    assert music.minutes(seconds) == said


def test_every_note_of_the_walk_stands_with_its_fingering():
    down = sheet(TRUMPET).parts[0].notes

    assert down[:3] == (("G", "0"), ("F♯", "2"), ("F", "1"))
