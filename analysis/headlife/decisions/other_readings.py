"""How else could the lives behind a verdict be read? What nobody read, and what was left out.

From a case and a group: the same heads with hours that were worked out at the least and the most
they can be, and with the heads put in that are left out because a row of theirs cannot be used.
Whether a verdict hangs on one of them is `overturn`'s to say.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from headlife.life.reduction import mode_evidence
from headlife.records.left_out_heads import End, completed, left_out_heads

if TYPE_CHECKING:
    import pandas as pd

    from headlife.case import Case
    from headlife.life.evidence import Evidence
    from headlife.life.groups import Group

About = Literal["hours worked out", "heads left out", "removals in doubt"]
HOURS: Final[About] = "hours worked out"
LEFT_OUT: Final[About] = "heads left out"
# A head that failed at start-up has run for at least so much, as rows of the log must say too [h].
_LEAST_RUN: Final = 0.1
_NAMES: Final[dict[End, str]] = {
    "early": "failed as soon as they can have",
    "late": "reached the rating",
}


@dataclass(frozen=True)
class OtherReading:
    """The heads of a group, read in another way."""

    about: About
    """What is read in another way."""
    name: str
    """How it is read."""
    heads: int
    """How many heads it is about [heads]."""
    evidence: Evidence
    """What the lives say then."""


def other_readings(case: Case, group: Group) -> tuple[OtherReading, ...]:
    """Read the lives of a group in the other ways that the records allow.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    group : Group
        Which heads.

    Returns
    -------
    tuple of OtherReading
        Empty where every hour was read and no head is left out.
    """
    lives = case.lives[group.rows(case.lives)]
    return (*_hours(case, lives, group), *_left_out(case, lives, group))


def _hours(case: Case, lives: pd.DataFrame, group: Group) -> Iterator[OtherReading]:
    off = (lives["exit_high"] > lives["exit_low"]).to_numpy()
    if not off.any():
        return
    for column, name in (("exit_low", "at the least"), ("exit_high", "at the most")):
        hours = np.maximum(lives[column], lives["entry_hours"] + _LEAST_RUN)
        read = lives.assign(exit_hours=hours, exit_low=hours, exit_high=hours)
        evidence = _evidence(case, read, group)
        if evidence is not None:
            yield OtherReading(HOURS, name, int(off.sum()), evidence)


def _left_out(case: Case, lives: pd.DataFrame, group: Group) -> Iterator[OtherReading]:
    out = left_out_heads(case.records)
    if out.empty:
        return
    # What cannot be read may be of this group too.
    mine = out["head_type"].isna() | (out["head_type"] == group.head_type)
    mine &= out["role"].isna() | (out["role"] == group.role)
    if not mine.any():
        return
    rated, mode = (
        case.shop.rated_hours_of(group.head_type, group.further),
        case.shop.review.primary_mode,
    )
    for end, name in _NAMES.items():
        evidence = _evidence(case, completed(lives, out[mine], rated, mode, end), group)
        if evidence is not None:
            yield OtherReading(LEFT_OUT, name, int(mine.sum()), evidence)


def _evidence(case: Case, lives: pd.DataFrame, group: Group) -> Evidence | None:
    mode = case.shop.review.primary_mode
    return mode_evidence(
        lives, case.shop.rated_hours_of(group.head_type, group.further), [mode]
    ).get(mode)
