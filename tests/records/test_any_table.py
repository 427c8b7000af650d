"""Whatever is in a table: nothing lost, nothing named twice, and what is accepted is sound.

2,050 generated tables, with every fault of `messy_tables` singly and mixed, and with garbage.
"""

from __future__ import annotations

import zlib
from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.records.messy_tables import FAULTS, garbage, histories, spoilt
from tests.records.small_shop import SETTINGS, as_csv

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.audit import audit
from headlife.records.lives import in_service, two_readings

TODAY = date(2026, 1, 1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("tables")


@pytest.fixture(scope="module")
def small(folder):
    (folder / "shop.toml").write_text(SETTINGS)
    return hl.read_shop(folder / "shop.toml")


def any_table(examples: int):
    return settings(
        max_examples=examples,
        deadline=None,
        derandomize=True,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
    )


def check(text: str, rows: int | None, folder, shop) -> None:
    """Read a table and assert every law of reading; a table refused as a whole is fine."""
    path = folder / "log.csv"
    path.write_bytes(text.encode("utf-8", errors="surrogatepass"))
    try:
        records = hl.read_records(path, shop, unknown="set aside")
    except RecordsError as refused:
        assert str(refused).startswith("log.csv")
        return
    accepted, aside = records.accepted, records.set_aside
    assert len(accepted) + len(aside) + len(records.no_records) == records.rows_read
    assert rows is None or records.rows_read == rows
    assert aside["row"].is_unique
    assert accepted["row"].is_unique
    assert not set(aside["row"]) & set(accepted["row"])
    assert not set(records.no_records["row"]) & {*aside["row"], *accepted["row"]}
    assert records.no_records["why"].str.len().gt(5).all()
    assert aside["problem"].str.len().gt(10).all()
    assert len(records.sentences()) == len(aside)
    assert_sound(accepted, shop)
    if zlib.crc32(text.encode("utf-8", errors="surrogatepass")) % 5 == 0:  # the slower part
        audit(records, today=TODAY)
        if len(accepted) and not records.questions:
            assert_lives(records)
    if len(accepted):
        records.write_accepted(folder / "again.csv")
        again = hl.read_records(folder / "again.csv", shop, unknown="set aside")
        assert again.set_aside.empty
        pd.testing.assert_frame_equal(
            again.accepted.drop(columns="row"), accepted.drop(columns="row")
        )
        pd.testing.assert_frame_equal(
            again.findings[["check", "head"]], records.findings[["check", "head"]]
        )


def assert_sound(accepted: pd.DataFrame, shop) -> None:
    """What every accepted row satisfies, written without the code under test."""
    names = accepted[["head", "head_type", "role", "printer", "position"]]
    assert names.map(lambda name: isinstance(name, str) and name == name.strip() != "").all(None)
    assert accepted["role"].isin(["model", "support"]).all()
    assert accepted["head_type"].isin(list(shop.head_types)).all()
    assert accepted["hours_in"].between(0, 1e6).all()
    assert (accepted["hours_out"] >= accepted["hours_in"]).all()
    assert accepted["hours_out"].le(1e6).all()
    days = (accepted["date_out"].dt.normalize() - accepted["date_in"].dt.normalize()).dt.days
    assert (days >= 0).all()
    assert (accepted["hours_out"] - accepted["hours_in"] <= 24 * (days + 1)).all()
    meant = accepted[["mode", "suspension"]].notna().sum(axis=1)
    assert (meant == accepted["reason"].notna()).all()
    assert (accepted.loc[accepted["mode"].notna(), "hours_out"] > 0).all()
    assert accepted.groupby("head")["head_type"].nunique().eq(1).all()
    assert not accepted.duplicated(["head", "printer", "position", "date_in", "hours_in"]).any()
    for _, own in accepted.groupby("head"):
        failed = own[own["mode"].notna()]
        assert len(failed) <= 1
        if len(failed):
            assert failed["hours_out"].iloc[0] == own["hours_out"].max()


def assert_lives(records) -> None:
    lives = hl.lives(records)
    accepted = records.accepted
    assert lives["head"].tolist() == sorted(accepted["head"].unique())
    assert (lives["exit_hours"] >= lives["entry_hours"]).all()
    assert lives["installations"].sum() == len(accepted)
    best = accepted.groupby("head")[["hours_in", "hours_out"]].agg({"hours_in": "min"})
    assert np.array_equal(lives["entry_hours"], best["hours_in"])
    assert lives["mode"].notna().sum() == accepted["mode"].notna().sum()
    service = in_service(records)
    assert set(service["head"]) == set(lives.loc[lives["in_service"], "head"])
    assert (service["age_hours"] >= service["reading_hours"]).all()
    assert np.isfinite(service["weekly_hours"]).all()
    both = two_readings(records)
    assert len(both.as_failures) == len(both.as_suspensions) == len(lives)
    middle = (
        accepted["date_in"].min() + (accepted["date_out"].max() - accepted["date_in"].min()) / 2
    )
    earlier = hl.lives(records, as_of=middle).set_index("head")
    now = lives.set_index("head").loc[earlier.index]
    assert (earlier["exit_hours"] <= now["exit_hours"] + 1e-9).all()


@given(rows=histories())
@any_table(100)
def test_sound_logs_are_accepted_whole(rows, folder, small):
    check(as_csv(rows), len(rows), folder, small)
    (folder / "log.csv").write_text(as_csv(rows))
    assert hl.read_records(folder / "log.csv", small).set_aside.empty


@pytest.mark.parametrize("half", [0, 1])
@given(data=st.data())
@any_table(400)
def test_single_faults(half, data, folder, small):
    faults = tuple(FAULTS)[half::2]
    rows = data.draw(spoilt(faults, at_most=1))
    check(as_csv(rows), len(rows), folder, small)


@pytest.mark.parametrize("at_most", [4, 12])
@given(data=st.data())
@any_table(350)
def test_mixed_faults(at_most, data, folder, small):
    rows = data.draw(spoilt(at_most=at_most))
    delimiter = data.draw(st.sampled_from(",;\t|"))
    check(as_csv(rows, delimiter=delimiter), len(rows), folder, small)


@given(rows=garbage())
@any_table(300)
def test_garbage_in_the_cells(rows, folder, small):
    check(as_csv(rows), None, folder, small)


@given(text=st.text(max_size=300), cut=st.integers(0, 400))
@any_table(150)
def test_garbage_instead_of_a_table(text, cut, folder, small):
    check(text, None, folder, small)
    check(as_csv([])[:cut] + text, None, folder, small)
