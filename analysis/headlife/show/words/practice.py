"""Does the shop do what its settings say? In words, where it clearly does not.

From what `fleet.practised` found; asks which is true and says what forecasts follow.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from headlife.show.words.days import day
from headlife.show.words.numbers import counted, hours, sentences

if TYPE_CHECKING:
    from headlife.fleet.practised import Practised


def _followed(found: Practised) -> str:
    if found.confirmed:
        return "Forecasts follow the settings, as [policy] says with confirmed = true."
    return (
        "Forecasts follow the records, until [policy] says what is done, or says with "
        "confirmed = true that it is right as it stands."
    )


def practice_sentence(found: Practised) -> str:
    """Say where a shop does not do what its settings say, and ask which is true.

    Parameters
    ----------
    found : Practised
        What is stated and what is done, for one head type.

    Returns
    -------
    str
        The sentences; empty where what is done is what is stated, or too little is known.
    """
    return sentences(_policy(found), _visits(found))


def _policy(found: Practised) -> str:
    if not found.other_policy:
        return ""
    practice = found.practice
    since = "" if found.since is None else f" since {day(found.since)}"
    stated = f"{found.head_type}: the settings say {_swapped(practice.stated)}"
    if math.isinf(practice.swap_at):
        seen = (
            f"{practice.ran_past} of {counted(practice.reached, 'head', 'heads')} that reached it "
            "ran on more than a tenth past it"
        )
    else:
        seen = f"{counted(practice.swaps, 'head was', 'heads were')} swapped at that age"
    return (
        f"{stated}; by the records it is {_swapped(practice.policy)}{since} ({seen})."
        f"{'' if found.confirmed else ' Which is true?'} {_followed(found)}"
    )


def _swapped(policy: str) -> str:
    return policy if policy.startswith("run") else f"swap {policy}"


def _visits(found: Practised) -> str:
    if not found.other_visits:
        return ""
    visits = found.visits
    return (
        f"{found.head_type}: at {visits.joined} of {counted(visits.visits, 'visit', 'visits')} the "
        f"printer's other head was swapped too, from about {hours(visits.join_from)} on, which the "
        f"settings do not say ([policy] join_from). {_followed(found)}"
    )
