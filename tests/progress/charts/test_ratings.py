"""The four, day by day. The band against SciPy's normal distribution."""

import pytest
from scipy.stats import norm

from progress.charts.drawing import answer_words
from progress.charts.ratings import ratings_chart
from progress.engine.check_in import Criterion, Rating
from progress.forms.answers import RATING_WORDS
from progress.queries.charts import PlanChange
from tests.progress.charts.charted import a_charted, a_check_in, a_lesson, day, there

OWN, HEARD = "circle", "diamond-open"


def panel(charted, criterion=Criterion.ATTACK):
    chart = ratings_chart(charted)
    assert chart is not None
    return next(one for one in chart.panels if one.criterion is criterion)


def marks(found, symbol):
    """List the marks of a figure as (day, height)."""
    return [
        pair
        for trace in found["data"]
        if trace.get("marker", {}).get("symbol") == symbol
        for pair in zip(trace["x"], trace["y"], strict=True)
    ]


def test_own_answers_and_the_teachers_stand_apart_by_their_marks():
    charted = a_charted(check_ins=(a_check_in(0, 2), a_check_in(3, 4)), lessons=(a_lesson(3, 3),))

    figure = panel(charted).figure

    assert marks(figure, OWN) == [("2026-03-02", 2), ("2026-03-05", 4)]
    assert marks(figure, HEARD) == [("2026-03-05", 3)]


def test_each_of_the_four_has_its_own_answers():
    charted = a_charted(check_ins=(a_check_in(0, 1, 2, None, 4),))

    chart = there(ratings_chart(charted))

    assert [one.days[0].own for one in chart.panels] == [1, 2, None, 4]


def test_the_estimate_is_a_line_through_every_day_to_the_day_it_is_looked_at():
    charted = a_charted(check_ins=(a_check_in(0, 4, 4, 4, 4),), today=9)

    days = panel(charted).days

    assert [one.day for one in days] == [day(number) for number in range(10)]
    assert [one.level for one in days] == [point.criteria[0].level for point in charted.trace]


def test_the_band_is_scipys_interval_of_95_percent_cut_off_at_the_scale():
    charted = a_charted(lessons=(a_lesson(2, 4, 3, 5, 4), a_lesson(9, 5, 5, 5, 5)))

    for one, point in zip(panel(charted).days, charted.trace, strict=True):
        low, high = norm.interval(0.95, point.criteria[0].level, point.criteria[0].deviation)
        assert one.band.low == pytest.approx(max(1, low))
        assert one.band.high == pytest.approx(min(5, high))


def test_what_was_written_down_too_late_is_shown_as_not_counting():
    charted = a_charted(check_ins=(a_check_in(0, 4, late=3), a_check_in(1, 4, late=2)))

    found = panel(charted)

    assert [one.counts for one in found.days[:2]] == [False, True]
    assert marks(found.figure, "circle-open") == [("2026-03-02", 4)]
    assert marks(found.figure, OWN) == [("2026-03-03", 4)]


def test_a_question_left_open_on_a_late_day_is_no_late_answer():
    charted = a_charted(check_ins=(a_check_in(0, None, 4, late=3),))

    assert panel(charted).days[0].counts
    assert not panel(charted, Criterion.SOUND).days[0].counts


def test_the_solid_line_begins_where_the_evidence_suffices():
    check_ins = tuple(a_check_in(number, 3, 4, 3, 3) for number in range(14))
    charted = a_charted(check_ins=check_ins, lessons=(a_lesson(5, 3, 3, 4, 3),), today=14)

    found = panel(charted)

    dashed, solid = found.figure["data"][2:4]
    assert (dashed["line"]["dash"], solid["line"]["dash"]) == ("dash", "solid")
    # Day 11 of a block is the first with a reading, that is number 10 counted from 0.
    assert [height is not None for height in solid["y"]] == [False] * 10 + [True] * 5
    assert None not in dashed["y"]


def test_without_any_rating_nothing_is_drawn():
    assert ratings_chart(a_charted()) is None
    assert ratings_chart(a_charted(check_ins=(a_check_in(0),))) is None
    assert ratings_chart(a_charted(evidence=None, trace=())) is None


def test_a_change_of_the_plan_is_a_line_with_its_date_before_its_first_day():
    change = PlanChange(day=day(10), hold=12, rest=8, tempo=60, variables=("hold",))
    charted = a_charted(check_ins=(a_check_in(0, 3),), changes=(change,))

    layout = panel(charted).figure["layout"]

    assert [(one["x0"], one["x1"]) for one in layout["shapes"]] == [("2026-03-11 12:00",) * 2]
    assert [one["text"] for one in layout["annotations"]] == ["from 12 Mar"]


@pytest.mark.parametrize("rating", Rating)
def test_the_axis_says_the_answers_as_their_buttons_do(rating):
    assert answer_words(rating) == dict(RATING_WORDS)[rating]
