"""Counts and shares as the findings of this room write them."""

from __future__ import annotations

from collections.abc import Sequence


def count(number: int, thing: str) -> str:
    """Count things in words: "No failure", "1 failure", "3 failures".

    Parameters
    ----------
    number : int
        How many.
    thing : str
        Name of one of them.

    Returns
    -------
    str
        The words.
    """
    if number == 0:
        return f"No {thing}"
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def percent(share: float) -> str:
    """Write a share as people read it: whole percent, one digit below 10 %, never a false 0.

    Parameters
    ----------
    share : float
        Share [-].

    Returns
    -------
    str
        For example "12 %".
    """
    if 0 < share < 0.001:
        return "under 0.1 %"
    digits = 1 if 0 < share < 0.0995 or 0.995 < share < 1 else 0
    return f"{100 * share:.{digits}f} %"


def listed(names: Sequence[str]) -> str:
    """Join names: "a", "a and b", "a, b and c".

    Parameters
    ----------
    names : sequence of str
        What to join.

    Returns
    -------
    str
        The words.
    """
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last
