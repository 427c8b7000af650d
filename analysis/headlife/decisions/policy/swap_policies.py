"""Which swap policies do people compare, and at which age does a head really come out?

From a rating, a notice, an age somebody proposes and the length of builds. Never prices, and
never picks one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from headlife.decisions.policy.replacement import build_end

AT_RATING: Final = "at the rating"


@dataclass(frozen=True)
class SwapPolicy:
    """When a working head is swapped."""

    name: str
    """Name people know it by."""
    age_hours: float | None
    """Age at which a head is due [h]; None runs it to failure."""
    build_hours: float | None = None
    """Length of builds [h] when a due head may only be swapped at the end of one."""
    never_past: bool = False
    """True when the head must come out before its age: at the last build end that suits."""

    @property
    def swap_age(self) -> float | None:
        """Age at which a due head really comes out [h]; None for run to failure."""
        if self.build_hours is None:
            return self.age_hours
        return build_end(self.age_hours, self.build_hours, self.never_past)


def standard_policies(
    rated_hours: float,
    notice_hours: float,
    chosen_hours: float | None,
    build_hours: float,
    quality_critical: bool = False,
) -> tuple[SwapPolicy, ...]:
    """List the policies people compare: notice, rating, an age, between builds, failure.

    Parameters
    ----------
    rated_hours, notice_hours : float
        The rating and the machine's notice [h].
    chosen_hours : float or None
        The age somebody proposes [h]; None proposes running to failure, which is listed anyway.
    build_hours : float
        Length of builds [h].
    quality_critical : bool
        Between builds, a head comes out before its age and not after it, and policies past the
        rating are named as not advised.
    """

    def named(name: str, age: float | None) -> str:
        past = age is None or age > rated_hours
        return f"{name} (not advised)" if quality_critical and past else name

    listed = [
        SwapPolicy("at the notice", notice_hours),
        SwapPolicy(AT_RATING, rated_hours),
        SwapPolicy(f"{AT_RATING}, between builds", rated_hours, build_hours, quality_critical),
    ]
    if chosen_hours is not None:
        name = f"at {chosen_hours:,.0f} h"
        listed += [
            SwapPolicy(named(name, chosen_hours), chosen_hours),
            SwapPolicy(
                named(f"{name}, between builds", chosen_hours),
                chosen_hours,
                build_hours,
                quality_critical,
            ),
        ]
    return (*listed, SwapPolicy(named("run to failure", None), None))
