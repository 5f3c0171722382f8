"""How high the four ratings of a student stand together, and how far the own ones run above.

Conventions: one normal estimate of two values on the scale 1 to 5, the level and the bias of the
own ratings, with their variances and covariance; a teacher's rating has no bias. The updates are
those of a Kalman filter for a local level (J. Durbin and S. J. Koopman, Time Series Analysis by
State Space Methods, 2nd ed. 2012, ch. 2) with the bias as a second, constant state.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Level:
    """The estimate on a day. ``bias`` is what an own rating adds to the level."""

    mean: float
    variance: float
    bias: float
    bias_variance: float
    covariance: float = 0.0


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a rating is expected to be, before it is known."""

    mean: float
    variance: float


def next_day(level: Level, drift_variance: float) -> Level:
    """Let a day pass: doubt grows, the estimate stays. A gap never lowers a level by guesswork."""
    return Level(
        level.mean,
        level.variance + drift_variance,
        level.bias,
        level.bias_variance,
        level.covariance,
    )


def forecast_own(level: Level, noise_variance: float) -> Forecast:
    """Expect a student's own mean rating."""
    variance = level.variance + 2 * level.covariance + level.bias_variance + noise_variance
    return Forecast(level.mean + level.bias, variance)


def forecast_lesson(level: Level, noise_variance: float) -> Forecast:
    """Expect a teacher's mean rating."""
    return Forecast(level.mean, level.variance + noise_variance)


def with_own(level: Level, rating: float, noise_variance: float) -> Level:
    """Take in a student's own mean rating."""
    expected = forecast_own(level, noise_variance)
    return _moved(
        level,
        surprise=rating - expected.mean,
        variance=expected.variance,
        on_level=level.variance + level.covariance,
        on_bias=level.covariance + level.bias_variance,
    )


def with_lesson(level: Level, rating: float, noise_variance: float) -> Level:
    """Take in a teacher's mean rating."""
    expected = forecast_lesson(level, noise_variance)
    return _moved(
        level,
        surprise=rating - expected.mean,
        variance=expected.variance,
        on_level=level.variance,
        on_bias=level.covariance,
    )


def _moved(
    level: Level, *, surprise: float, variance: float, on_level: float, on_bias: float
) -> Level:
    return Level(
        level.mean + surprise * on_level / variance,
        level.variance - on_level * on_level / variance,
        level.bias + surprise * on_bias / variance,
        level.bias_variance - on_bias * on_bias / variance,
        level.covariance - on_level * on_bias / variance,
    )
