"""What a large fleet must not pay for: answers that nobody sees, and sentences known at once."""

from __future__ import annotations

import gc
import json
import shutil
import weakref

import pytest
from tests.show.conftest import DEMO

from headlife.cli import main
from headlife.decisions import backtest as back

SHOP = ["--shop", "shop.toml"]


@pytest.fixture
def here(tmp_path, monkeypatch):
    for name in ("removals.csv", "shop.toml"):
        shutil.copy(DEMO / name, tmp_path)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def forecast(monkeypatch):
    """The days from which past quarters are forecast."""
    days = []
    real = back.forecast_beside

    def noted(case, until, draws):
        days.append(case.day)
        return real(case, until, draws=50)

    monkeypatch.setattr(back, "forecast_beside", noted)
    return days


def test_spares_forecasts_no_past_quarter_that_it_does_not_show(here, capsys, forecast):
    """A log of 83,000 rows took ten minutes, eight of them for quarters that no line tells of."""
    assert main(["spares", "removals.csv", *SHOP]) == 0
    assert "For the last full quarter (2026 Q3) we would have said" in capsys.readouterr().out
    assert [f"{day:%Y-%m-%d}" for day in forecast] == ["2026-06-30"]
    assert main(["spares", "removals.csv", *SHOP, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["backtest"]
    assert len(told["quarters"]) > 2 and len(forecast) > 3


def test_a_back_test_keeps_the_records_of_one_quarter_only(demo, monkeypatch):
    """Every quarter's lives stayed in memory until the last was forecast."""
    alive = []

    def kept(case, until, draws):
        gc.collect()
        assert sum(lives() is not None for lives in alive) <= 1
        alive.append(weakref.ref(case.lives))
        return []

    monkeypatch.setattr(back, "forecast_beside", kept)
    records, _ = demo
    back.backtest(records, records.shop)
    assert len(alive) > 5


@pytest.mark.parametrize(
    ("command", "work"),
    [
        ("replace", "headlife.decisions.review.quarterly_review"),
        ("plan", "headlife.decisions.plan.build_plan.build_plan"),
    ],
)
def test_costs_that_are_missing_are_named_before_the_work(here, capsys, monkeypatch, command, work):
    """They were named after it, seven and three minutes into a large log."""
    text = (here / "shop.toml").read_text(encoding="utf-8")
    (here / "shop.toml").write_text(text.replace("price = 310.0\n", ""), encoding="utf-8")

    def never(*_, **__):
        raise AssertionError("reviewed all the same")

    monkeypatch.setattr(work, never)
    assert main([command, "removals.csv", *SHOP]) == 2
    assert '[head_types."Standard"] price; add it' in capsys.readouterr().err
