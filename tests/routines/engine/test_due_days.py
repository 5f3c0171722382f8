"""Days due over the edges of months, years and leap years, against day numbers of astronomers.

The Julian day number counts days without months or years; the formula is that of H. F. Fliegel and
T. C. Van Flandern, Communications of the ACM 11 (1968), 657, from memory. Divided by seven it
leaves 0 on a Monday.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routines.engine.plan import LENGTH_LIMITS, Month

SHORTEST, LONGEST = LENGTH_LIMITS
LAST_DAYS = {1: 31, 2: 28, 3: 31, 4: 30, 5: 31, 6: 30, 7: 31, 8: 31, 9: 30, 10: 31, 11: 30, 12: 31}


def day_number(day: date) -> int:
    """Count days by the formula, whose divisions cut off towards zero."""
    early = -((14 - day.month) // 12)
    return (
        day.day
        - 32075
        + 1461 * (day.year + 4800 + early) // 4
        + 367 * (day.month - 2 - early * 12) // 12
        - 3 * ((day.year + 4900 + early) // 100) // 4
    )


@pytest.mark.battery
@given(
    first=st.dates(date(2020, 1, 1), date(2035, 12, 31)),
    length=st.integers(SHORTEST, LONGEST),
    off=st.frozensets(st.integers(0, 6), max_size=6),
)
def test_every_day_due_is_counted_once_and_no_other(first, length, off):
    month = Month(first_day=first, length_days=length, weekdays_off=off)

    begins = day_number(first)
    due = [number for number in range(begins, begins + length) if number % 7 not in off]
    assert [day_number(day) for day in month.due_days()] == due
    assert day_number(month.last_day) == begins + length - 1


@pytest.mark.parametrize("year", range(2020, 2036))
@pytest.mark.parametrize("number", range(1, 13))
def test_a_block_of_a_whole_month_ends_with_it(year, number):
    is_leap = number == 2 and year % 4 == 0
    length = LAST_DAYS[number] + is_leap

    month = Month(first_day=date(year, number, 1), length_days=length, weekdays_off=frozenset())

    assert (month.last_day.month, month.last_day.day) == (number, length)
    assert len(month.due_days()) == length
