"""How do time and memory of reading records grow with the number of rows?

The demo's log repeated with new serials and printers, as CSV: read, checked and turned into
lives, each size in a process of its own. ``python -m studies.bench.records ROWS`` measures one.
"""

from __future__ import annotations

import csv
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import headlife as hl
from studies.bench.measured import Measured, at_most

DEMO = Path(__file__).parents[3] / "data_demo"


def write_log(path: Path, rows: int) -> None:
    """Repeat the demo log with new serials and printers until there are that many rows."""
    with (DEMO / "removals.csv").open(newline="", encoding="utf-8") as stream:
        header, *demo = csv.reader(stream)
    with path.open("w", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(header)
        for i in range(rows):
            copy, place = divmod(i, len(demo))
            row = list(demo[place])
            row[0] += f"-{copy}"
            row[3] += f" {copy}"
            writer.writerow(row)


def measure_here(rows: int) -> dict[str, Any]:
    """Read, check and join so many rows; seconds, processor seconds and peak memory [GB]."""
    import resource

    shop = hl.read_shop(DEMO / "shop.toml")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        write_log(path, 1_000)
        hl.lives(hl.read_records(path, shop))  # libraries and caches before the clock starts
        write_log(path, rows)
        wall, cpu = time.perf_counter(), time.process_time()
        records = hl.read_records(path, shop)
        found = hl.lives(records)
        taken = {"seconds": time.perf_counter() - wall, "cpu": time.process_time() - cpu}
    if len(records.accepted) + len(records.set_aside) != rows:
        raise RuntimeError(f"{rows} rows were written and {records.rows_read} came back")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    return taken | {"lives": len(found), "gb": peak}


def _in_fresh_process(rows: int) -> dict[str, Any]:
    command = [sys.executable, "-m", "studies.bench.records", str(rows)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    return dict(json.loads(done.stdout))


def measure(short: bool) -> Iterator[Measured]:
    """Measure a small and a large log."""
    few, many = (10_000, 100_000) if short else (20_000, 1_000_000)
    small, large = _in_fresh_process(few), _in_fresh_process(many)
    per_row = large["cpu"] / many
    yield Measured(f"reading {many:,} rows to lives, a row", per_row * 1e6, "µs", at_most(9))
    yield Measured(
        f"a row of {many:,} / a row of {few:,}",
        per_row / (small["cpu"] / few),
        "times",
        at_most(1.3),
    )
    yield Measured(f"peak memory at {many:,} rows", large["gb"], "GB", at_most(0.8))


if __name__ == "__main__":
    print(json.dumps(measure_here(int(sys.argv[1]))))
