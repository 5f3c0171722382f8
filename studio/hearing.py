"""How long a loud sound may last in one day, by a published recommendation for adults at work.

Source: NIOSH, Criteria for a Recommended Standard: Occupational Noise Exposure, Revised Criteria
1998, DHHS (NIOSH) Publication 98-126: a recommended limit of 85 dB(A) for 8 hours, halved for every
3 dB more. General information: nothing here measures a sound, and nothing says that one is safe.

Conventions: levels in dB(A) at the ear, times in minutes or seconds in one day.
"""

from dataclasses import dataclass

LIMIT_DBA = 85.0
LIMIT_MINUTES = 480.0
EXCHANGE_DB = 3.0
LEVELS_SHOWN = range(85, 116, 3)


class LevelError(ValueError):
    """A level outside what the table speaks of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowed:
    """One row of the table: a level, and the longest time in one day in whole parts."""

    level_dba: int
    hours: int
    minutes: int
    seconds: int


def allowed_minutes(level_dba: float) -> float:
    """Work out T = 480 / 2^((L - 85) / 3), in minutes; LevelError below 80 or above 115 dB(A)."""
    if not 80 <= level_dba <= 115:
        message = f"Level {level_dba} dB(A): choose 80 to 115."
        raise LevelError(message)
    return float(LIMIT_MINUTES / 2 ** ((level_dba - LIMIT_DBA) / EXCHANGE_DB))


def allowed(level_dba: int) -> Allowed:
    """Say a level's longest time in hours, minutes and seconds, rounded down to a whole second."""
    seconds = int(allowed_minutes(level_dba) * 60)
    return Allowed(
        level_dba=level_dba,
        hours=seconds // 3600,
        minutes=seconds % 3600 // 60,
        seconds=seconds % 60,
    )


def table() -> tuple[Allowed, ...]:
    """List the levels that the help page shows, each half as long as the one before."""
    return tuple(allowed(level) for level in LEVELS_SHOWN)
