"""When is a head due, in hours of many paths at once? Policies as the engine uses them.

From the policies of the kinds of head that one position may hold to arrays by kind: hours until a
head of some age is due and its build ends, and the age from which it goes along at a visit.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.futures.draws import Hours, Index
from headlife.shop.policy import Policy

_EVEN: Final = 1e-5  # of a build: slack for an age that is its end but for single precision


class Rules:
    """The policies of the kinds of head in one position, as arrays by kind.

    Attributes
    ----------
    at_most
        Age beyond which no head of each kind runs but for being swapped late [h].
    swap, join, builds
        Whether any is swapped by plan, swapped along, or waits for builds.
    """

    def __init__(self, policies: Sequence[Policy], precision: Any) -> None:
        due_at = np.array([one.due_at for one in policies], dtype=precision)
        build = np.array([one.build_hours for one in policies], dtype=precision)
        early = np.array([one.never_past for one in policies])
        join = np.array([one.join_from for one in policies], dtype=precision)
        last = np.where(early, due_at - build * (1 - _EVEN), due_at)
        along = np.minimum(join, np.where(build > 0, last, np.inf))
        along *= 1.0 - np.finfo(precision).eps * 8.0
        self.at_most = due_at + build
        self.swap = bool(np.isfinite(due_at).any())
        self.join = bool(np.isfinite(join).any())
        self.builds = bool(build.any())
        # What all kinds share needs no look at which one is in place.
        self._due_at, self._along = _shared(due_at), _shared(along)
        self._build, self._early = _shared(build), _shared(early)

    def wait(self, kind: Index | None, ages: Any) -> Hours:
        """Print hours until heads of these ages are due, and a build ends, from a visit on [h].

        Parameters
        ----------
        kind : Index or None
            Number of the kind, one per path; None: the first everywhere.
        ages : array of float
            Ages [h].

        Returns
        -------
        Hours
            Print hours [h].
        """
        due_at = _of(self._due_at, kind)
        wait = np.maximum(due_at - ages, due_at.dtype.type(0))
        if not self.builds:
            return np.asarray(wait)
        build, early = _of(self._build, kind), _of(self._early, kind)
        builds = wait / build
        if np.ndim(build) or np.ndim(early):
            whole = np.where(early, np.floor(builds + _EVEN), np.ceil(builds - _EVEN))
            return np.asarray(np.where(build > 0, whole * build, wait))
        whole = np.floor(builds + _EVEN) if early else np.ceil(builds - _EVEN)
        return np.asarray(whole * build)

    def along(self, kind: Index | None) -> Hours:
        """Age from which heads go along at a visit [h].

        Parameters
        ----------
        kind : Index or None
            Number of the kind, one per path; None: the first everywhere.

        Returns
        -------
        Hours
            Ages [h].
        """
        return np.asarray(_of(self._along, kind))


def _shared(values: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return values[:1] if (values == values[0]).all() else values


def _of(values: npt.NDArray[Any], kind: Index | None) -> Any:
    """Give what holds for the kind in place; one value where all kinds share it."""
    return values[0] if kind is None or values.size == 1 else values[kind]


@lru_cache(maxsize=256)
def rules_of(policies: tuple[Policy, ...], precision: str) -> Rules:
    """Give the rules of some policies in a precision of numpy.

    Parameters
    ----------
    policies : tuple of Policy
        One per kind.
    precision : str
        Name of the precision, such as float32.

    Returns
    -------
    Rules
        The rules.
    """
    return Rules(policies, precision)
