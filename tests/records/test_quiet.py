"""Quarters without a row: said where heads come out all the time, else left alone."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest
from tests.records.small_shop import rows_of

from headlife.records.audit import audit
from headlife.records.quiet import quiet_quarters
from studies.changing_shops.shops import Truth, record

BEGAN = np.datetime64("2021-02-11")
KINDS = {
    "run to failure": Truth(),
    "swapped at the rating": Truth(swap_at=1500.0, swap_before=1500.0, staggered=True),
    "both heads in one visit": Truth(
        swap_at=1500.0, swap_before=1500.0, join_from=700.0, staggered=True
    ),
    "quarters that differ for all": Truth(common=0.35, swap_at=1500.0, swap_before=1500.0),
    "growing": Truth(growth=0.3),
}


def log_of(truth: Truth, weeks: float, number: int) -> pd.DataFrame:
    """Let a simulated shop write its log: the columns the check looks at."""
    found = record(truth, weeks, np.inf, np.random.default_rng(number))
    return pd.DataFrame(
        {
            "row": np.arange(found.printer.size) + 2,
            "head": np.arange(found.printer.size).astype(str),
            "printer": found.printer.astype(str),
            "position": found.position.astype(str),
            "date_in": BEGAN + found.day_in.astype("timedelta64[D]"),
            "date_out": BEGAN + found.day_out.astype("timedelta64[D]"),
            "hours_in": found.hours_in,
            "hours_out": found.hours_out,
            "reason": np.where(found.used_up, "out", None),
        }
    )


def lost(log: pd.DataFrame, first: str, last: str) -> pd.DataFrame:
    """Lose every row with a day in a time."""
    within = [log[name].between(first, last) for name in ("date_in", "date_out")]
    return log[~(within[0] | within[1])]


def monthly(months: int, per_month: int = 2, start: str = "2022-01") -> list[dict[str, str]]:
    """Heads that come out on so many days of every month, another one going in."""
    rows, number = [], 0
    for month in np.datetime64(start, "M") + np.arange(months):
        for at in range(per_month):
            day = month.astype("datetime64[D]") + 5 + 10 * at
            number += 1
            rows.append(
                {
                    **rows_of()[0],
                    "head": f"M{number}",
                    "printer": f"P{number}",
                    "date_in": str(day - 20),
                    "hours_in": "0",
                    "date_out": str(day),
                    "hours_out": "100",
                    "reason": "swap",
                    "last_good_hours": "",
                }
            )
    return rows


def through(head: str, first: str, last: str, hours: int, reason: str = "") -> dict[str, str]:
    """One head that stays in its printer all the time."""
    stay = {"head": head, "printer": f"Of {head}", "hours_in": "0", "reason": reason}
    return {**rows_of()[0], **stay, "date_in": first, "date_out": last, "hours_out": str(hours)}


def said(read, rows) -> list[str]:
    found = audit(read(rows), date(2024, 12, 31))
    return found[found["check"].str.startswith("quarter")]["sentence"].tolist()


LONG = through("Long", "2022-01-01", "2024-01-01", 7300)  # 10 h a day, two years long
# Heads come out on the 6th and 16th of every month; none is put in, in or out in 2023-Q1.
BROKEN = [*monthly(12), *monthly(12, start="2023-05")]


def test_a_quarter_without_a_row_is_said_with_heads_and_hours(read):
    """The fault: rows of a quarter lost, other heads in service, and nothing was said."""
    assert said(read, BROKEN) == []  # no head was in service: that has a sentence of its own
    (one,) = said(read, [*BROKEN, LONG])
    # From 16 December to 16 April are 121 days of 10 h; six days a quarter are 5.9 in 91 days.
    assert one.startswith(
        "Of the rows used none is dated in 2023-Q1 (none between 2022-12-16 and 2023-04-16)"
    )
    assert "while 1 head is on record as in service" in one
    assert "the 1,210 print hours of that head" in one
    assert "on 6 days a quarter or more" in one
    (two,) = said(read, [*BROKEN, LONG, LONG | {"head": "Other", "printer": "Second"}])
    assert "while 2 heads are on record as in service" in two
    assert "the 2,420 print hours of those heads" in two


def test_several_quarters_are_one_time_without_a_row(read):
    (found,) = said(read, [*monthly(12), *monthly(8, start="2023-08"), LONG])
    assert "2023-Q1 to 2023-Q2 (" in found


def test_one_row_in_a_long_silence_hides_neither_half(read):
    alone = through("Alone", "2022-02-01", "2023-04-20", 500, "swap")
    found = said(read, [*monthly(12), alone, *monthly(5, start="2023-11"), LONG])
    assert ["2023-Q1 (" in found[0], "2023-Q3 (" in found[1], len(found)] == [True, True, 2]


@pytest.mark.parametrize(
    "rows",
    [
        # A head was put in, in that quarter: the log was kept.
        [*BROKEN, through("New", "2023-02-10", "2023-06-01", 500, "swap")],
        # Heads come out on three days a quarter only: a quarter without any is nothing new.
        [*monthly(12, 1), *monthly(12, 1, start="2023-05")],
        # A young shop: nothing was due before.
        [
            *(through(f"Y{n}", f"2022-11-{n:02d}", "2023-08-01", 900) for n in range(10, 20)),
            *monthly(8, start="2023-05"),
        ],
        # Nothing came after: heads in service have an old reading, which is said of each.
        monthly(12),
    ],
    ids=["put in", "slow", "young", "ended"],
)
def test_what_a_complete_log_holds_is_not_asked_about(read, rows):
    assert said(read, [*rows, LONG]) == []


def test_complete_logs_are_seldom_asked_about():
    """Shops of 6 to 28 positions over five years; 0.3 % when the number of days was chosen."""
    found = [
        bool(quiet_quarters(log_of(replace(truth, printers=n, weekly_hours=70.0), 260.0, number)))
        for truth in KINDS.values()
        for n in (3, 6, 14)
        for number in range(40)
    ]
    assert np.mean(found) < 0.01 + 3.0 * np.sqrt(0.01 * 0.99 / len(found))


@pytest.mark.parametrize("kind", KINDS)
def test_lost_rows_are_found(kind):
    found = []
    for number in range(10):
        log = log_of(replace(KINDS[kind], printers=20, weekly_hours=70.0), 260.0, number)
        left = quiet_quarters(lost(log, "2024-04-01", "2024-06-30"))
        found.append(any("2024-Q2" in one.sentence for one in left))
    assert np.mean(found) > 0.8
