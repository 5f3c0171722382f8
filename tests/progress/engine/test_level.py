"""The filter against the flow of the Nile at Aswan, the textbook's example of a local level.

J. Durbin and S. J. Koopman, Time Series Analysis by State Space Methods (2012), ch. 2: variances
15099 and 1469.1; log-likelihood and last level as quoted in tests/data/readiness_vectors.json. The
same code, with the bias of own ratings held at 0; once through each of the two doors.
"""

import math

import pytest

from progress.engine.level import (
    Level,
    forecast_lesson,
    forecast_own,
    next_day,
    with_lesson,
    with_own,
)
from tests.progress.engine.vectors import VECTORS

NILE = VECTORS["local_level_nile"]
DOORS = [(forecast_own, with_own), (forecast_lesson, with_lesson)]


def filtered(forecast, update):
    """Run the years through the filter: log-likelihood, and the level after each year."""
    level = Level(NILE["a1"], NILE["P1"], 0.0, 0.0)
    likelihood = 0.0
    levels = []
    for place, flow in enumerate(NILE["data"]):
        level = next_day(level, NILE["Q"]) if place else level
        expected = forecast(level, NILE["H"])
        surprise = flow - expected.mean
        likelihood -= 0.5 * (
            math.log(2 * math.pi * expected.variance) + surprise**2 / expected.variance
        )
        level = update(level, flow, NILE["H"])
        levels.append(level)
    return likelihood, levels


@pytest.mark.parametrize(("forecast", "update"), DOORS)
def test_likelihood_and_last_level_of_the_nile_are_the_published_ones(forecast, update):
    likelihood, levels = filtered(forecast, update)

    assert likelihood == pytest.approx(NILE["loglik_published"], abs=0.00005)
    assert levels[-1].mean == pytest.approx(NILE["alpha_100_published"], abs=0.05)
    assert levels[-1].variance == pytest.approx(NILE["recomputed"]["P_100"], abs=1e-6)


def test_a_bias_of_nought_that_is_known_stays_nought():
    _, levels = filtered(forecast_own, with_own)

    assert {(level.bias, level.bias_variance, level.covariance) for level in levels} == {(0, 0, 0)}


def test_own_ratings_alone_leave_level_and_bias_in_the_shares_of_their_doubts():
    """Worked by hand: doubts 1 and 3, noise 0: a surprise of 4 is split 1 to 3."""
    level = with_own(Level(3.0, 1.0, 0.0, 3.0), 7.0, 0.0)

    assert level == Level(4.0, 0.75, 3.0, 0.75, -0.75)


def test_a_lesson_moves_the_bias_only_through_what_it_shares_with_the_level():
    alone = with_lesson(Level(3.0, 1.0, 0.5, 1.0), 4.0, 1.0)
    shared = with_lesson(Level(3.0, 1.0, 0.5, 1.0, -0.5), 4.0, 1.0)

    assert (alone.mean, alone.bias) == (3.5, 0.5)
    assert (shared.mean, shared.bias) == (3.5, 0.25)


def test_a_day_without_news_widens_the_doubt_and_moves_nothing():
    level = Level(3.25, 0.25, 0.5, 0.75, -0.125)

    assert next_day(level, 0.5) == Level(3.25, 0.75, 0.5, 0.75, -0.125)
