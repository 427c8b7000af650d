"""A shop written by hand: settings and rows go into a folder and are read as a case."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import headlife as hl

# What `replace` and `plan` cannot go without.
COSTS = """
[costs]
labour_per_hour = 38.0
machine_hour_rate = 9.0
swap_labour_hours = 0.3
manual_check_hours = 0.4
scrapped_build_cost = 240.0
waiting_hours_per_stockout = 60.0
carrying_cost_per_head_year = 40.0
"""
HEADER = "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason"


def case_of(
    folder: Path, settings: str, rows: Iterable[str], header: str = HEADER, **options: Any
) -> hl.Case:
    """Write `log.csv` and `shop.toml`, and read them."""
    (folder / "shop.toml").write_text(settings, encoding="utf-8")
    (folder / "log.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return hl.read_case(folder / "log.csv", folder / "shop.toml", **options)
