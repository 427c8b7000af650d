"""Invented shops with random settings and records: every habit of a shop at random."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

_FIRST = np.datetime64("2024-01-01")
_LAST = 700  # days
GROUPS = (
    *("[]", '["lot"]', '["maker", ["lot", "site"]]', '["purchase_year"]', '["vendor"]'),
    *('["refurbished", "lot"]', '[["vendor", "lot"], "printer"]'),
)


def random_settings(rng: np.random.Generator, sites: list[str]) -> str:
    """Write the settings of a shop that decides everything by chance."""

    def either(*lines: str) -> str:
        return str(rng.choice(np.array(lines, dtype=object)))

    separate = len(sites) > 1 and rng.random() < 0.3
    stocks = ", ".join(f'"{site}" = {rng.integers(0, 4)}' for site in sites)
    on_hand = f"on_hand_by_site = {{ {stocks} }}" if separate else f"on_hand = {rng.integers(0, 5)}"
    ages = ('"rating"', '"notice"', '"failure"', "700", "{ jobs = 9 }")
    swap_at, swap_later, swap_apart = (either(*ages) for _ in range(3))
    one = "2025-02-01"
    since = f"""[policy.from.{one}]
swap_at = {swap_later}
join_from = {either('"notice"', "300")}
{either('head_types."B"', 'roles."support"', 'printers."P0"')} = {{ swap_at = {swap_apart} }}
"""
    earlier = either("", "earlier_ratings = [{ bought_before = 2024-09-01, rated_hours = 800 }]")
    return f"""
name = "Shop of chance"
claim = {{ share = {rng.uniform(0.6, 0.95):.2f}, confidence = 0.9 }}
[own_columns]
maker = "Made by"
[reasons.failures]
"worn" = "wear"
"crash" = "damage"
[reasons.suspensions]
"swap" = "planned swap"
"other material" = "material change"
[reasons.looked_bad]
"looked bad" = "wear"
[head_types.A]
rated_hours = 900
{earlier}
{on_hand}
[head_types.B]
rated_hours = 500
{on_hand}
{either("quality_critical = true", "")}
[spares]
lead_time_weeks = {rng.integers(2, 9)}
review_weeks = {rng.integers(4, 14)}
lead_time_sd_weeks = {either("0", "0.8")}
order_multiple = {rng.integers(1, 6)}
service_level = {rng.uniform(0.8, 0.97):.2f}
sites = "{"separate" if separate else "pooled"}"
use_shelf = {either("true", "false")}
{either("", "[usage]" + chr(10) + '"P1" = 31.5')}
[policy]
{either("confirmed = true", "")}
swap_at = {swap_at}
join_from = {either('"notice"', '"never"', "400")}
build_hours = 50
{either(since, "")}
{either("", "[plans.Stop]" + chr(10) + "factor = 0.5" + chr(10) + "begins = 2026-01-12")}
[review]
draws = 150
seed = {rng.integers(1, 1000)}
set_aside = "continue"
build_hours = {rng.integers(20, 120)}
groups = {either(*GROUPS)}
"""


def random_records(rng: np.random.Generator, sites: list[str]) -> pd.DataFrame:
    """Live through two years of a few printers, row by row."""
    rows: list[dict[str, object]] = []
    shelf: list[dict[str, object]] = []
    number = 0
    # Some shops change the type of their heads, leave reasons blank, or swap both heads at once.
    changes_type = int(rng.integers(250, 600)) if rng.random() < 0.4 else _LAST
    blank, joins, repaired = rng.choice([0.03, 0.3]), rng.random() < 0.4, rng.choice([0.05, 0.15])
    for printer in range(int(rng.integers(3, 8))):
        site = sites[printer % len(sites)]
        per_day = rng.uniform(2.0, 9.0)
        visits: list[int] = []
        for position, role in (("left", "model"), ("right", "support")):
            day = int(rng.integers(0, 200))
            while day < _LAST:
                waiting = [head for head in shelf if head["role"] == role and rng.random() < 0.6]
                if waiting:
                    head = waiting[0]
                    shelf.remove(head)
                else:
                    number += 1
                    bought = _FIRST + np.timedelta64(max(day - int(rng.integers(1, 90)), -60), "D")
                    head = {
                        "head": f"H{number:03d}",
                        "head_type": "AB"[int(day >= changes_type or rng.random() < 0.3)],
                        "vendor": f"V{rng.integers(1, 3)}" if rng.random() < 0.8 else None,
                        "date_bought": bought if rng.random() < 0.7 else None,
                        "role": role,
                        "hours": float(np.round(rng.uniform(0, 80), 1)) * (rng.random() < 0.1),
                        "life": 900.0 * rng.weibull(2.0),
                        "lot": f"L{rng.integers(1, 4)}" if rng.random() < 0.9 else None,
                        "Made by": f"M{rng.integers(1, 3)}",
                    }
                out = _stay(rng, rows, shelf, head, printer, position, site, day, per_day, blank)
                # The other head's visit is this one's, where both come out together.
                near = [visit for visit in visits if day < visit < out]
                if joins and near and rows[-1]["reason"] == "swap":
                    rows[-1]["date_out"] = _FIRST + np.timedelta64(near[-1], "D")
                    rows[-1]["hours_out"] = rows[-1]["hours_in"] + (near[-1] - day) * per_day // 2
                    rows[-1]["last_good_hours"] = None
                    out = near[-1]
                rows[-1]["refurbished"] = "yes" if rng.random() < repaired else None
                visits.append(out)
                day = out
    table = pd.DataFrame(rows)
    return table.sort_values(["date_out", "head"], kind="stable", ignore_index=True)


def _stay(rng, rows, shelf, head, printer, position, site, day, per_day, blank) -> int:
    """Keep one head in one position until something happens; the day on which it came out."""
    stay = int(rng.integers(15, 120))
    hours_in = head["hours"]
    hours_out = hours_in + round(stay * per_day * rng.uniform(0.7, 1.0), 1)
    reason = rng.choice(["swap", "other material", "other material", "looked bad"])
    last_good = None
    if hours_out > head["life"] > hours_in:
        reason = rng.choice(["worn", "worn", "crash"])
        hours_out = round(max(head["life"], hours_in + 0.5), 1)
        last_good = round(hours_out * 0.9, 1) if rng.random() < 0.3 else None
        stay = max(int((hours_out - hours_in) / per_day), 1)
    out = day + stay
    if out >= _LAST:
        # Still in at its last reading, or a removal that nobody wrote down.
        out, reason = min(out, _LAST - int(rng.integers(0, 30))), None
        out = max(out, day)
        hours_out = hours_in + round((out - day) * per_day * 0.8, 1)
        last_good = None
    elif rng.random() < blank:
        reason = last_good = None
    rows.append(
        {
            **{name: value for name, value in head.items() if name not in ("hours", "life")},
            "printer": f"P{printer}",
            "position": position,
            "date_in": _FIRST + np.timedelta64(day, "D"),
            "hours_in": hours_in,
            "date_out": _FIRST + np.timedelta64(out, "D"),
            # Now and then a slip of the pen, to be set aside.
            "hours_out": hours_out if rng.random() > 0.01 else hours_in - 3.0,
            "reason": reason,
            "last_good_hours": last_good,
            "site": site,
        }
    )
    head["hours"] = hours_out
    if reason == "other material":
        shelf.append(head)
    return max(out, day + 1) if reason is not None or out < _LAST - 40 else _LAST


def write_parts(folder: Path, table: pd.DataFrame, files: int) -> None:
    """Write a table as CSV files of a stretch of rows each."""
    bounds = np.linspace(0, len(table), files + 1).astype(int)
    for place in range(files):
        part = table.iloc[bounds[place] : bounds[place + 1]]
        part.to_csv(folder / f"part_{place}.csv", index=False)
