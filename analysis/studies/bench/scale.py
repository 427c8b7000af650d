"""Does the cost of a row, and of a pooled site, stay the same as there are more of them?

Processor time, not wall time, so that others at work on the machine do not decide; the wall times
of an idle machine are in `scale_measured.json`, written by ``python -m studies.scale``.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import headlife as hl
from studies.bench.measured import Measured, at_most
from studies.large_fleet import SETTINGS, large_fleet, write_fleet
from studies.scale import measure_pooling


def seconds_a_row(folder: Path, rows: int) -> float:
    """Processor seconds that `review_files` takes for a row of an invented fleet."""
    # Whose hours these are is stated: else one fleet in 2,000 drawn at random is asked it.
    few_draws = SETTINGS.replace("draws = 20000", "draws = 100")
    (folder / "shop.toml").write_text(f'{few_draws}[intake]\nhours = "head"\n')
    shop = hl.read_shop(folder / "shop.toml")
    log = folder / str(rows)
    log.mkdir()
    paths = write_fleet(log, large_fleet(rows), 4)
    hl.review_files(paths[:1], shop, partitions=1)  # libraries and caches before the clock starts
    start = time.process_time()
    hl.review_files(paths, shop, partitions=4)
    return (time.process_time() - start) / rows


def measure(short: bool) -> Iterator[Measured]:
    """Measure rows and sites, few and many."""
    few, many = (20_000, 100_000) if short else (40_000, 320_000)
    with tempfile.TemporaryDirectory() as folder:
        small, large = (seconds_a_row(Path(folder), rows) for rows in (few, many))
    yield Measured(
        f"a row of {many:,} in many files / a row of {few:,}", large / small, "times", at_most(1.3)
    )
    yield Measured(f"a row of {many:,} in many files", 1e6 * large, "µs")
    few, many = (250, 1_000) if short else (500, 4_000)
    measure_pooling(10)  # libraries before the clock starts
    small, large = (measure_pooling(sites)["seconds_a_site"] for sites in (few, many))
    yield Measured(
        f"a site of {many:,} pooled / a site of {few:,}", large / small, "times", at_most(1.5)
    )
    yield Measured("10,000 sites read and pooled", 1e4 * large, "s", at_most(2))
