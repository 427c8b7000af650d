"""Many files on a cluster give the answer of one table in one process, come what may."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time

import numpy as np
import pandas as pd
import pytest

from headlife.decisions.rating import judge_rating
from headlife.decisions.spares.stock import plan_stock
from headlife.errors import HeadlifeError, RecordsError
from headlife.futures.demand import forecast_demand
from headlife.futures.distribution import Demand
from headlife.life.posterior import fit_life
from headlife.life.reduction import stratum_evidence
from headlife.records.lives import in_service, lives
from headlife.records.table import read_records
from headlife.scale.cluster import review_files
from headlife.seeds import generator
from headlife.shop.policy_book import policies_on
from studies.large_fleet import write_fleet


def assert_same_evidence(found, wanted, relative):
    assert [s.key for s in found] == [s.key for s in wanted]
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
    # One process, one table: the functions of the quarterly review.
    records = read_records(bureau.whole, bureau.shop)
    known, here = lives(records, as_of), in_service(records, as_of)
    assert found.whole.rows_read == len(bureau.table)
    assert found.whole.heads == len(known)
    assert found.whole.on_shelf == known["on_shelf"].sum()
    assert_same_evidence(found.whole.strata, stratum_evidence(known, bureau.shop), 1e-12)
    pd.testing.assert_frame_equal(found.whole.positions, here, check_exact=True)
    demand = Demand.none(19.0)
    for stratum, wanted in zip(found.strata, stratum_evidence(known, bureau.shop), strict=True):
        verdict = judge_rating(fit_life(wanted.modes["wear"]), wanted.rated_hours)
        assert stratum.verdict.verdict == verdict.verdict
        assert stratum.verdict.probability == pytest.approx(verdict.probability, abs=1e-9)
        assert stratum.verdict.bounds == pytest.approx(verdict.bounds, abs=1e-9)
        mine = here[here["role"] == wanted.role]
        demand += forecast_demand(
            [fit_life(e) for e in wanted.modes.values() if e.all_failures or e is None],
            mine["age_hours"].to_numpy(),
            mine["weekly_hours"].to_numpy(),
            19.0,
            policies_on(bureau.shop, found.whole.day).of("Standard"),
            draws=500,
            seed=generator(1, "demand", "Standard", wanted.role),
        )
    np.testing.assert_allclose(found.stock[0].demand.pmf, demand.pmf, atol=1e-9)
    assert found.stock[0].plan.stock_level == plan_stock(demand, on_hand=10).stock_level


def test_csv_and_parquet_say_the_same(bureau, tmp_path):
    write_fleet(tmp_path, bureau.table, 3, "csv")
    by_csv = review_files([tmp_path], bureau.shop, partitions=3)
    by_parquet = review_files([bureau.parts], bureau.shop, partitions=3)
    assert_same_evidence(by_csv.whole.strata, by_parquet.whole.strata, 0.0)
    pd.testing.assert_frame_equal(by_csv.whole.positions, by_parquet.whole.positions)


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
    shop = bureau.shop.model_copy(
        update={"review": bureau.shop.review.model_copy(update={"set_aside": "continue"})}
    )
    found = review_files([files], shop, partitions=partitions).whole
    records = read_records(whole, shop)
    assert found.rows_read == len(table) == found.accepted + len(found.set_aside)
    assert len(records.set_aside) >= 5
    # Rows are numbered through all files, each with a header of its own.
    place = found.set_aside["row"].to_numpy()
    size = np.diff(np.linspace(0, len(table), 5).astype(int))
    headers = np.searchsorted(np.cumsum(size + 1), place, side="left")
    assert (place - headers).tolist() == records.set_aside["row"].tolist()
    assert found.set_aside["column"].tolist() == records.set_aside["column"].tolist()
    assert_same_evidence(found.strata, stratum_evidence(lives(records), shop), 1e-12)
    pd.testing.assert_frame_equal(found.positions, in_service(records))


def test_rows_set_aside_stop_and_are_named_by_file_and_row(bureau, tmp_path):
    table = bureau.table.copy()
    table.loc[len(table) - 1, "hours_out"] = -5.0
    paths = write_fleet(tmp_path, table, 4)
    rows = len(pd.read_parquet(paths[3]))
    with pytest.raises(RecordsError, match=rf"part_0003\.parquet, row {rows + 1}, hours_out '-5'"):
        review_files([tmp_path], bureau.shop, partitions=5)


@pytest.mark.slow
@pytest.mark.xdist_group("cluster")
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
    for one, other in zip(disturbed.whole.strata, quiet.whole.strata, strict=True):
        for mode, evidence in one.modes.items():
            assert evidence.log_sum == other.modes[mode].log_sum
            assert evidence.log_curve.tobytes() == other.modes[mode].log_curve.tobytes()
    pd.testing.assert_frame_equal(
        disturbed.whole.positions, quiet.whole.positions, check_exact=True
    )
    assert disturbed.whole.rows_read == quiet.whole.rows_read == len(bureau.table)
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
        review_files([bureau.parts], bureau.shop)


def test_no_partition_is_refused(bureau):
    with pytest.raises(HeadlifeError, match="1 or more; got 0"):
        review_files([bureau.parts], bureau.shop, partitions=0)


def test_a_day_before_all_records_is_refused(bureau):
    with pytest.raises(RecordsError, match="on record on 2001-01-01; choose a later day"):
        review_files([bureau.parts], bureau.shop, as_of="2001-01-01", partitions=3)
