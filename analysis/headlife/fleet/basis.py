"""What do the records say on a day: lives fitted by stratum, and the fleet as it stands?

Where every answer of a review, a spares report and a back-test begins. From records and settings;
decides nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.fleet.coming import refuse_printers_on_record
from headlife.fleet.habits import swap_lag
from headlife.fleet.state import Fleet, fleet_state
from headlife.shop.policy_book import PolicyBook, policies_after

if TYPE_CHECKING:
    import pandas as pd

    from headlife.life.posterior import Life
    from headlife.records.record_set import Records
    from headlife.shop import Shop

_SECOND: Final = np.timedelta64(1, "s")


def fit_modes(lives: pd.DataFrame, rated_hours: float, primary_mode: str) -> dict[str, Life]:
    """Fit every failure mode of one stratum, the others censoring.

    Parameters
    ----------
    lives : pandas.DataFrame
        Lives of one stratum.
    rated_hours : float
        Reference age of the evidence [h].
    primary_mode : str
        Fitted even when it has not occurred; other modes need one failure.

    Returns
    -------
    dict of str to Life
        The primary mode first; empty when no life has any running hours.
    """
    from headlife.life.posterior import fit_life
    from headlife.life.reduction import mode_evidence

    others = sorted(set(lives["mode"].dropna()) - {primary_mode})
    reduced = mode_evidence(lives, rated_hours, [primary_mode, *others])
    return {mode: fit_life(evidence) for mode, evidence in reduced.items()}


def modes_by_stratum(lives: pd.DataFrame, shop: Shop) -> dict[tuple[str, str], list[Life]]:
    """Fit every failure mode of every head type and role.

    Parameters
    ----------
    lives : pandas.DataFrame
        One row per head life.
    shop : Shop
        The shop's settings.

    Returns
    -------
    dict of (head type, role) to list of Life
        Empty lists where heads have not run yet.
    """
    fitted = {}
    for key, own in lives.groupby(["head_type", "role"], sort=True):
        head_type, role = str(key[0]), str(key[1])
        rated = shop.head_types[head_type].rated_hours
        modes: Mapping[str, Life] = fit_modes(own, rated, shop.review.primary_mode)
        fitted[head_type, role] = list(modes.values())
    return fitted


def fleet_on(records: Records, shop: Shop, as_of: Any, all_lives: pd.DataFrame) -> Fleet:
    """Return the fleet as it was known on a day.

    Parameters
    ----------
    records : Records
        What `read_records` returned.
    shop : Shop
        The shop's settings.
    as_of : date or None
        The day; None for all of the records.
    all_lives : pandas.DataFrame
        Lives as they were known on that day.

    Returns
    -------
    Fleet

    Raises
    ------
    SettingsError
        A printer that the settings call new has rows in the records.
    """
    from headlife.records.lives import in_service

    on_record = [str(name) for name in records.accepted["printer"].unique()]
    refuse_printers_on_record(shop, on_record, records.source)
    day = review_day(records, as_of)
    policies = policies_after(shop, day)
    policies.refuse_unknown_printers({*on_record, *shop.new_printers})
    stints = records.accepted
    if as_of is not None:
        # What a printer ran later was not known.
        stints = stints[stints["date_out"] <= day]
    reusable = shop.reasons.reusable
    fleet = fleet_state(in_service(records, as_of=as_of), all_lives, stints, shop.usage, reusable)
    return replace(fleet, swap_lag=_swap_lags(stints, reusable, policies))


def _swap_lags(
    stints: pd.DataFrame, reusable: Collection[str], policies: PolicyBook
) -> dict[str, float]:
    """Learn how late heads are swapped [h], by head type, from what the present policy shows."""
    place = list(zip(stints["head_type"], stints["role"], stints["printer"], strict=True))
    due = {one: policies.of(*one).comes_out_at for one in set(place)}
    since = {one: np.datetime64(policies.since(*one)) for one in set(place)}
    began = np.array([since[one] for one in place], dtype="datetime64[s]")
    put_in = stints["date_in"].to_numpy(dtype="datetime64[s]")
    taken_out = stints["date_out"].to_numpy(dtype="datetime64[s]")
    # Hours spread evenly over the days that a head was in place.
    share = np.clip((began - put_in) / np.maximum(taken_out - put_in, _SECOND), 0.0, 1.0)
    run = stints["hours_out"] - stints["hours_in"]
    rows = stints.assign(
        hours_in=stints["hours_in"] + share * run, due=[due[one] for one in place]
    )[taken_out >= began]
    return {
        str(head_type): swap_lag(own, reusable, own["due"])
        for head_type, own in rows.groupby("head_type")
    }


def review_day(records: Records, as_of: Any) -> pd.Timestamp:
    """Return the day a review speaks of: the one asked for, or the last in the records."""
    import pandas as pd

    if as_of is not None:
        return pd.Timestamp(as_of)
    days = pd.concat([records.accepted["date_in"], records.accepted["date_out"]])
    return pd.Timestamp(days.max())
