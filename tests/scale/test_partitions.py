"""Pieces of files, and which partition a row belongs to."""

from __future__ import annotations

import os
import shutil

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from headlife.errors import RecordsError
from headlife.scale.partitions import number_rows, partition_records, read_piece
from headlife.scale.pieces import list_pieces


def dealt(bureau, partitions):
    read = [read_piece(piece, bureau.shop, partitions) for piece in list_pieces([bureau.parts])]
    return [tables for tables, _ in read], [facts for _, facts in read]


def test_all_rows_of_a_head_meet_in_one_partition(bureau):
    tables, _ = dealt(bureau, 7)
    home: dict[str, int] = {}
    rows = 0
    for piece in tables:
        for partition, table in enumerate(piece):
            rows += table.num_rows
            for head in table.column("head").to_pylist():
                assert home.setdefault(head, partition) == partition
    assert rows == len(bureau.table)
    # And they spread: no partition is more than half again as large as it should be.
    sizes = np.bincount(list(home.values()), minlength=7)
    assert sizes.max() < 1.5 * sizes.mean()


WIDE = {code: code + 0xFEE0 for code in range(ord("!"), ord("~") + 1)}


@pytest.mark.parametrize(
    "spelt",
    [
        lambda serial: f" {serial} ",
        lambda serial: f"\xa0{serial}",
        lambda serial: serial.translate(WIDE),
        lambda serial: serial.replace("-", "\u2013"),
    ],
    ids=["spaces", "no-break space", "full width", "dash"],
)
def test_serials_written_in_other_characters_are_the_same_head(spelt, bureau, tmp_path):
    table = bureau.table.copy()
    other = table["head"].map(spelt)
    table["head"] = table["head"].where(np.arange(len(table)) % 2 == 0, other)
    table.to_parquet(tmp_path / "a.parquet", index=False)
    tables, facts = read_piece(list_pieces([tmp_path])[0], bureau.shop, 5)
    heads = [
        set(records.accepted["head"])
        for records in (
            partition_records([part], number_rows([facts]), bureau.shop, "a") for part in tables
        )
    ]
    assert sum(map(len, heads)) == len(set.union(*heads)) == bureau.table["head"].nunique()


def test_rows_are_numbered_through_all_files(bureau):
    tables, facts = dealt(bureau, 3)
    before = number_rows(facts)
    rows = np.sort(
        np.concatenate(
            [
                partition_records(
                    [piece[i] for piece in tables], before, bureau.shop, "five files"
                ).accepted["row"]
                for i in range(3)
            ]
        )
    )
    sizes = [fact.rows for fact in facts]
    expected = np.concatenate(
        [np.arange(size) + 2 + sum(sizes[:i]) + i for i, size in enumerate(sizes)]
    )
    np.testing.assert_array_equal(rows, expected)


def test_row_groups_are_pieces_of_their_own(bureau, tmp_path):
    pq.write_table(pa.Table.from_pandas(bureau.table), tmp_path / "a.parquet", row_group_size=2000)
    pieces = list_pieces([tmp_path])
    assert len(pieces) == -(-len(bureau.table) // 2000)
    assert sum(piece.rows for piece in pieces) == len(bureau.table)


def test_blank_rows_are_no_rows_and_types_may_differ_between_files(bureau, tmp_path):
    first = bureau.table.iloc[:50].astype(str).replace({"None": "", "nan": ""})
    second = bureau.table.iloc[50:80]
    blank = pd.DataFrame({name: [None] for name in second.columns})
    first.to_csv(tmp_path / "a.csv", index=False)
    pd.concat([second.astype(object), blank]).convert_dtypes().to_parquet(tmp_path / "b.parquet")
    read = [read_piece(piece, bureau.shop, 1) for piece in list_pieces([tmp_path])]
    records = partition_records(
        [tables[0] for tables, _ in read], number_rows([f for _, f in read]), bureau.shop, "both"
    )
    assert records.rows_read == 80
    assert records.set_aside.empty
    assert records.accepted["hours_out"].tolist() == bureau.table["hours_out"][:80].tolist()


def damaged(path):
    data = bytearray(path.read_bytes())
    data[4:400] = b"\xff" * 396
    path.write_bytes(bytes(data))


def test_bad_files_are_named(bureau, tmp_path):
    with pytest.raises(RecordsError, match="file 'nowhere.parquet' does not exist"):
        list_pieces(["nowhere.parquet"])
    with pytest.raises(RecordsError, match="holds no Parquet or CSV file"):
        list_pieces([tmp_path])
    with pytest.raises(RecordsError, match="at least one file"):
        list_pieces([])
    with pytest.raises(RecordsError, match="is named twice"):
        list_pieces([bureau.whole, bureau.whole])
    (tmp_path / "a.xlsx").write_bytes(b"PK")
    with pytest.raises(RecordsError, match=r"a\.xlsx: many files are read as Parquet or CSV"):
        list_pieces([tmp_path / "a.xlsx"])
    (tmp_path / "b.parquet").write_bytes(b"PAR1 nothing of the kind")
    with pytest.raises(RecordsError, match=r"b\.parquet: this is not a sound Parquet file"):
        list_pieces([tmp_path / "b.parquet"])


def test_bad_pieces_are_named(bureau, tmp_path):
    bureau.table.to_parquet(tmp_path / "a.parquet", index=False)
    piece = list_pieces([tmp_path / "a.parquet"])[0]
    damaged(tmp_path / "a.parquet")
    with pytest.raises(RecordsError, match=r"a\.parquet: row group 0 cannot be read"):
        read_piece(piece, bureau.shop, 2)
    bureau.table.drop(columns="hours_out").to_parquet(tmp_path / "b.parquet", index=False)
    with pytest.raises(RecordsError, match=r"b\.parquet: the column 'hours_out'.* is missing"):
        read_piece(list_pieces([tmp_path / "b.parquet"])[0], bureau.shop, 2)
    nested = bureau.table.iloc[:2].assign(printer=[["P1"], ["P2"]])
    nested.to_parquet(tmp_path / "c.parquet", index=False)
    with pytest.raises(RecordsError, match=r"c\.parquet: the column 'printer' holds list"):
        read_piece(list_pieces([tmp_path / "c.parquet"])[0], bureau.shop, 2)


def copied(bureau, tmp_path):
    folder = tmp_path / "parts"
    shutil.copytree(bureau.parts, folder)
    return folder


@pytest.mark.parametrize("name", ["more.xlsx", "more.csv.gz", "more.zip", "more.ods", "more.json"])
def test_a_file_whose_rows_would_be_left_out_is_named(bureau, tmp_path, name):
    folder = copied(bureau, tmp_path)
    (folder / name).write_bytes(b"x")
    with pytest.raises(RecordsError, match=rf"holds {name} as well, whose rows would be left out"):
        list_pieces([folder])


def test_a_folder_inside_is_named_where_it_holds_tables(bureau, tmp_path):
    folder = copied(bureau, tmp_path)
    (folder / "pictures").mkdir()
    (folder / "pictures" / "head.png").write_bytes(b"x")
    assert len(list_pieces([folder])) == len(list_pieces([bureau.parts]))
    (folder / "2019" / "spring").mkdir(parents=True)
    (folder / "2019" / "spring" / "log.csv").write_text("x")
    with pytest.raises(RecordsError, match="holds 2019 as well"):
        list_pieces([folder])


def test_what_headlife_wrote_beside_the_logs_is_no_log(bureau, tmp_path):
    folder = copied(bureau, tmp_path)
    for name in ("part_0000.check.csv", "part_0000.check.xlsx", "hall.evidence.json", ".DS_Store"):
        (folder / name).write_text("row,problem\n")
    assert len(list_pieces([folder])) == len(list_pieces([bureau.parts]))


def test_what_systems_and_open_workbooks_leave_in_a_folder_is_no_log(bureau, tmp_path):
    """`~$log.xlsx`, of a workbook open elsewhere, was asked to be saved as CSV; so was __MACOSX."""
    folder = copied(bureau, tmp_path)
    for name in ("~$log.xlsx", "._part_0000.csv", "Thumbs.db", "desktop.ini", "Icon\r"):
        (folder / name).write_bytes(b"x")
    (folder / "__MACOSX").mkdir()
    (folder / "__MACOSX" / "._part_0000.csv").write_bytes(b"x")
    (folder / "pictures").mkdir()
    (folder / "pictures" / "again").symlink_to(folder / "pictures")
    assert len(list_pieces([folder])) == len(list_pieces([bureau.parts]))


@pytest.mark.parametrize("inside", [True, False])
def test_a_pipe_or_a_device_among_the_files_does_not_wait_for_ever(bureau, tmp_path, inside):
    folder = copied(bureau, tmp_path)
    os.mkfifo(folder / "pipe.csv")
    with pytest.raises(RecordsError, match=r"pipe\.csv is a device, a pipe"):
        list_pieces([folder if inside else folder / "pipe.csv"])
    (folder / "pipe.csv").unlink()
    (folder / "zero.csv").symlink_to("/dev/zero")
    with pytest.raises(RecordsError, match=r"zero\.csv is a device, a pipe"):
        list_pieces([folder])
