"""How is one measurement kept and said? A value, its unit, and the goal it was to reach.

From what the other modules measure. Never measures and never stops a run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

HEADER: Final = f"{'what':66s} {'measured':>10s} {'unit':12s} {'goal':>8s}  met"


@dataclass(frozen=True)
class Goal:
    """A limit that a measurement should keep."""

    sense: Literal["<=", ">="]
    """Which side of the limit is good."""
    limit: float
    """The limit, in the unit of the measurement."""

    def met(self, value: float) -> bool:
        """Whether a value keeps the limit."""
        return value <= self.limit if self.sense == "<=" else value >= self.limit

    def __str__(self) -> str:
        return f"{self.sense} {self.limit:g}"


@dataclass(frozen=True)
class Measured:
    """One line of the table."""

    what: str
    """What was measured, and beside what."""
    value: float
    """The measurement."""
    unit: str
    """Its unit; `times` for a ratio."""
    goal: Goal | None = None
    """What was wished; None for a number that is only told."""

    @property
    def met(self) -> bool | None:
        """Whether the goal was met; None without a goal."""
        return None if self.goal is None else self.goal.met(self.value)

    def __str__(self) -> str:
        said = {True: "yes", False: "NO", None: ""}[self.met]
        value = f"{self.value:,.0f}" if abs(self.value) >= 100 else f"{self.value:.3g}"
        goal = str(self.goal or "-")
        return f"{self.what:66s} {value:>10s} {self.unit:12s} {goal:>8s}  {said}".rstrip()


def at_most(limit: float) -> Goal:
    """Wish for a value no larger than this."""
    return Goal("<=", limit)


def at_least(limit: float) -> Goal:
    """Wish for a value no smaller than this."""
    return Goal(">=", limit)
