"""What can files made to do harm cost: memory of a workbook, time of a cell?

The costliest workbook we know within the size allowed: empty cells in one endless row, measured in
a process of its own by ``python -m studies.bench.hostile``. The costliest cells: numbers, dates and
names as long and as nearly readable as we could make them.
"""

from __future__ import annotations

import io
import json
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import headlife as hl
from studies.bench.measured import Measured, at_most
from studies.bench.records import DEMO

_SHEET = "xl/worksheets/sheet1.xml"
_PART = 4  # of the size allowed; memory grows with size, and so a part of the limit is the goal
HOSTILE_CELLS = (
    *("1," * 30, "1 " * 30, "1.111" * 12, "1/" * 30, "1-1-1 " * 10, "1 t" * 20, "mar " * 15),
    *("a1b2" * 15, "\uff11" * 60, "\u0661/" * 30, "9" * 32_767, "h" * 32_767, " t," * 10_000),
    *("\uff11" * 32_767, "1\u0301" * 16_000, "1" * 15 + "." + "1" * 17, "1 2025 januari " * 4),
)
_LIMIT_MB = 2048  # that `records.workbook` states


def write_wide_workbook(path: Path, cells: int) -> None:
    """Write a workbook whose only row has so many empty cells."""
    from openpyxl import Workbook

    sheet = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        b'<sheetData><row r="1">' + b"<c/>" * cells + b"</row></sheetData></worksheet>"
    )
    plain = io.BytesIO()
    Workbook().save(plain)
    with (
        zipfile.ZipFile(plain) as source,
        zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as written,
    ):
        for name in source.namelist():
            written.writestr(name, sheet if name == _SHEET else source.read(name))


def measure_here() -> float:
    """Let the largest such workbook be refused; growth of the peak memory [MB]."""
    import resource

    from headlife.errors import RecordsError
    from headlife.records.workbook_size import MOST_UNPACKED_BYTES

    shop = hl.read_shop(DEMO / "shop.toml")
    with tempfile.TemporaryDirectory() as folder:
        few, path = Path(folder) / "few.xlsx", Path(folder) / "log.xlsx"
        write_wide_workbook(few, 5_000)
        write_wide_workbook(path, MOST_UNPACKED_BYTES // _PART // len(b"<c/>"))
        before = 0
        for book in (few, path):  # the first loads the libraries
            before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
            try:
                hl.read_records(book, shop)
            except RecordsError:
                continue
            raise RuntimeError("a hostile workbook was read")
        return (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024


def slowest_cell(turns: int = 20) -> float:
    """Read hostile cells as hours and as dates; the median time of the slowest one [ms]."""
    import statistics
    import time

    from headlife.records.cells import read_name
    from headlife.records.dates import date_readings
    from headlife.records.hours import hour_readings

    slowest = 0.0
    for read in (hour_readings, date_readings, read_name):
        for text in HOSTILE_CELLS:
            read(text)  # names of months are looked up once
            taken = []
            for _ in range(turns):
                start = time.perf_counter()
                read(text)
                taken.append(time.perf_counter() - start)
            slowest = max(slowest, 1000 * statistics.median(taken))
    return slowest


def measure(_short: bool) -> Iterator[Measured]:
    """Measure the refusal of one hostile workbook."""
    command = [sys.executable, "-m", "studies.bench.hostile"]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    yield Measured(
        "the slowest of hostile cells, hours and dates", slowest_cell(), "ms", at_most(1)
    )
    yield Measured(
        "memory until a hostile workbook is refused",
        json.loads(done.stdout),
        "MB",
        at_most(_LIMIT_MB / _PART),
    )


if __name__ == "__main__":
    print(json.dumps(measure_here()))
