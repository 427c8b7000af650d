"""Run `python -m studies.changing_shops`: chosen rows of the table, one after the other."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from typing import Final

import studies.changing_shops
from studies.changing_shops import (
    circulating,
    counters,
    deliveries,
    due_days,
    labels,
    looks,
    lot_stock,
    lots,
    overturn,
    practice,
    purchases,
    workload,
)

ROWS: Final[dict[str, Callable[[int, int, bool], str]]] = {
    "looks": looks.report,
    "lots": lots.report,
    "lot-stock": lot_stock.report,
    "purchases": purchases.report,
    "practice": practice.report,
    "workload": workload.report,
    "due": due_days.report,
    "counters": counters.report,
    "circulating": circulating.report,
    "deliveries": deliveries.report,
    "labels": labels.report,
    "overturn": overturn.report,
}


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the rows asked for."""
    parser = argparse.ArgumentParser(
        prog="python -m studies.changing_shops",
        description=studies.changing_shops.__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--rows", nargs="+", choices=tuple(ROWS), default=list(ROWS))
    parser.add_argument("--shops", type=int, default=500, help="simulated shops of each kind")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--held-out", action="store_true", help="designs not used for choosing")
    options = parser.parse_args(arguments)
    for row in options.rows:
        begun = time.perf_counter()
        print(ROWS[row](options.shops, options.seed, options.held_out))
        print(f"({row}: {time.perf_counter() - begun:.0f} s)\n", flush=True)


if __name__ == "__main__":
    main()
