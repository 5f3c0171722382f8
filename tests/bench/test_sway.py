"""Between what a median lies, by order statistics.

The ranks of a 95 % interval of the median by the binomial distribution stand in tables of
nonparametric statistics (Conover, Practical Nonparametric Statistics, 3rd ed., section 3.2; ranks
from memory): 1 and 6 of 6, 2 and 9 of 10, 6 and 15 of 20.
"""

import pytest

from tests.bench import measure


@pytest.mark.parametrize(
    ("rounds", "lowest", "highest"), [(6, 1, 6), (10, 2, 9), (20, 6, 15), (21, 6, 16)]
)
def test_the_ranks_are_those_of_the_tables(rounds, lowest, highest):
    one = measure.Series(rates={number: 1.0 + number for number in range(rounds)})
    other = measure.Series(rates=dict.fromkeys(range(rounds), 1.0))

    assert measure.sway(one, other) == (lowest, highest)


def test_pages_are_compared_in_the_rounds_that_both_were_asked_in():
    often = measure.Series(rates={0: 4.0, 1: 9.0, 2: 9.0, 3: 6.0})
    seldom = measure.Series(rates={0: 2.0, 3: 2.0})

    assert measure.ratio(often, seldom) == 2.5
    assert measure.ratio(seldom, often) == pytest.approx((1 / 2 + 1 / 3) / 2)
