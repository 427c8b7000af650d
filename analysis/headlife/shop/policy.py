"""When is a head swapped although it still works? The one policy type, and those people compare.

From ages in hours, builds and jobs to the age at which a head really comes out. Which policy a
shop has, by head, printer and day, is the question of `policy_book`. Prices nothing, picks none.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from headlife.errors import DecisionError
from headlife.numbers import not_negative, positive

AT_RATING: Final = "at the rating"
_EVEN: Final = 1e-9  # ten builds of 0.1 h end at 1 h, whatever the tenth's binary fraction


@dataclass(frozen=True)
class Policy:
    """When a working head is swapped; without any argument every head runs to failure.

    Raises
    ------
    DecisionError
        An age, a build or a number of jobs makes no sense, or no build fits before an age that
        must not be passed.
    """

    swap_at: float = math.inf
    """Age at which a working head is due [h]; infinite runs every head to failure."""
    join_from: float = math.inf
    """Age from which it is swapped along when its printer is visited for the other head [h];
    infinite: never."""
    build_hours: float = 0.0
    """Length of builds, or jobs, where swaps wait for the end of one [h]; 0: at any time."""
    never_past: bool = False
    """Whether it comes out at the last build end before its age, not at the first one after."""
    jobs: float = math.inf
    """Jobs of `build_hours` after which it is due at the latest; infinite: not counted."""
    name: str = ""
    """Name people know it by; made from the ages when left out."""

    def __post_init__(self) -> None:
        if self.swap_at != math.inf:
            positive("The age at which heads are swapped", self.swap_at, "[h]")
        if self.join_from != math.inf:
            not_negative("The age from which heads are swapped along", self.join_from, "[h]")
        not_negative("The length of a build", self.build_hours, "[h]")
        if self.jobs != math.inf:
            positive("The number of jobs after which heads are swapped", self.jobs, "[-]")
            if self.jobs != int(self.jobs) or not self.build_hours:
                raise DecisionError(
                    f"A head can be swapped after a whole number of jobs of a known length; got "
                    f"{self.jobs:g} jobs of {self.build_hours:g} h."
                )
        if self.never_past and 0 < self.swap_at < self.build_hours * (1.0 - _EVEN):
            raise DecisionError(
                f"A build of {self.build_hours:g} h does not fit in a head that must not run past "
                f"{self.swap_at:g} h; state a shorter build."
            )
        if not self.name:
            object.__setattr__(self, "name", self._named())

    @property
    def due_at(self) -> float:
        """Age at which a working head is due, by its hours or its jobs [h]; infinite: never."""
        if self.jobs == math.inf:
            return self.swap_at
        return min(self.swap_at, self.jobs * self.build_hours)

    @property
    def comes_out_at(self) -> float:
        """Age at which a due head really comes out [h]; infinite for run to failure.

        With builds it is the end of one, a new head starting with a new build: the first end at or
        past the age, or the last one before it where the age must not be passed.
        """
        if not self.build_hours or self.due_at == math.inf:
            return self.due_at
        builds = self.due_at / self.build_hours
        whole = math.floor(builds + _EVEN) if self.never_past else math.ceil(builds - _EVEN)
        return max(whole, 1) * self.build_hours

    def _named(self) -> str:
        if self.jobs != math.inf:
            return f"after {self.jobs:.0f} jobs of {self.build_hours:g} h"
        if self.swap_at == math.inf:
            return "run to failure"
        return f"at {self.swap_at:,.0f} h{', between builds' if self.build_hours else ''}"


def compared_policies(
    rated_hours: float,
    *,
    notice_hours: float = math.inf,
    proposed: Sequence[float] = (),
    build_hours: float = 0.0,
    never_past: bool = False,
) -> tuple[Policy, ...]:
    """List the policies people compare: at the notice, the rating, other ages, and to failure.

    Parameters
    ----------
    rated_hours : float
        The rating [h].
    notice_hours : float
        The machine's notice [h]; left out of the list when not given.
    proposed : sequence of float
        Ages somebody proposes [h]; the rating and running to failure are there anyway.
    build_hours : float
        Length of builds [h]; with one, every age but the notice is listed between builds too.
    never_past : bool
        Whether no head may be advised past the rating: between builds it comes out before its
        age, and policies past the rating are named as not advised.

    Returns
    -------
    tuple of Policy
        In the order in which they are shown, the shortest run first.
    """
    listed = [Policy(notice_hours, name="at the notice")] if notice_hours < math.inf else []
    ages = [rated_hours, *(age for age in proposed if age not in (rated_hours, math.inf))]
    for age in dict.fromkeys(ages):
        plain = Policy(age, name=AT_RATING if age == rated_hours else "")
        listed.append(plain)
        if build_hours:
            name = f"{plain.name}, between builds"
            listed.append(Policy(age, math.inf, build_hours, never_past, name=name))
    listed.append(Policy())
    if never_past:
        listed = [
            replace(one, name=f"{one.name} (not advised)") if one.swap_at > rated_hours else one
            for one in listed
        ]
    return tuple(listed)
