"""Many files on a cluster give the answer of one table in one process, come what may."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import CancelledError

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.errors import HeadlifeError, RecordsError
from headlife.scale.cluster import review_files
from studies.large_fleet import write_fleet


def evidence_of(review):
    return [stratum.evidence for stratum in review.strata]


def assert_same_evidence(found, wanted, relative):
    assert [one.group for one in found] == [one.group for one in wanted]
    for one, other in zip(found, wanted, strict=True):
        assert one.heads == other.heads
        assert list(one.modes) == list(other.modes)
        for mode, evidence in one.modes.items():
            expected = other.modes[mode]
            assert evidence.failures == expected.failures
            assert evidence.heads == expected.heads
            np.testing.assert_allclose(evidence.log_sum, expected.log_sum, rtol=relative)
            np.testing.assert_allclose(
                evidence.log_curve, expected.log_curve, rtol=relative, atol=relative
            )


@pytest.mark.parametrize("as_of", [None, "2018-06-30"])
@pytest.mark.parametrize("partitions", [1, 4, 37])
def test_any_partitioning_gives_the_answer_of_one_process(bureau, partitions, as_of):
    found = review_files([bureau.parts], bureau.shop, as_of=as_of, partitions=partitions)
    # One process, one table.
    case = hl.read_case(bureau.whole, bureau.shop, as_of=as_of)
    wanted = hl.quarterly_review(case)
    assert found.rows_read == len(bureau.table)
    assert sum(stratum.heads for stratum in found.strata) == len(case.lives)
    assert len(found.fleet.shelf) == case.lives["on_shelf"].sum()
    assert_same_evidence(evidence_of(found), case.evidence, 1e-12)
    pd.testing.assert_frame_equal(found.fleet.positions, case.fleet.positions, check_exact=True)
    for one, other in zip(found.strata, wanted.strata, strict=True):
        assert one.verdict.verdict == other.verdict.verdict
        assert one.verdict.probability == pytest.approx(other.verdict.probability, abs=1e-9)
        assert one.verdict.bounds == pytest.approx(other.verdict.bounds, abs=1e-9)
    np.testing.assert_allclose(found.stock[0].demand.pmf, wanted.stock[0].demand.pmf, atol=1e-9)
    assert found.stock[0].plan.stock_level == wanted.stock[0].plan.stock_level


def test_csv_and_parquet_say_the_same(bureau, tmp_path):
    write_fleet(tmp_path, bureau.table, 3, "csv")
    by_csv = review_files([tmp_path], bureau.shop, partitions=3)
    by_parquet = review_files([bureau.parts], bureau.shop, partitions=3)
    assert_same_evidence(evidence_of(by_csv), evidence_of(by_parquet), 0.0)
    pd.testing.assert_frame_equal(by_csv.fleet.positions, by_parquet.fleet.positions)


def faulty(table):
    """Rows that must be set aside, heads with two stories, a removal nobody wrote down."""
    table = table.copy()
    middle = len(table) // 2
    table.loc[middle, "hours_out"] = -5.0
    table.loc[middle + 1, "date_out"] = table.loc[middle + 1, "date_in"] - pd.Timedelta(days=9)
    table.loc[7, "head"] = None
    worn = table.index[table["reason"] == "worn out"][40]
    again = table.loc[[worn]].copy()
    again["date_in"] = again["date_out"] = table["date_out"].max()
    again["reason"] = again["reason"].where([False])
    swapped = table.index[table["reason"] == "swap at rating"][60]
    table.loc[swapped, "reason"] = None
    return pd.concat([table, again.astype(table.dtypes), table.iloc[[100]]], ignore_index=True)


@pytest.mark.parametrize("partitions", [1, 11])
def test_faults_are_found_as_in_one_table(bureau, tmp_path, partitions):
    table = faulty(bureau.table)
    whole = tmp_path / "whole.parquet"
    table.to_parquet(whole, index=False)
    files = tmp_path / "files"
    files.mkdir()
    write_fleet(files, table, 4)
    shop = bureau.shop.with_(review={"set_aside": "continue"})
    found = review_files([files], shop, partitions=partitions)
    case = hl.read_case(whole, shop)
    records = case.records
    assert found.rows_read == len(table) == found.rows_accepted + len(found.set_aside)
    assert len(records.set_aside) >= 5
    # Rows are numbered through all files, each with a header of its own.
    place = found.set_aside["row"].to_numpy()
    size = np.diff(np.linspace(0, len(table), 5).astype(int))
    headers = np.searchsorted(np.cumsum(size + 1), place, side="left")
    assert (place - headers).tolist() == records.set_aside["row"].tolist()
    assert found.set_aside["column"].tolist() == records.set_aside["column"].tolist()
    assert_same_evidence(evidence_of(found), case.evidence, 1e-12)
    pd.testing.assert_frame_equal(found.fleet.positions, case.fleet.positions)


def test_rows_set_aside_stop_and_are_named_by_file_and_row(bureau, tmp_path):
    table = bureau.table.copy()
    table.loc[len(table) - 1, "hours_out"] = -5.0
    paths = write_fleet(tmp_path, table, 4)
    rows = len(pd.read_parquet(paths[3]))
    with pytest.raises(RecordsError, match=rf"part_0003\.parquet, row {rows + 1}, hours_out '-5'"):
        review_files([tmp_path], bureau.shop, partitions=5)


@pytest.mark.slow
def test_a_killed_worker_loses_nothing_and_changes_no_digit(bureau):
    from distributed import Client, LocalCluster

    quiet = review_files([bureau.parts], bureau.shop, partitions=8)
    with (
        LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            dashboard_address=":0",
            host="127.0.0.1",
            memory_limit="2GB",
        ) as cluster,
        Client(cluster) as client,
    ):
        killed: list[int] = []
        done = threading.Event()
        killer = threading.Thread(target=_kill_one_that_holds_results, args=(client, killed, done))
        killer.start()
        try:
            disturbed = review_files([bureau.parts], bureau.shop, partitions=8, client=client)
        finally:
            done.set()
            killer.join()
    assert killed, "no worker was killed while it held results"
    for one, other in zip(evidence_of(disturbed), evidence_of(quiet), strict=True):
        for mode, evidence in one.modes.items():
            assert evidence.log_sum == other.modes[mode].log_sum
            assert evidence.log_curve.tobytes() == other.modes[mode].log_curve.tobytes()
    pd.testing.assert_frame_equal(
        disturbed.fleet.positions, quiet.fleet.positions, check_exact=True
    )
    assert disturbed.rows_read == quiet.rows_read == len(bureau.table)
    assert disturbed.stock[0].demand.pmf.tobytes() == quiet.stock[0].demand.pmf.tobytes()


def _kill_one_that_holds_results(client, killed, done):
    """Kill, as the kernel would, a worker that holds results others still need."""
    pids = client.run(os.getpid)
    while not done.is_set():
        for worker, keys in client.has_what().items():
            if any("read_piece" in str(key) or "_partition" in str(key) for key in keys):
                os.kill(pids[worker], signal.SIGKILL)
                killed.append(pids[worker])
                return
        time.sleep(0.002)


def test_nothing_else_imports_dask():
    script = (
        "import importlib, pkgutil, sys, headlife\n"
        "for m in pkgutil.walk_packages(headlife.__path__, 'headlife.'):\n"
        "    importlib.import_module(m.name)\n"
        "assert not {'dask', 'distributed'} & set(sys.modules), 'dask was imported'\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_without_dask_the_extra_is_named(bureau, monkeypatch):
    monkeypatch.setitem(sys.modules, "dask", None)
    with pytest.raises(HeadlifeError, match=r"install headlife\[scale\]"):
        review_files([bureau.parts], bureau.shop, partitions=2)
    # A folder that fits one table needs none.
    assert review_files([bureau.parts], bureau.shop).left_out == ()


def test_no_partition_is_refused(bureau):
    with pytest.raises(HeadlifeError, match="1 or more; got 0"):
        review_files([bureau.parts], bureau.shop, partitions=0)


def test_a_day_before_all_records_is_refused(bureau):
    with pytest.raises(RecordsError, match="on record on 2001-01-01; choose a later day"):
        review_files([bureau.parts], bureau.shop, as_of="2001-01-01", partitions=3)


@pytest.mark.parametrize("partitions", [1, 7])
def test_a_slip_of_the_year_is_set_aside_as_in_one_table(bureau, tmp_path, partitions):
    """One head's reading of 2126 made a folder answer as of 2126, a century after every other."""
    table = bureau.table.copy()
    place = table.index[table["reason"].isna()][3]
    table.loc[place, "date_out"] = pd.Timestamp("2126-02-01")
    files = tmp_path / "files"
    files.mkdir()
    write_fleet(files, table, 3)
    whole = tmp_path / "whole.parquet"
    table.to_parquet(whole, index=False)
    shop = bureau.shop.with_(review={"set_aside": "continue"})
    found, case = review_files([files], shop, partitions=partitions), hl.read_case(whole, shop)
    assert found.as_of == case.day < pd.Timestamp("2100-01-01")
    assert found.set_aside["problem"].tolist() == case.records.set_aside["problem"].tolist()
    assert "lies after today" in found.set_aside["problem"].iloc[0]
    pd.testing.assert_frame_equal(found.fleet.positions, case.fleet.positions)
    with pytest.raises(RecordsError, match="date_out '2126-02-01.* lies after today"):
        review_files([files], bureau.shop, partitions=partitions)


@pytest.mark.parametrize("fault", [CancelledError("lost"), OSError("closed")])
def test_a_cluster_that_is_lost_is_a_sentence(bureau, fault):
    class Lost:
        def compute(self, tasks):
            return tasks

        def gather(self, futures):
            raise fault

    with pytest.raises(HeadlifeError, match="was lost before it had answered .*; nothing was"):
        review_files([bureau.parts], bureau.shop, partitions=2, client=Lost())
