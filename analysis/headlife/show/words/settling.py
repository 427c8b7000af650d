"""What would settle a rating, in words. From `what_would_settle` and `shortest_way`."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from headlife.show.plain import lines
from headlife.show.words.numbers import chance, counted, hours, whole

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.settle import ShortestWay

_MORE: Final = {1: "one more quarter", 2: "two more", 3: "three more", 4: "four more"}


def settling_sentence(table: pd.DataFrame, way: ShortestWay) -> str:
    """Say how likely a verdict is soon, and what would be enough at best.

    Parameters
    ----------
    table : DataFrame
        From `what_would_settle`; its first policy is the usual one.
    way : ShortestWay
        From `shortest_way`.

    Returns
    -------
    str
        One or two sentences.
    """
    rows = sorted(lines(table), key=lambda row: row.quarters)
    first, last = rows[0], [row for row in rows if row.quarters == rows[-1].quarters]
    usual, best = last[0], max(last, key=lambda row: row.settled)
    text = (
        f'With the policy "{usual.policy}" the chance of a verdict is {chance(first.settled)} '
        f"after {_more(first.quarters)} and {chance(usual.settled)} after {_more(usual.quarters)}"
    )
    if best.settled > usual.settled + 2.0 * best.error:
        text += f'; with "{best.policy}" it would be {chance(best.settled)}'
    return f"{text}. {_at_best(way)}"


def _at_best(way: ShortestWay) -> str:
    if way.head_hours == 0:
        return "The rating holds as it stands."
    if not math.isfinite(way.head_hours):
        return "No running past the rating would make it hold, even without a failure."
    heads = math.ceil(way.heads - 1e-9)
    return (
        f"At best {whole(way.head_hours)} head-hours past the rating without a failure would do "
        f"({counted(heads, 'head', 'heads')} run on to {hours(way.run_to)})."
    )


def _more(quarters: int) -> str:
    return _MORE.get(quarters, f"{quarters} more")
