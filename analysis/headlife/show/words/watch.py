"""Which heads may not finish the next long build, in words.

From rows of the watch list; names the worst and counts the rest. Gives no advice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.watch import LEAST_CHANCE
from headlife.show.plain import lines
from headlife.show.words.numbers import chance_beside, hours, percent

if TYPE_CHECKING:
    import pandas as pd

_NAMED: Final = 2


def to_finish(probability: float) -> str:
    """Write the chance that a head finishes the next build, apart from the limit below it.

    Parameters
    ----------
    probability : float
        The chance [-].

    Returns
    -------
    str
        The words.
    """
    return chance_beside(probability, LEAST_CHANCE)


def watch_sentence(watch: pd.DataFrame, build_hours: float) -> str:
    """Say which heads of a stratum are likely not to finish the next long build.

    Parameters
    ----------
    watch : DataFrame
        The watch list of one head type and role.
    build_hours : float
        Length of the build [h].

    Returns
    -------
    str
        The sentence.
    """
    build = f"{build_hours:g}-hour build"
    if len(watch) == 0:
        return "No head of this kind is in service."
    known = watch[watch["probability"].notna()]
    if len(known) == 0:
        return "Their chances are unknown: no print hours on record yet."
    few = known[known["probability"] < LEAST_CHANCE]
    if len(few) == 0:
        lowest = _placed(next(lines(known)))
        return f"None below {percent(LEAST_CHANCE)} for a {build}; the lowest is {lowest}."
    named = [_placed(row) for row in lines(few.head(_NAMED))]
    more = len(few) - len(named)
    rest = f" and {more} more" if more else ""
    return f"{', '.join(named)}{rest}: below {percent(LEAST_CHANCE)} to finish a {build}."


def _placed(row: Any) -> str:
    where = f"{row.head} in {row.printer} {row.position} at {hours(row.age_hours)}"
    return f"{where} ({', '.join(filter(None, (to_finish(row.probability), row.lives_as)))})"
