"""Random logs read by the package and by a plain reading of our own: the same rows, the same lives.

`TABLES=100000 SEED=7 python -m pytest tests/records/test_plain_reading.py` reads as many others as
one likes.
"""

from __future__ import annotations

import csv
import datetime
import io
import os

import numpy as np
import pytest
from tests.records.plain_reading import lives as plainly_read

import headlife as hl

TABLES = int(os.environ.get("TABLES", "100"))
SEED = int(os.environ.get("SEED", "20"))
COLUMNS = [
    *("head", "head_type", "role", "printer", "position", "date_in", "hours_in"),
    *("date_out", "hours_out", "reason"),
]
SETTINGS = """
name = "Hall"
[intake]
hours = "head"
[reasons.failures]
worn = "wear"
crash = "damage"
[reasons.suspensions]
swap = "planned swap"
material = "material change"
[head_types.A]
rated_hours = 1000
[spares]
lead_time_weeks = 4
[review]
set_aside = "continue"
"""
SPOILT = [
    ("hours_out", "-5"),
    ("hours_out", "soon"),
    ("hours_in", "9e9"),
    ("date_in", "2025-02-30"),
    ("date_out", "2001-01-01"),
    ("date_out", "soon"),
    ("head", " "),
]


def random_log(rng):
    """Heads that follow each other in positions of their own, and come back; some rows spoilt."""
    rows = []
    for place in range(int(rng.integers(1, 6))):
        day = datetime.date(2024, 1, 1) + datetime.timedelta(int(rng.integers(100)))
        for turn in range(int(rng.integers(1, 4))):
            head, hours = f"H{place}{turn}", 0.0
            for _ in range(int(rng.integers(1, 4))):
                days = int(rng.integers(5, 90))
                ran = round(float(rng.uniform(0.5, 15.0)) * days, 1)
                rows.append([head, "A", "model", f"P{place}", "left", day, hours])
                day += datetime.timedelta(days)
                hours = round(hours + ran, 1)
                rows[-1] += [day, hours, "swap"]
                day += datetime.timedelta(1)
            rows[-1][-1] = str(rng.choice(["worn", "crash", "swap", "material"]))
        if rng.random() < 0.5:
            rows[-1][-1] = ""  # in service
    out = [dict(zip(COLUMNS, map(str, row), strict=True)) for row in rows]
    if rng.random() < 0.7:
        # The last row of a head: what comes before it does not hang on it.
        last = {row["head"]: row for row in out}
        row = last[str(rng.choice(sorted(last)))]
        column, value = SPOILT[int(rng.integers(len(SPOILT)))]
        row[column] = value
    return [out[k] for k in rng.permutation(len(out))]


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    path = tmp_path_factory.mktemp("plain") / "shop.toml"
    path.write_text(SETTINGS)
    return hl.read_shop(path)


def compare(rng, shop, path):
    stream = io.StringIO()
    writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(random_log(rng))
    path.write_text(stream.getvalue())
    used, known = plainly_read(stream.getvalue())
    records = hl.read_records(path, shop, unknown="set aside")
    assert sorted(records.accepted["row"].tolist()) == used
    assert records.rows_read == len(records.accepted) + len(records.set_aside)
    if not used:
        return 0
    found = {
        row.head: (row.entry_hours, row.exit_hours, row.mode if isinstance(row.mode, str) else None)
        for row in hl.lives(records).itertuples()
    }
    assert found == known
    return len(known)


def test_random_logs_read_plainly_have_the_same_rows_and_lives(shop, tmp_path):
    rng = np.random.default_rng(SEED)
    lives = sum(compare(rng, shop, tmp_path / "log.csv") for _ in range(TABLES))
    assert lives > TABLES
