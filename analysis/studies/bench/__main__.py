"""`python -m studies.bench [--short] [NAME ...]`: every ratio beside its goal, as it is measured.

Ends with code 0 whatever was measured: a busy machine is no fault of the code.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterator, Sequence
from importlib import import_module

from studies.bench.measured import HEADER, Measured

NAMES = ("start", "life", "demand", "replacement", "records", "hostile", "pages", "scale")


def measure(names: list[str], short: bool) -> Iterator[Measured]:
    """Measure every part asked for, in order."""
    for name in names:
        yield from import_module(f"studies.bench.{name}").measure(short)


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the table line by line, and how many goals were met."""
    parser = argparse.ArgumentParser(prog="python -m studies.bench", description=__doc__)
    parser.add_argument(
        "names", nargs="*", metavar="NAME", help=f"of {', '.join(NAMES)}; all if none is named"
    )
    parser.add_argument("--short", action="store_true", help="smaller records, fewer turns")
    given = parser.parse_args(arguments)
    if unknown := set(given.names) - set(NAMES):
        parser.error(f"no such part: {', '.join(sorted(unknown))}; there are {', '.join(NAMES)}")
    load = os.getloadavg()[0]
    print(f"{os.cpu_count()} cores, load {load:.1f} when it began; ratios are of medians in turns")
    print(HEADER)
    measured = []
    for one in measure(given.names or list(NAMES), given.short):
        print(one, flush=True)
        measured.append(one)
    goals = [one.met for one in measured if one.met is not None]
    print(f"{sum(goals)} of {len(goals)} goals met")


if __name__ == "__main__":
    main()
