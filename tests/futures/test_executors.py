"""Whoever works on a simulation or the back-test, the answer has the same bytes."""

from __future__ import annotations

import multiprocessing
import pickle
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.decisions.backtest import _Quarter
from headlife.fleet.state import Fleet
from headlife.futures.demand import KnownLife
from headlife.futures.forecast import FUTURES_ALONE, PRINTERS_TOGETHER, forecast_fleet
from headlife.life.groups import Group
from studies.calibration import CASES, calibrate

DEMO = Path(__file__).parents[2] / "data_demo"
AS_OF = "2025-06-30"
LINNET = """
[new_printers."Linnet"]
begins = 2026-12-01
weekly_hours = 20
model = "Fibre"
support = "Standard"
site = "Harbour Hall"
"""


@contextmanager
def threads():
    with ThreadPoolExecutor(2) as executor:
        yield executor


@contextmanager
def processes():
    # Started afresh, as on every system: nothing of this process is there but what is sent.
    spawn = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(2, mp_context=spawn) as executor:
        yield executor


@contextmanager
def dask():
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=":0", host="127.0.0.1"
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        yield client.get_executor()


class Backwards(Executor):
    """Works on pieces in an order of its own, each on a copy, as a far worker does."""

    def __init__(self):
        self.pieces = 0

    def submit(self, function, /, *given, **named):
        future = Future()
        function, given = pickle.loads(pickle.dumps((function, given)))
        future.set_result(function(*given, **named))
        return future

    def map(self, function, *iterables, timeout=None, chunksize=1):
        pieces = list(zip(*iterables, strict=True))
        self.pieces += len(pieces)
        futures = [self.submit(function, *piece) for piece in reversed(pieces)]
        return (future.result() for future in reversed(futures))


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    file = tmp_path_factory.mktemp("demo") / "shop.toml"
    text = (DEMO / "shop.toml").read_text(encoding="utf-8") + LINNET
    file.write_text(text.replace("[review]", "[review]\ndraws = 300"), encoding="utf-8")
    shop = hl.read_shop(file)
    return hl.read_records(DEMO / "removals.csv", shop), shop


@pytest.fixture(scope="module")
def alone(demo):
    records, shop = demo
    return (
        hl.backtest(records, shop, AS_OF, draws=200),
        hl.spares_study(records, shop),
        hl.quarterly_review(records, shop),
    )


def same_bytes(one, other):
    """Compare results field by field, tables and arrays to the last bit."""
    if isinstance(one, pd.DataFrame):
        pd.testing.assert_frame_equal(one, other, check_exact=True)
    elif isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, other)
    elif isinstance(one, dict):
        assert list(one) == list(other)
        for key in one:
            same_bytes(one[key], other[key])
    elif isinstance(one, (list, tuple)):
        assert len(one) == len(other)
        for mine, yours in zip(one, other, strict=True):
            same_bytes(mine, yours)
    elif hasattr(one, "__dataclass_fields__"):
        for name in one.__dataclass_fields__:
            same_bytes(getattr(one, name), getattr(other, name))
    else:
        assert one == other or (one != one and other != other)


@pytest.mark.parametrize("workers", [threads, processes, dask])
def test_every_answer_is_the_same_with_any_executor(workers, demo, alone):
    records, shop = demo
    steps = []
    with workers() as executor:
        found = hl.backtest(
            records,
            shop,
            AS_OF,
            draws=200,
            executor=executor,
            progress=lambda *step: steps.append(step),
        )
        study = hl.spares_study(records, shop, executor=executor)
        review = hl.quarterly_review(records, shop, executor=executor)
    past, alone_study, alone_review = alone
    same_bytes(found, past)
    # Progress counts every quarter once, in order.
    quarters = found.quarters["quarter"].nunique()
    assert quarters > 3
    assert [done for _, done, _ in steps] == list(range(quarters + 1))
    same_bytes((study.budget, study.weekly), (alone_study.budget, alone_study.weekly))
    same_bytes((study.stock, review.stock), (alone_study.stock, alone_review.stock))
    same_bytes(review.last_quarter, alone_review.last_quarter)


@pytest.mark.parametrize(("draws", "pieces"), [(FUTURES_ALONE, 3), (500, 3)])
def test_a_large_fleet_is_divided_and_the_answer_is_not(demo, draws, pieces):
    _, shop = demo
    count = 2 * PRINTERS_TOGETHER + 5
    rng = np.random.default_rng(4)
    positions = pd.DataFrame(
        {
            "head": [f"H{n}" for n in range(count)],
            "head_type": "Standard",
            "role": "model",
            "site": "here",
            "printer": [f"P{n:03d}" for n in range(count)],
            "position": "left",
            "age_hours": rng.uniform(0.0, 1200.0, count),
            "weekly_hours": rng.uniform(10.0, 60.0, count),
            "share_of_hours": 1.0,
        }
    )
    shelf = positions.head(0)[["head", "head_type", "role", "site", "age_hours"]]
    lives = {Group("Standard", "model"): [KnownLife(2.2, 1800.0)]}
    given = (lives, shop, 19, pd.Timestamp("2026-01-05"), draws)
    helper = Backwards()
    one = forecast_fleet(Fleet(positions, shelf), *given)
    other = forecast_fleet(Fleet(positions[::-1], shelf), *given, executor=helper)
    same_bytes(one.swaps, other.swaps)
    assert helper.pieces == pieces
    assert one.demand().mean > 0


def test_a_quarter_is_a_piece_that_can_be_sent(demo):
    records, shop = demo
    case = hl.Case(records, shop, "2026-03-31")
    piece = _Quarter(case, pd.Timestamp("2026-06-30"), 200)
    sent = pickle.loads(pickle.dumps(piece))
    assert sent.compare() == piece.compare()
    assert sent.case.shop.sha256 == shop.sha256


def test_simulated_shops_are_the_same_with_any_executor():
    alone = calibrate(CASES[0], shops=3, draws=100)
    same_bytes(calibrate(CASES[0], shops=3, draws=100, executor=Backwards()), alone)
