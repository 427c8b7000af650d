"""What evidence do the lives hold, by group of heads and failure mode? Lives in, numbers out.

From lives to `GroupEvidence`, which adds: over the partitions of a record too large for one
machine, and over sites. The same reduction serves the review of one table, of a folder of files
and a site's evidence file. Never fits and never judges.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from headlife.life.evidence import Evidence, pool
from headlife.life.groups import Group, GroupEvidence, groups_in
from headlife.numbers import Floats
from headlife.records.of_the_head import bought_on

if TYPE_CHECKING:
    import pandas as pd


def mode_evidence(
    lives: pd.DataFrame, rated_hours: float, modes: Sequence[str]
) -> dict[str, Evidence]:
    """Reduce the lives of one group to the evidence of every failure mode, others censoring.

    Parameters
    ----------
    lives : pandas.DataFrame
        Lives of one group, as `records.lives.lives` gives them.
    rated_hours : float
        Reference age of the evidence [h].
    modes : sequence of str
        The failure modes.

    Returns
    -------
    dict of str to Evidence
        In the order of `modes`; empty when no life has any running hours.
    """
    # A head put in today has no running hours and says nothing yet.
    ran = lives[lives["exit_hours"] > lives["entry_hours"]]
    if ran.empty:
        return {}
    entry, exit_, last_good = _within_bounds(ran)
    ended_by = ran["mode"].to_numpy(dtype=object)
    return {
        mode: Evidence.from_lives(
            entry,
            exit_,
            np.equal(ended_by, mode).astype(bool),
            reference_hours=rated_hours,
            last_good_hours=last_good,
        )
        for mode in modes
    }


def _within_bounds(ran: pd.DataFrame) -> tuple[Floats, Floats, Floats]:
    """Give entry, exit and last known good hours [h] of lives.

    A failure whose hours were worked out lies between the least and the most that they can be,
    as one between two inspections does. A head that did not fail reached at least about the hours
    worked out; these count as they are.
    """
    names = ("entry_hours", "exit_hours", "last_good_hours", "exit_low", "exit_high")
    entry, exit_, good, low, high = (ran[name].to_numpy(dtype=np.float64) for name in names)
    between = ran["mode"].notna().to_numpy() & (high > low)
    least = np.where(np.isnan(good), low, np.minimum(good, low))
    return (
        entry,
        np.where(between, high, exit_),
        np.where(between, np.maximum(least, entry), good),
    )


def group_evidence(
    lives: pd.DataFrame,
    rated_hours: Mapping[str, float],
    modes: Sequence[str],
    further: Sequence[str] = (),
) -> tuple[GroupEvidence, ...]:
    """Reduce lives to the evidence of every group, for every mode.

    Parameters
    ----------
    lives : pandas.DataFrame
        As `records.lives.lives` gives them.
    rated_hours : mapping of str to float
        The rated life by head type [h]; its order is the order of the answer.
    modes : sequence of str
        The failure modes.
    further : sequence of str
        Columns to divide by beside head type and role.

    Returns
    -------
    tuple of GroupEvidence
        Head types in the order of `rated_hours`, then by role and further columns; `heads`
        counts every life, those without running hours too.
    """
    found = [
        GroupEvidence(
            group=group,
            rated_hours=rated_hours[group.head_type],
            heads=len(own),
            modes=mode_evidence(own, rated_hours[group.head_type], modes),
            print_hours=float((own["exit_hours"] - own["entry_hours"]).sum()),
            oldest_hours=float(own["exit_hours"].max()),
            bought=_bought(own) if further else None,
        )
        for group, own in groups_in(lives, further).items()
    ]
    return in_order(found, rated_hours)


def _bought(lives: pd.DataFrame) -> tuple[pd.Timestamp, pd.Timestamp]:
    days = bought_on(lives)
    return days.max(), days.min()


def in_order(
    evidence: Iterable[GroupEvidence], head_types: Iterable[str]
) -> tuple[GroupEvidence, ...]:
    """Sort evidence: head types as given, then by role and further columns.

    Parameters
    ----------
    evidence : iterable of GroupEvidence
        Evidence of groups.
    head_types : iterable of str
        Head types in the order wanted.

    Returns
    -------
    tuple of GroupEvidence
        The evidence, sorted.
    """
    place = {head_type: number for number, head_type in enumerate(head_types)}
    return tuple(sorted(evidence, key=lambda one: (place[one.group.head_type], one.group)))


def add_evidence(
    parts: Iterable[Sequence[GroupEvidence]], head_types: Iterable[str]
) -> tuple[GroupEvidence, ...]:
    """Add the evidence of partitions of one record.

    Parameters
    ----------
    parts : iterable of sequence of GroupEvidence
        What `group_evidence` gave for each partition, with the same settings.
    head_types : iterable of str
        Head types in the order of the answer.

    Returns
    -------
    tuple of GroupEvidence
        In the order of `group_evidence`.
    """
    by_group: dict[Group, list[GroupEvidence]] = {}
    for part in parts:
        for one in part:
            by_group.setdefault(one.group, []).append(one)
    return in_order([_added(same) for same in by_group.values()], head_types)


def _added(parts: list[GroupEvidence]) -> GroupEvidence:
    first = parts[0]
    ran = [part for part in parts if part.modes]
    days = [part.bought for part in parts if part.bought is not None]
    return GroupEvidence(
        group=first.group,
        rated_hours=first.rated_hours,
        heads=sum(part.heads for part in parts),
        modes={
            mode: pool([part.modes[mode] for part in ran]) for mode in (ran[0].modes if ran else ())
        },
        print_hours=sum(part.print_hours for part in parts),
        oldest_hours=max(part.oldest_hours for part in parts),
        bought=(max(last for last, _ in days), min(day for _, day in days)) if days else None,
    )
