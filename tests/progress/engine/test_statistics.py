"""The statistics against published examples and against scipy.

Sources stand in tests/data/readiness_vectors.json beside each value: the test-suite of the R
package contingencytables for 13 of 16, Newcombe (1998, Stat Med 17:857-872) for the other shares,
J. Little's worked Mann-Kendall example (College of the Holy Cross). scipy is the reference for what
has no printed example.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from progress.engine import statistics
from tests.progress.engine.vectors import VECTORS

FOUR_DECIMALS = 0.00005
BY_HAND = VECTORS["mann_kendall_by_hand"]


def shares():
    return st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@pytest.mark.parametrize(("successes", "total", "low", "high"), VECTORS["wilson"]["cases"])
def test_wilsons_interval_is_the_published_one(successes, total, low, high):
    interval = statistics.wilson(successes, total)

    assert interval.low == pytest.approx(low, abs=FOUR_DECIMALS)
    assert interval.high == pytest.approx(high, abs=FOUR_DECIMALS)


@given(shares())
def test_wilsons_interval_is_that_of_scipy(share):
    successes, total = share
    reference = stats.binomtest(successes, total).proportion_ci(method="wilson")

    interval = statistics.wilson(successes, total)

    assert (interval.low, interval.high) == pytest.approx(tuple(reference), abs=1e-9)


@pytest.mark.parametrize(("successes", "total", "low", "high"), VECTORS["jeffreys"]["cases"])
def test_jeffreys_interval_is_the_published_one(successes, total, low, high):
    interval = statistics.jeffreys(successes, total)

    assert interval.low == pytest.approx(low, abs=FOUR_DECIMALS)
    assert interval.high == pytest.approx(high, abs=FOUR_DECIMALS)


def test_jeffreys_interval_covers_none_and_all():
    assert statistics.jeffreys(0, 20).low == 0
    assert statistics.jeffreys(20, 20).high == 1


@given(st.floats(0, 1), st.floats(0.3, 120), st.floats(0.3, 120))
def test_the_beta_distribution_is_that_of_scipy(x, first, second):
    assert statistics.beta_below(x, first, second) == pytest.approx(
        stats.beta.cdf(x, first, second), abs=1e-10
    )


@given(st.floats(-12, 12))
def test_the_normal_distribution_is_that_of_scipy(z):
    assert statistics.normal_below(z) == pytest.approx(stats.norm.cdf(z), rel=1e-9)


def test_the_trend_worked_by_hand_comes_out():
    trend = statistics.mann_kendall(BY_HAND["data"])

    assert trend.sum_of_signs == BY_HAND["S"]
    assert trend.variance == pytest.approx(BY_HAND["var_S"])
    assert trend.normal == pytest.approx(BY_HAND["Z"], abs=FOUR_DECIMALS)
    assert trend.one_sided == pytest.approx(BY_HAND["p_one_sided"], abs=FOUR_DECIMALS)


@given(st.lists(st.integers(1, 5), min_size=2, max_size=40))
def test_the_signs_of_a_trend_are_those_behind_kendalls_tau(values):
    """tau-b = S / sqrt(all pairs x pairs not tied): scipy gives tau, the signs follow."""
    pairs = math.comb(len(values), 2)
    tied = sum(math.comb(values.count(value), 2) for value in set(values))
    tau = stats.kendalltau(range(len(values)), values).statistic
    expected = 0 if tied == pairs else tau * math.sqrt(pairs * (pairs - tied))

    assert statistics.mann_kendall(values).sum_of_signs == pytest.approx(expected)


@pytest.mark.parametrize("values", [[], [3.0], [4.0, 4.0, 4.0]])
def test_too_few_values_or_all_alike_show_no_trend(values):
    assert statistics.mann_kendall(values).normal == 0


# scipy also works out an interval, which we do not ask for, and its spread can be below nought.
@pytest.mark.filterwarnings("ignore:invalid value encountered in sqrt:RuntimeWarning")
@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 10)), min_size=2, max_size=12))
def test_the_median_slope_is_that_of_scipy(points):
    times, values = zip(*points, strict=True)
    slope = statistics.theil_sen(times, values)

    if len(set(times)) == 1:
        assert slope is None
    else:
        assert slope == pytest.approx(stats.theilslopes(values, times).slope)


def test_the_median_slope_of_the_example_worked_by_hand():
    values = BY_HAND["data"]

    slope = statistics.theil_sen(range(len(values)), values)

    assert slope == pytest.approx(BY_HAND["sen_slope_recomputed"])


@pytest.mark.parametrize(("successes", "total"), [(1, 0), (-1, 5), (6, 5)])
@pytest.mark.parametrize("interval", [statistics.wilson, statistics.jeffreys])
def test_a_count_outside_its_total_is_refused_in_words(interval, successes, total):
    with pytest.raises(ValueError, match=rf"{successes} of {total}: give a count from 0"):
        interval(successes, total)


# Gilbert 1987, chapter 16: one is taken from a sum over 0, added to one below it, and 0 stays.
@pytest.mark.parametrize(
    ("values", "signs", "corrected"),
    [
        ([1, 3, 2], 1, 0),
        ([2, 3, 1], -1, 0),
        ([1, 2, 3], 3, 2),
        ([3, 2, 1], -3, -2),
        ([1, 2, 2, 1], 0, 0),
    ],
)
def test_the_sum_of_signs_is_corrected_towards_nought(values, signs, corrected):
    trend = statistics.mann_kendall(values)

    assert trend.sum_of_signs == signs
    assert trend.normal == pytest.approx(corrected / trend.variance**0.5)
    assert trend.one_sided == pytest.approx(statistics.normal_below(-abs(trend.normal)))


# A value of a beta distribution lies between 0 and 1.
@pytest.mark.parametrize(("x", "chance"), [(-0.5, 0), (0, 0), (1, 1), (1.5, 1)])
def test_nothing_lies_outside_nought_and_one(x, chance):
    assert statistics.beta_below(x, 2.0, 3.0) == chance
