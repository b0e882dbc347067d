"""What every way has to come to: runs, times, starts per hour, cyclic duration and six patterns."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Final

HOUR_US: Final = 3_600_000_000
TEN_MINUTES_US: Final = 600_000_000
UNCERTAINTY_US: Final = 20_000
"""Two steps of the log, by which a difference of two stamps may be wrong."""
JOG_LONGEST_US: Final = 1_000_000
JOG_PAUSE_US: Final = 2_000_000
JOG_BURST: Final = 3
RELEASE_US: Final = 500_000
MISSING_US: Final = 100_000
SHORT_US: Final = 300_000
REVERSAL_US: Final = 300_000
DROPPED_US: Final = UNCERTAINTY_US
"""A command that is on longer than this after the contactor opened was held."""


@dataclass(frozen=True)
class Numbers:
    """Counts, and times in whole microseconds, of one log with one hoist. Patterns: certain and possible together."""

    runs: int
    running_us: int
    release_median_us: float
    release_mean_us: int
    speed_change_median_us: float
    starts_per_hour_max: int
    running_of_ten_minutes_max_us: int
    jogging: int
    drop_out: int
    brake_release_late: int
    speed_change_missing: int
    speed_change_short: int
    reversal_without_pause: int

    def as_dict(self) -> dict[str, Any]:
        """By name."""
        return asdict(self)
