"""Points of the standard normal distribution, used where published limits are normal ones."""

from __future__ import annotations

from typing import Final

POINTS_90: Final = 1.6448536269514722  # two-sided
POINTS_95: Final = 1.959963984540054
