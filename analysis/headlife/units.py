"""The calendar constants, each named once: weeks, quarters, hours."""

from __future__ import annotations

from typing import Final

HOURS_PER_DAY: Final = 24.0
DAYS_PER_WEEK: Final = 7.0
HOURS_PER_WEEK: Final = HOURS_PER_DAY * DAYS_PER_WEEK
WEEKS_PER_QUARTER: Final = 13.0
QUARTERS_PER_YEAR: Final = 4
WEEKS_PER_YEAR: Final = WEEKS_PER_QUARTER * QUARTERS_PER_YEAR
