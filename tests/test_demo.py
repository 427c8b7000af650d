"""The demo shop is what its README says: reproducible, complete and true to its truth."""

from __future__ import annotations

import zipfile
from datetime import date
from pathlib import Path
from xml.etree.ElementTree import canonicalize

import numpy as np
import pandas as pd
import pytest
from data_demo import generate, messy

import headlife as hl
from headlife.records.audit import audit

FOLDER = Path(generate.__file__).parent
TODAY = date(2026, 10, 1)


@pytest.fixture(scope="module")
def records():
    return hl.read_records(FOLDER / "removals.csv", hl.read_shop(FOLDER / "shop.toml"))


@pytest.mark.parametrize("name", ["removals.csv", "lifetimes.csv"])
def test_the_generator_writes_the_same_bytes_again(name, tmp_path):
    generate.main(tmp_path)
    assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes()


def test_the_log_has_the_size_and_variety_that_its_readme_states(records):
    rows = records.accepted
    lives = hl.lives(records)
    assert records.set_aside.empty
    assert records.unused_columns == ()
    assert len(rows) == 241
    assert len(lives) == 75
    assert rows["printer"].nunique() == 11
    assert rows["site"].nunique() == 2
    assert rows.groupby("printer")["position"].nunique().eq(2).all()
    assert lives["in_service"].sum() == 22
    assert lives["on_shelf"].sum() == 14
    assert lives["mode"].value_counts().to_dict() == {"wear": 9, "damage": 6}
    assert set(rows["suspension"].dropna()) == {"planned swap", "material change"}
    moved = rows.groupby("head")["printer"].nunique()
    assert (moved > 1).sum() >= 10
    assert rows["date_in"].min().date() == generate.FIRST_DAY
    assert rows["date_out"].max().date() == generate.LAST_DAY
    used = lives[lives["entry_hours"] > 0]
    assert sorted(used["entry_hours"]) == sorted(sum(generate.USED_PRINTERS.values(), ()))


def test_no_installation_prints_more_than_the_day_has_hours(records):
    rows = records.accepted
    days = (rows["date_out"] - rows["date_in"]).dt.days
    assert (rows["hours_out"] - rows["hours_in"] <= 24.0 * days).all()


def test_the_three_verdicts_of_the_readme(records):
    strata = hl.quarterly_review(records, records.shop).strata
    assert {(s.head_type, s.role): s.verdict.verdict for s in strata} == {
        ("Standard", "support"): "holds",
        ("Standard", "model"): "not settled",
        ("Fibre", "model"): "falls short",
    }


def test_heads_wear_as_the_stated_truth_says():
    # Law of the Weibull distribution: (t/scale)^shape of the lives drawn is standard exponential,
    # also for heads that enter with hours, counted from their entry.
    shop = generate.Shop(np.random.default_rng(5))
    shape, scale = generate.WEAR["Fibre", "model"]
    for age in (0, 4000):
        drawn = np.array([shop.new_head("model", "fibre grey", age).worn_at for _ in range(4000)])
        beyond = (drawn / 10 / scale) ** shape - (age / 10 / scale) ** shape
        assert beyond.min() >= -1e-3
        assert abs(beyond.mean() - 1.0) < 4 / np.sqrt(4000)  # 4 standard errors
        assert abs(np.mean(beyond > np.log(2)) - 0.5) < 4 * 0.5 / np.sqrt(4000)


def _same_xml(part: bytes) -> str:
    """Give XML in its canonical form: libraries differ in how they write an empty element."""
    return canonicalize(part.decode())


def test_the_messy_copy_is_written_the_same_again(tmp_path):
    messy.main(tmp_path)
    for name in ("removals_messy_faults.csv", "shop_messy.toml"):
        assert (tmp_path / name).read_bytes() == (FOLDER / name).read_bytes()
    # Packed bytes may differ between versions of the packing library; the parts may not.
    with (
        zipfile.ZipFile(tmp_path / "removals_messy.xlsx") as new,
        zipfile.ZipFile(FOLDER / "removals_messy.xlsx") as old,
    ):
        assert new.namelist() == old.namelist()
        for name in new.namelist():
            assert _same_xml(new.read(name)) == _same_xml(old.read(name))


def test_every_planted_fault_is_found_and_nothing_else():
    shop = hl.read_shop(FOLDER / "shop_messy.toml")
    records = hl.read_records(FOLDER / "removals_messy.xlsx", shop, unknown="set aside")
    found = audit(records, today=TODAY)
    planted = pd.read_csv(FOLDER / "removals_messy_faults.csv")
    assert len(planted) >= 30
    named = {
        (int(row), one.check)
        for one in found.itertuples()
        for row in one.rows.split(" and ")[0].split(", ")
    }
    missed = set(zip(planted["row"], planted["check"], strict=True)) - named
    assert not missed
    # No false alarm: each row set aside, and each doubt, is about a row that was spoilt.
    aside = planted.loc[planted["check"] == "row set aside", "row"]
    assert sorted(records.set_aside["row"]) == sorted(aside)
    for one in found[found["severity"] != "error"].itertuples():
        rows = {int(row) for row in one.rows.split(", ")}
        assert rows & set(planted.loc[planted["check"] == one.check, "row"]), one.sentence


def test_no_false_alarm_on_the_clean_log(records):
    assert audit(records, today=TODAY).empty
