"""Join the installations of each head into one life on the head's own hour clock.

Answers when each head entered and left observation and why, and which heads are in service at
what age, now or as it was known on a past day. From accepted records only; it never fits
anything, and where a removal can be read two ways it gives both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import pandas as pd

from headlife.display import shows_itself
from headlife.errors import RecordsError
from headlife.records.as_of import Day, day_of, days_between, known_on, whole_days
from headlife.records.chains import order_of
from headlife.records.counter import CounterTest, counter_tests
from headlife.records.counter import counter_driven as ended_at_counter
from headlife.records.meanings import CAUSE_UNKNOWN, LOOKED_BAD
from headlife.records.of_the_head import last_rows, of_the_head
from headlife.records.places import superseded
from headlife.records.record_set import Records
from headlife.records.usage import Shares, usage_and_shares, usual_days
from headlife.shop import Shop
from headlife.units import DAYS_PER_WEEK

Reading = Literal["failure", "suspension"]
AT_COUNTER: Final = "counter reached"
_INTERNAL: Final = ("row", "in_doubt")


def lives(
    records: Records,
    as_of: Day | None = None,
    counter_driven: Reading = "failure",
    looked_bad: Reading = "failure",
    cause_unknown: Reading = "failure",
) -> pd.DataFrame:
    """Join installations into lives, one row per head.

    The first installation gives the hours at entry (more than 0 for a head that was bought
    used: delayed entry), the last one gives the exit and its mode or suspension. Hours that lie
    between two installations count as run, since the head worked afterwards.

    Parameters
    ----------
    records : Records
        From `read_records`.
    as_of : str or date, optional
        Give the lives as they were known at the end of that day: later installations are not
        there yet, and heads removed later are in service with their hours interpolated on the
        calendar. Default: everything on record.
    counter_driven : {"failure", "suspension"}
        How to read heads called worn out in a pile-up at the notice or the rating (see
        `headlife.records.counter`).
    looked_bad : {"failure", "suspension"}
        How to read heads pulled on looks (`[reasons.looked_bad]`).
    cause_unknown : {"failure", "suspension"}
        How to read heads of which nobody knows whether they had failed
        (`[reasons.may_have_failed]`).

    Returns
    -------
    DataFrame
        One row per head, sorted by head, as `headlife.records.frames` describes lives; the
        shop's own columns at the end.

    Raises
    ------
    RecordsError
        When nothing was on record on that day, or a reading is neither of the two.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> records = hl.read_records("data_demo/removals.csv", shop)
    >>> found = hl.lives(records)
    >>> len(found), int((found["mode"] == "wear").sum())
    (75, 9)
    >>> len(hl.lives(records, as_of="2025-12-31"))
    60
    """
    for reading in (counter_driven, looked_bad, cause_unknown):
        if reading not in ("failure", "suspension"):
            raise RecordsError(
                f"Removals are read as failure or as suspension, not as {reading!r}; choose one."
            )
    table = _joined(records, as_of)
    in_doubt = table["in_doubt"]
    if counter_driven == "suspension":
        at_counter = ended_at_counter(table, records.shop)
        table = _suspended(table, at_counter & in_doubt.isna().to_numpy(), AT_COUNTER)
    for what, reading in ((LOOKED_BAD, looked_bad), (CAUSE_UNKNOWN, cause_unknown)):
        if reading == "suspension":
            table = _suspended(table, (in_doubt == what).to_numpy(), what)
    return table.drop(columns=list(_INTERNAL))


@shows_itself
@dataclass(frozen=True)
class TwoReadings:
    """Lives read both ways where a removal may or may not have been a failure.

    The truth about such heads lies somewhere between the two; failures alone cannot tell where
    (dependent censoring is not identifiable), so no point between is offered.
    """

    doubtful: pd.DataFrame
    """The heads in question: `row, head, head_type, role, exit_hours` [h], `why`."""
    tests: tuple[CounterTest, ...]
    """The test at every mark of the counter."""
    as_failures: pd.DataFrame
    """Lives with all of them as failures."""
    as_suspensions: pd.DataFrame
    """Lives with all of them as suspensions."""


def two_readings(records: Records, as_of: Day | None = None) -> TwoReadings:
    """Read counter-driven removals, and those that may not have been failures, both ways.

    Parameters
    ----------
    records : Records
        From `read_records`.
    as_of : str or date, optional
        As for `lives`.

    Returns
    -------
    TwoReadings
        With an empty `doubtful`, and equal lives, when no removal is in question.

    Raises
    ------
    RecordsError
        When nothing was on record on that day.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> records = hl.read_records("data_demo/removals.csv", shop)
    >>> both = hl.two_readings(records)
    >>> len(both.doubtful)
    0
    """
    table = _joined(records, as_of)
    why = table["in_doubt"].to_numpy(dtype=object)
    why[ended_at_counter(table, records.shop) & pd.isna(why)] = AT_COUNTER
    there = ~pd.isna(why)
    doubtful = table.loc[there, ["row", "head", "head_type", "role", "exit_hours"]]
    doubtful = doubtful.reset_index(drop=True).assign(why=why[there])
    return TwoReadings(
        doubtful=doubtful,
        tests=counter_tests(table, records.shop),
        as_failures=table.drop(columns=list(_INTERNAL)),
        as_suspensions=lives(records, as_of, "suspension", "suspension", "suspension"),
    )


def _suspended(table: pd.DataFrame, where: np.ndarray, kind: str) -> pd.DataFrame:
    table = table.copy()
    table["mode"] = table["mode"].where(~where, None)
    table["suspension"] = table["suspension"].where(~where, kind)
    table["last_good_hours"] = table["last_good_hours"].where(~where)
    return table


def _joined(records: Records, as_of: Day | None) -> pd.DataFrame:
    rows, order, first, last = _by_head(records, as_of)
    start, end = rows.iloc[order[first]], last_rows(rows, order, first, last, records.shop)
    entry = np.minimum.reduceat(rows["hours_in"].to_numpy()[order], first)
    most = np.maximum.reduceat(rows["hours_out"].to_numpy()[order], first)
    failed = end["mode"].notna().to_numpy()
    # Knowing a head good before records began says no more than that it entered.
    good = np.where(failed, np.fmax(end["last_good_hours"].to_numpy(), entry), np.nan)
    good[end["last_good_hours"].isna().to_numpy()] = np.nan
    # A head one of whose rows was set aside may be anywhere: nobody counts on finding it.
    lost = end["head"].isin(records.set_aside["head"].dropna()).to_numpy()
    on_shelf = end["suspension"].isin(records.shop.reasons.reusable).to_numpy()
    return pd.DataFrame(
        {
            "head": end["head"].to_numpy(),
            "head_type": start["head_type"].to_numpy(),
            "role": start["role"].to_numpy(),
            **{name: end[name].to_numpy() for name in ("site", "material", "printer", "position")},
            "entry_hours": entry,
            "exit_hours": most,
            "mode": end["mode"].to_numpy(),
            "suspension": end["suspension"].to_numpy(),
            "in_service": (end["reason"].isna() & ~end["superseded"]).to_numpy(),
            "on_shelf": on_shelf & ~lost,
            "last_good_hours": good,
            "date_first": start["date_in"].to_numpy(),
            "date_last": end["date_out"].to_numpy(),
            "installations": last - first + 1,
            **_exit_range(rows, order, first, most),
            **of_the_head(end, records.shop),
            "row": end["row"].to_numpy(),
            "in_doubt": end["in_doubt"].to_numpy(dtype=object),
        }
    )


def in_service(records: Records, as_of: Day | None = None) -> pd.DataFrame:
    """List the heads in service, with their present ages.

    A head whose last reading is older than the day asked for is carried forward by its
    printer's usage and marked as projected.

    Parameters
    ----------
    records : Records
        From `read_records`.
    as_of : str or date, optional
        The day; default the last date on record.

    Returns
    -------
    DataFrame
        One row per occupied position, sorted by printer and position, as
        `headlife.records.frames` describes heads in service; print hours a week are the
        settings' `[usage]`, else learned.

    Raises
    ------
    RecordsError
        When nothing was on record on that day, or `[usage]` names a printer without records.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> records = hl.read_records("data_demo/removals.csv", shop)
    >>> hl.in_service(records).groupby("head_type").size().to_dict()
    {'Fibre': 4, 'Standard': 18}
    """
    here, day = open_installations(records, as_of)
    here = here[~here["superseded"].to_numpy()]
    return carried_forward(here, day, *usage_and_shares(records, as_of), records.shop)


def open_installations(
    records: Records, as_of: Day | None = None
) -> tuple[pd.DataFrame, np.datetime64]:
    """List the last installation of every head that was not written down as removed.

    Parameters
    ----------
    records : Records
        From `read_records`.
    as_of : str or date, optional
        As for `in_service`.

    Returns
    -------
    DataFrame
        Their rows, with `superseded`.
    numpy.datetime64
        The day: the one asked for, or the last on record.
    """
    rows, order, first, last = _by_head(records, as_of)
    day = whole_days(rows["date_out"]).max() if as_of is None else day_of(as_of)
    here = last_rows(rows, order, first, last, records.shop)
    return here[here["reason"].isna().to_numpy()], day


def carried_forward(
    here: pd.DataFrame,
    day: np.datetime64,
    weekly: dict[str, float],
    shares: Shares,
    shop: Shop,
) -> pd.DataFrame:
    """Give open installations their present ages; the table that `in_service` describes.

    Parameters
    ----------
    here : DataFrame
        Open installations.
    day : np.datetime64
        The day.
    weekly : dict of str to float
        Print hours a week of each printer [h].
    shares : mapping of (str, str) to float
        Printer and role -> share of its hours that the head there runs [-]; 1 where not named.
    shop : Shop
        The settings.

    Returns
    -------
    DataFrame
        The table.
    """
    here = here.sort_values(["printer", "position", "head"], kind="stable")
    places = zip(here["printer"].astype(str), here["role"].astype(str), strict=True)
    share = np.array([shares.get(place, 1.0) for place in places], dtype=float)
    hours_a_week = here["printer"].map(weekly).to_numpy(dtype=float) * share
    read = whole_days(here["date_out"])
    projected = days_between(read, day) > 0
    today = int(day.astype("M8[D]").astype(np.int64))
    since = pd.Series(read.astype(np.int64), index=here.index)
    since = usual_days(since, here["printer"], here["site"], shop.plans, today)
    weeks = np.maximum((today - since.to_numpy()) / DAYS_PER_WEEK, 0.0)
    return pd.DataFrame(
        {
            **{
                name: here[name].to_numpy()
                for name in ("head", "head_type", "role", "site", "printer", "position")
            },
            "age_hours": here["hours_out"].to_numpy() + hours_a_week * weeks,
            "reading_date": here["date_out"].to_numpy(),
            "reading_hours": here["hours_out"].to_numpy(),
            "projected": projected,
            "weekly_hours": hours_a_week,
            "share_of_hours": share,
            "material": here["material"].to_numpy(),
            **of_the_head(here, shop),
        }
    )


def _exit_range(
    rows: pd.DataFrame, order: np.ndarray, first: np.ndarray, most: np.ndarray
) -> dict[str, np.ndarray]:
    """Give the least and the most hours that each head can have reached."""
    if "hours_out_low" not in rows:
        return {"exit_low": most, "exit_high": most}
    return {
        f"exit_{end}": np.maximum.reduceat(rows[f"hours_out_{end}"].to_numpy()[order], first)
        for end in ("low", "high")
    }


def _by_head(
    records: Records, as_of: Day | None
) -> tuple[pd.DataFrame, np.ndarray, np.ndarray, np.ndarray]:
    """Order what was known as `chains` follows it; where each head begins and ends in it."""
    rows = known_on(records, as_of)
    rows = rows.assign(superseded=superseded(rows))
    codes, _ = pd.factorize(rows["head"], sort=True)
    order = order_of(rows, codes)
    codes = codes[order]
    starts = np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]])
    return rows, order, starts, np.r_[starts[1:], len(rows)] - 1
