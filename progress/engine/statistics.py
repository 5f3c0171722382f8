"""The few statistics that the assessment and its pages use.

Conventions: shares and chances are 0 to 1; intervals are 95 % unless another standard normal
quantile is given; empty data or a count outside its total raise ValueError.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist, median

NORMAL_95 = NormalDist().inv_cdf(0.975)
_FRACTION_STEPS = 300
_NEAR_ZERO = 1e-300
_CLOSE = 1e-13
_BISECTIONS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """The lower and the upper end."""

    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """Mann and Kendall's test: the sum of signs, its variance, the standard normal value and the
    one-sided chance of such a sum without any trend."""

    sum_of_signs: int
    variance: float
    normal: float
    one_sided: float


def normal_below(z: float) -> float:
    """Return the chance that a standard normal value lies below z."""
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def wilson(successes: int, total: int, normal: float = NORMAL_95) -> Interval:
    """Return Wilson's interval of a share (E. B. Wilson 1927, J Am Stat Assoc 22:209-212)."""
    _check_share(successes, total)
    square = normal * normal
    share = successes / total
    middle = (share + square / (2 * total)) / (1 + square / total)
    spread = share * (1 - share) / total + square / (4 * total * total)
    half = normal * math.sqrt(spread) / (1 + square / total)
    return Interval(
        low=0.0 if successes == 0 else middle - half,
        high=1.0 if successes == total else middle + half,
    )


def jeffreys(successes: int, total: int, covered: float = 0.95) -> Interval:
    """Return the interval of a share under Jeffreys' prior: the points of Beta(x + .5, n - x + .5).

    At no success the lower end is 0, at all successes the upper is 1, so that the interval covers
    what was seen (L. D. Brown, T. T. Cai, A. DasGupta 2001, Stat Sci 16:101-133).
    """
    _check_share(successes, total)
    first, second = successes + 0.5, total - successes + 0.5
    tail = (1 - covered) / 2
    return Interval(
        low=0.0 if successes == 0 else beta_point(tail, first, second),
        high=1.0 if successes == total else beta_point(1 - tail, first, second),
    )


def beta_below(x: float, first: float, second: float) -> float:
    """Return the chance that a Beta(first, second) value lies below x.

    The regularised incomplete beta function by its continued fraction (DLMF 8.17.22), evaluated
    after W. J. Lentz (1976, Appl Opt 15:668-671).
    """
    if x <= 0.0:
        return 0.0
    if x >= 1.0:
        return 1.0
    if x > (first + 1) / (first + second + 2):
        return 1.0 - beta_below(1.0 - x, second, first)
    scale = math.lgamma(first + second) - math.lgamma(first) - math.lgamma(second)
    front = math.exp(scale + first * math.log(x) + second * math.log1p(-x)) / first
    return front * _beta_fraction(x, first, second)


def beta_point(share: float, first: float, second: float) -> float:
    """Return where a Beta(first, second) value lies below with the given chance, by bisection."""
    low, high = 0.0, 1.0
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2
        if beta_below(middle, first, second) < share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def mann_kendall(values: Sequence[float]) -> Trend:
    """Test values in order of time for a trend, ties allowed.

    The sum of the signs of all later-minus-earlier differences, against its normal approximation
    with continuity correction (R. O. Gilbert 1987, Statistical Methods for Environmental Pollution
    Monitoring, ch. 16). Fewer than two values, or all alike, show none.
    """
    count = len(values)
    signs = sum(
        (later > earlier) - (later < earlier)
        for place, earlier in enumerate(values)
        for later in values[place + 1 :]
    )
    ties = sum(n * (n - 1) * (2 * n + 5) for n in Counter(values).values())
    variance = (count * (count - 1) * (2 * count + 5) - ties) / 18
    corrected = signs - ((signs > 0) - (signs < 0))
    normal = corrected / math.sqrt(variance) if variance > 0 else 0.0
    return Trend(
        sum_of_signs=signs,
        variance=variance,
        normal=normal,
        one_sided=normal_below(-abs(normal)),
    )


def theil_sen(times: Sequence[float], values: Sequence[float]) -> float | None:
    """Return the median of the slopes of all pairs at different times; None without such a pair.

    P. K. Sen 1968, J Am Stat Assoc 63:1379-1389.
    """
    points = list(zip(times, values, strict=True))
    slopes = [
        (value - earlier_value) / (time - earlier_time)
        for place, (time, value) in enumerate(points)
        for earlier_time, earlier_value in points[:place]
        if time != earlier_time
    ]
    return median(slopes) if slopes else None


def _check_share(successes: int, total: int) -> None:
    if total < 1 or not 0 <= successes <= total:
        raise ValueError(f"{successes} of {total}: give a count from 0 to a total of at least 1.")


def _beta_fraction(x: float, first: float, second: float) -> float:
    both = first + second
    upper = 1.0
    lower = 1.0 / _away_from_zero(1.0 - both * x / (first + 1.0))
    value = lower
    for step in range(1, _FRACTION_STEPS):
        twice = first + 2 * step
        even = step * (second - step) * x / ((twice - 1.0) * twice)
        odd = -(first + step) * (both + step) * x / (twice * (twice + 1.0))
        for term in (even, odd):
            lower = 1.0 / _away_from_zero(1.0 + term * lower)
            upper = _away_from_zero(1.0 + term / upper)
            value *= lower * upper
        if abs(lower * upper - 1.0) < _CLOSE:
            break
    return value


def _away_from_zero(value: float) -> float:
    return value if abs(value) > _NEAR_ZERO else _NEAR_ZERO
