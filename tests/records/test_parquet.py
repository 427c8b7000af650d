"""Parquet columns that hold what no log holds: a sentence, in one file and in a folder of them."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.parquet import _texts
from headlife.scale.cluster import review_files

SETTINGS = """
name = "Hall"
[reasons.failures]
worn = "wear"
[head_types.A]
rated_hours = 1000
[spares]
lead_time_weeks = 4
"""
LOG = {
    "head": ["S1", "S2"],
    "head_type": ["A", "A"],
    "role": ["model", "model"],
    "printer": ["P1", "P2"],
    "position": ["left", "left"],
    "date_in": ["2025-01-01", "2025-01-01"],
    "hours_in": [0.0, 0.0],
    "date_out": ["2025-05-01", "2025-05-01"],
    "hours_out": [100.0, 200.0],
    "reason": ["worn", None],
}


def no_utf8():
    ends = pa.py_buffer(np.array([0, 2, 4], np.int32))
    return pa.Array.from_buffers(pa.string(), 2, [None, ends, pa.py_buffer(b"\xff\xfeS2")])


@pytest.mark.parametrize(
    ("column", "values", "said"),
    [
        ("date_in", pa.array([2**62, 0], pa.timestamp("us")), "no days of any calendar"),
        ("date_in", pa.array([2**62, 0], pa.timestamp("ms")), "no days of any calendar"),
        ("date_in", pa.array([-(2**62), 0], pa.timestamp("ms")), "no days of any calendar"),
        (
            "date_in",
            pa.array([0, 1], pa.timestamp("us", tz="Mars/Hall")),
            "no days of any calendar",
        ),
        ("date_out", pa.array([2**31 - 1, 1], pa.date32()), "no days of any calendar"),
        ("head", no_utf8(), "no UTF-8"),
    ],
)
def test_times_and_texts_that_are_none_are_named_with_their_column(tmp_path, column, values, said):
    (tmp_path / "shop.toml").write_text(SETTINGS)
    shop = hl.read_shop(tmp_path / "shop.toml")
    folder = tmp_path / "logs"
    folder.mkdir()
    table = pa.table({name: pa.array(cells) for name, cells in LOG.items()} | {column: values})
    pq.write_table(table, folder / "log.parquet")
    with pytest.raises(RecordsError, match=f"column '{column}': it holds .*{said}"):
        hl.read_records(folder / "log.parquet", shop)
    with pytest.raises(RecordsError, match=f"column '{column}': it holds .*{said}"):
        review_files([folder], shop)


def test_cells_that_point_to_no_text_are_a_sentence():
    # Met by `studies.fuzz`; a sound writer cannot write it, so the column is built in memory.
    texts, places = pa.array(["S1"]), pa.array([0, 5], pa.int32())
    column = pa.DictionaryArray.from_arrays(places, texts, safe=False)
    with pytest.raises(RecordsError, match="column 'head': it is damaged, cells point to texts"):
        _texts("log.parquet", "head", column)
