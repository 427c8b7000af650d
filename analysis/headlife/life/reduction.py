"""What evidence do the lives hold, by head type, role and failure mode? Lives in, numbers out.

From lives and the settings to `StratumEvidence`, which adds: over the partitions of a record too
large for one machine, and over sites. The same reduction serves a review of one shop, a site's
evidence file and a run on a cluster. Never fits and never judges.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife import __version__
from headlife.life.evidence import Evidence, pool
from headlife.life.site_evidence import SiteEvidence, StratumEvidence
from headlife.numbers import Floats

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import Shop


def mode_evidence(
    lives: pd.DataFrame, rated_hours: float, modes: Sequence[str]
) -> dict[str, Evidence]:
    """Reduce the lives of one stratum to the evidence of every failure mode, others censoring.

    Parameters
    ----------
    lives : pandas.DataFrame
        Lives of one stratum, as `records.lives.lives` gives them.
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


def shop_modes(shop: Shop) -> list[str]:
    """Failure modes that the settings know, the one the rating claim is about first."""
    return list(dict.fromkeys([shop.review.primary_mode, *shop.reasons.modes]))


def stratum_evidence(lives: pd.DataFrame, shop: Shop) -> tuple[StratumEvidence, ...]:
    """Reduce lives to the evidence of every head type and role, for every mode the shop knows.

    Parameters
    ----------
    lives : pandas.DataFrame
        As `records.lives.lives` gives them.
    shop : Shop
        The settings.

    Returns
    -------
    tuple of StratumEvidence
        Head types in the settings' order, then by role; `heads` counts every life, those
        without running hours too.
    """
    modes = shop_modes(shop)
    strata = []
    groups = dict(iter(lives.groupby(["head_type", "role"], sort=True, observed=True)))
    for head_type, settings in shop.head_types.items():
        for key, own in groups.items():
            if key[0] == head_type:
                strata.append(
                    StratumEvidence(
                        head_type=head_type,
                        role=str(key[1]),
                        rated_hours=settings.rated_hours,
                        heads=len(own),
                        modes=mode_evidence(own, settings.rated_hours, modes),
                    )
                )
    return tuple(strata)


def add_strata(
    parts: Iterable[Sequence[StratumEvidence]], shop: Shop
) -> tuple[StratumEvidence, ...]:
    """Add the evidence of partitions of one shop's record.

    Parameters
    ----------
    parts : iterable of sequence of StratumEvidence
        What `stratum_evidence` gave for each partition, with the same settings.
    shop : Shop
        The settings.

    Returns
    -------
    tuple of StratumEvidence
        In the order of `stratum_evidence`.
    """
    by_key: dict[tuple[str, str], list[StratumEvidence]] = {}
    for part in parts:
        for stratum in part:
            by_key.setdefault(stratum.key, []).append(stratum)
    order = {head_type: place for place, head_type in enumerate(shop.head_types)}
    return tuple(
        _added(by_key[key]) for key in sorted(by_key, key=lambda key: (order[key[0]], key[1]))
    )


def _added(parts: list[StratumEvidence]) -> StratumEvidence:
    first = parts[0]
    ran = [part for part in parts if part.modes]
    return StratumEvidence(
        head_type=first.head_type,
        role=first.role,
        rated_hours=first.rated_hours,
        heads=sum(part.heads for part in parts),
        modes={
            mode: pool([part.modes[mode] for part in ran]) for mode in (ran[0].modes if ran else ())
        },
    )


def site_evidence(lives: pd.DataFrame, shop: Shop, site: str, as_of: Any) -> SiteEvidence:
    """Collect what a site could tell others; `SiteEvidence.shareable` withholds what it should.

    Parameters
    ----------
    lives : pandas.DataFrame
        Lives of the site, as `records.lives.lives` gives them.
    shop : Shop
        The site's settings.
    site : str
        Name of the site.
    as_of : date
        Day on which the records are looked at.

    Returns
    -------
    SiteEvidence
    """
    import pandas as pd

    return SiteEvidence(
        site=site,
        as_of=pd.Timestamp(as_of).date(),
        settings_sha256=shop.sha256,
        primary_mode=shop.review.primary_mode,
        version=__version__,
        strata=stratum_evidence(lives, shop),
    )
