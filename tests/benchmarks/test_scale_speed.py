"""Cost at scale: linear in the rows, two workers beside one, ten thousand sites pooled.

``python -m pytest tests/benchmarks/test_scale_speed.py -rP`` prints the table. Processor time is
compared, not wall time, so that others at work on the machine do not decide; the wall times of an
idle machine are in ``studies/scale_measured.json``, written by ``python -m studies.scale``.
"""

from __future__ import annotations

import time

import pytest
from tests.benchmarks.side_by_side import report

from headlife.scale.cluster import review_files
from headlife.shop import read_shop
from studies.large_fleet import SETTINGS, large_fleet, write_fleet
from studies.scale import measure_pooling

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("benchmarks")]


def processor_seconds(folder, rows):
    (folder / "shop.toml").write_text(SETTINGS.replace("draws = 20000", "draws = 100"))
    shop = read_shop(folder / "shop.toml")
    log = folder / str(rows)
    log.mkdir()
    paths = write_fleet(log, large_fleet(rows), 4)
    review_files(paths[:1], shop)  # warm up: libraries, caches
    start = time.process_time()
    made = review_files(paths, shop, partitions=4)
    return (time.process_time() - start) / made.whole.rows_read


def test_the_cost_of_a_row_does_not_grow_with_the_rows(tmp_path):
    few, many = (processor_seconds(tmp_path, rows) for rows in (40_000, 320_000))
    report("processor time of a row, 320,000 rows / 40,000 rows", many / few, "<= 1.3")
    report("microseconds of processor time a row", 1e6 * many, "-")
    assert many / few <= 1.3


def test_pooling_grows_with_the_sites_only():
    few, many = (measure_pooling(sites) for sites in (500, 4_000))
    ratio = many["seconds_a_site"] / few["seconds_a_site"]
    report("processor time of a site pooled, 4,000 sites / 500 sites", ratio, "<= 1.5")
    report("seconds of processor time for 10,000 sites", 1e4 * many["seconds_a_site"], "<= 2")
    assert ratio <= 1.5
