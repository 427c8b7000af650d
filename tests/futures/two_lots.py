"""A shop whose two lots live differently long: one head a printer, run to failure."""

from __future__ import annotations

import numpy as np
from tests.written_case import HEADER, case_of

RATED = 500.0
SETTINGS = """
name = "Shop"
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 500
price = 300
[spares]
lead_time_weeks = 6
[policy]
swap_at = "failure"
[review]
draws = 2000
"""
BY_LOT = 'groups = ["lot"]\n'
WEEKLY = 21.0  # print hours a week


def heads_of(lot, day, lives):
    """Heads put in on one day: the age each fails at [h], or that it is still in (None)."""
    return [(lot, day, age) for age in lives]


def made(tmp_path, heads, groups=BY_LOT, more="", until="2026-01-01"):
    """Make a case; every head in a printer of its own, those still in at their age on a day."""
    rows = []
    end = np.datetime64(until)
    for number, (lot, day, age) in enumerate(heads):
        begun = np.datetime64(day)
        hours = float((end - begun).astype(int)) * WEEKLY / 7.0
        out, why = end, ""
        if age is not None:
            hours, why = age, "worn out"
            out = begun + round(age * 7.0 / WEEKLY)
        stay = f"H{number:03d},A,model,P{number:03d},left,{begun},0,{out},{hours:.1f},{why}"
        rows.append(f"{stay},{lot}")
    return case_of(tmp_path, SETTINGS + groups + more, rows, f"{HEADER},lot")


LONG = [*np.linspace(700.0, 1300.0, 25)]
SHORT = [*np.linspace(200.0, 400.0, 25)]
IN = [None] * 6


def two_lots(newer="B"):
    """Lot A lives three times as long as lot B; the newer one has six heads in, one week old."""
    lives = {"A": LONG, "B": SHORT}
    old, new = (("A", "B"), ("B", "A"))[newer == "A"]
    return [
        *heads_of(old, "2023-01-02", lives[old]),
        *heads_of(new, "2024-06-03", lives[new]),
        *heads_of(new, "2025-12-25", IN),
    ]
