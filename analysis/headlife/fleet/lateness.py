"""How late after a head is due does the shop really swap it?

From installations and the policies of the settings, as sums that add over the parts of a record:
print hours that heads ran past the age at which the policy in force has them swapped, and swaps
after it. Never forecasts.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.records.usage import SUM_UNITS
from headlife.shop.policy_book import ROLES, PolicyBook, policies_on

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import Shop

_SECOND: Final = np.timedelta64(1, "s")


def late_rows(stints: pd.DataFrame, reusable: Collection[str], shop: Shop) -> pd.DataFrame:
    """Keep the installations that tell how late heads are swapped.

    Parameters
    ----------
    stints : pandas.DataFrame
        Installations with `head_type, role, printer, date_in, date_out, hours_in, hours_out` [h]
        and `suspension`.
    reusable : collection of str
        Kinds of suspension that are no planned swap.
    shop : Shop
        Its policies; heads that none of them, past or present, would have swapped are left out.

    Returns
    -------
    pandas.DataFrame
        `head_type, role, printer, date_in, date_out, hours_in, hours_out` and `planned`; the
        printer is named only where the policy has a rule for it.
    """
    due = _earliest_due(shop)
    rows = stints[stints["hours_out"] >= stints["head_type"].map(due).astype(float)]
    named = _printers_with_rules(shop)
    printer = rows["printer"].astype(object)
    return rows[["head_type", "role", "date_in", "date_out", "hours_in", "hours_out"]].assign(
        printer=printer.where(printer.isin(named), "").astype("category"),
        planned=rows["suspension"].notna() & ~rows["suspension"].isin(reusable),
    )


def late_sums(rows: pd.DataFrame, policies: PolicyBook) -> pd.DataFrame:
    """Add up hours run past due and swaps after it, under the policy in force.

    Parameters
    ----------
    rows : pandas.DataFrame
        From `late_rows`.
    policies : PolicyBook
        When heads are due and since when, by head type, role and printer.

    Returns
    -------
    pandas.DataFrame of int
        By head type: hours `run` past due, in units of 1 / `SUM_UNITS` h, and planned swaps
        `late` after it; these add.
    """
    place = rows.groupby(["head_type", "role", "printer"], observed=True)
    codes = place.ngroup().to_numpy()
    keys = [(str(key[0]), str(key[1]), str(key[2])) for key, _ in place]
    due = np.array([policies.of(*key).comes_out_at for key in keys])[codes]
    since = np.array([policies.since(*key) for key in keys], dtype="datetime64[s]")[codes]
    put_in = rows["date_in"].to_numpy(dtype="datetime64[s]")
    taken_out = rows["date_out"].to_numpy(dtype="datetime64[s]")
    # Hours spread evenly over the days that a head was in place.
    share = np.clip((since - put_in) / np.maximum(taken_out - put_in, _SECOND), 0.0, 1.0)
    hours_in, hours_out = rows["hours_in"].to_numpy(), rows["hours_out"].to_numpy()
    began = hours_in + share * (hours_out - hours_in)
    past = np.clip(hours_out - np.maximum(began, due), 0.0, None)
    late = rows["planned"].to_numpy() & (hours_out >= due)
    there = taken_out >= since
    import pandas as pd

    table = {
        "run": np.rint(past * there * SUM_UNITS).astype(np.int64),
        "late": (late & there).astype(np.int64),
    }
    by_type = rows["head_type"].to_numpy(dtype=object)
    return pd.DataFrame(table).groupby(by_type).sum()


def swap_lags(sums: pd.DataFrame) -> dict[str, float]:
    """Mean print hours from the age at which heads are due until they are swapped [h], by type.

    Hours run past that age by all heads over planned swaps after it, the estimate for a constant
    rate; heads still running and heads that failed count with the hours they ran. With no such
    swap yet one is assumed.

    Parameters
    ----------
    sums : DataFrame
        Hours run past the age and planned swaps after it, by head type; parts add.

    Returns
    -------
    dict of str to float
        Mean lag [h], by head type.
    """
    run, late = (sums[name].to_numpy(dtype=np.float64) for name in ("run", "late"))
    lags = run / SUM_UNITS / np.maximum(late, 1.0)
    return dict(zip(sums.index.astype(str), lags.tolist(), strict=True))


def _earliest_due(shop: Shop) -> dict[str, float]:
    """Lowest age [h] at which any policy of the shop, past or present, has heads swapped."""
    due = dict.fromkeys(shop.head_types, np.inf)
    printers = ["", *_printers_with_rules(shop)]
    for first, _ in shop.policy.rules:
        book = policies_on(shop, first)
        for head_type in due:
            ages = [book.of(head_type, r, p).comes_out_at for r in ROLES for p in printers]
            due[head_type] = min(due[head_type], *ages)
    return due


def _printers_with_rules(shop: Shop) -> set[str]:
    """Printers for which some policy makes an exception."""
    return set(shop.critical_printers).union(*(one.printers for _, one in shop.policy.rules))
