"""How do time and memory of reading records grow with the number of rows?

    python tests/benchmarks/test_records_scale.py [ROWS ...]
prints one line per size (default 10,000, 100,000 and 1,000,000 rows of CSV): read, validated,
audited and turned into lives in a process of its own. The test asserts only that the cost per
row does not grow.
"""

from __future__ import annotations

import csv
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "data_demo"

pytestmark = pytest.mark.xdist_group("benchmarks")


def write_log(path: Path, rows: int) -> None:
    """Repeat the demo log with new serials and printers until there are that many rows."""
    with (DEMO / "removals.csv").open(newline="") as stream:
        header, *demo = csv.reader(stream)
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(header)
        for i in range(rows):
            copy, place = divmod(i, len(demo))
            row = list(demo[place])
            row[0] += f"-{copy}"
            row[3] += f" {copy}"
            writer.writerow(row)


def read_to_lives(path: Path) -> tuple[float, float, int]:
    """Read, validate, audit and join; wall seconds, processor seconds and lives."""
    import headlife as hl

    shop = hl.read_shop(DEMO / "shop.toml")
    wall, cpu = time.perf_counter(), time.process_time()
    records = hl.read_records(path, shop)
    lives = hl.lives(records)
    assert len(records.accepted) + len(records.set_aside) == records.rows_read
    return time.perf_counter() - wall, time.process_time() - cpu, len(lives)


def test_the_cost_per_row_does_not_grow(tmp_path):
    cost = []
    write_log(tmp_path / "warm.csv", 1_000)
    read_to_lives(tmp_path / "warm.csv")
    for rows in (20_000, 200_000):
        write_log(tmp_path / f"{rows}.csv", rows)
        cost.append(read_to_lives(tmp_path / f"{rows}.csv")[1] / rows)
    assert cost[1] <= 1.3 * cost[0]


def _measure(rows: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        write_log(path, rows)
        code = (
            f"import resource, sys; sys.path.insert(0, {str(ROOT)!r})\n"
            "from tests.benchmarks.test_records_scale import *\n"
            f"wall, cpu, lives = read_to_lives(Path({str(path)!r}))\n"
            "peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20\n"
            f"print(f'{rows:>10,} rows  {{lives:>8,}} lives  {{wall:6.1f}} s  "
            f"{{cpu:6.1f}} s processor  {{cpu / {rows} * 1e6:5.1f}} us a row  {{peak:4.2f}} GB')"
        )
        subprocess.run([sys.executable, "-c", code], check=True)


if __name__ == "__main__":
    for size in [int(word) for word in sys.argv[1:]] or [10_000, 100_000, 1_000_000]:
        _measure(size)
