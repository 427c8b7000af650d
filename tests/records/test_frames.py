"""Every frame that passes between rooms is as its model says, on real records."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pandera.errors import SchemaErrors
from tests.records.small_shop import as_csv, rows_of

import headlife as hl
from headlife.case import Case
from headlife.records.audit import audit
from headlife.records.frames import FRAMES, columns_of, model
from headlife.records.lives import in_service
from headlife.shop import STANDARD_COLUMNS, Shop
from headlife.shop.columns import RESERVED

DEMO = Path(__file__).parents[2] / "data_demo"
OWN = ("operator", "bay")


def frames_of(records, shop: Shop) -> dict[str, pd.DataFrame]:
    lives = hl.lives(records)
    return {
        "accepted": records.accepted,
        "set_aside": records.set_aside,
        "no_records": records.no_records,
        "findings": audit(records),
        "lives": lives,
        "in_service": in_service(records),
        "shelf": Case(records, shop.with_(review={"set_aside": "continue"})).fleet.shelf,
    }


@pytest.fixture(params=["clean", "messy", "all columns"])
def frames(request, tmp_path, shop_with):
    if request.param == "all columns":
        shop = shop_with('[own_columns]\noperator = "Fitted by"\nbay = "bay"\n')
        more = {"lot": "L1", "vendor": "V", "date_bought": "2024-12-01", "refurbished": "no"}
        more |= {"printer_hours_in": "10", "printer_hours_out": "20", "Fitted by": "Ada", "bay": ""}
        rows = [row | more for row in rows_of()]
        rows.append(rows[0] | {"date_in": "soon", "head": "H9"})
        (tmp_path / "log.csv").write_text(as_csv(rows, list(rows[0])))
        return frames_of(hl.read_records(tmp_path / "log.csv", shop), shop), OWN
    table, settings = {
        "clean": ("removals.csv", "shop.toml"),
        "messy": ("removals_messy.xlsx", "shop_messy.toml"),
    }[request.param]
    shop = hl.read_shop(DEMO / settings)
    shop = shop.with_(intake={"decimal": "."})
    return frames_of(hl.read_records(DEMO / table, shop, unknown="set aside"), shop), ()


def test_real_frames_satisfy_their_models(frames):
    tables, own = frames
    assert set(tables) == set(FRAMES)
    for name, table in tables.items():
        pd.testing.assert_frame_equal(model(name, own).validate(table, lazy=True), table)


def test_a_model_refuses_what_is_not_its_frame():
    shop = hl.read_shop(DEMO / "shop.toml")
    lives = hl.lives(hl.read_records(DEMO / "removals.csv", shop))
    wrong = {
        "a column missing": lives.drop(columns="exit_hours"),
        "a column too many": lives.assign(mood="good"),
        "hours that run backwards": lives.assign(entry_hours=lives["exit_hours"] + 1),
        "a head twice": pd.concat([lives, lives.iloc[:1]]),
        "hours as text": lives.assign(exit_hours=lives["exit_hours"].astype(str)),
        "a blank role": lives.assign(role=None),
    }
    for table in wrong.values():
        with pytest.raises(SchemaErrors, match="."):
            model("lives").validate(table, lazy=True)


def test_no_own_column_can_take_the_name_of_another():
    named = {field.name for fields in FRAMES.values() for field in fields}
    assert named - set(STANDARD_COLUMNS) <= RESERVED


def test_what_belongs_to_a_head_need_not_be_written_again(tmp_path, shop_with):
    """Lot, vendor and own columns of the first installation stay with the head."""
    shop = shop_with('[own_columns]\noperator = "Fitted by"\n')
    rows = [row | {"lot": "", "date_bought": "", "Fitted by": ""} for row in rows_of()]
    rows[0] |= {"lot": "L7", "date_bought": "2024-11-30", "Fitted by": "Ada"}
    rows[1] |= {"Fitted by": "Ben"}
    (tmp_path / "log.csv").write_text(as_csv(rows, list(rows[0])))
    records = hl.read_records(tmp_path / "log.csv", shop)
    first = hl.lives(records).set_index("head").loc["H1"]
    assert (first["lot"], first["operator"]) == ("L7", "Ben")
    assert first["date_bought"] == pd.Timestamp(2024, 11, 30)
    others = hl.lives(records).set_index("head").drop("H1")
    assert others["lot"].isna().all() and others["vendor"].isna().all()


def test_columns_of_a_frame_in_order():
    shop = hl.read_shop(DEMO / "shop.toml")
    records = hl.read_records(DEMO / "removals.csv", shop)
    assert tuple(hl.lives(records).columns) == columns_of("lives")
    assert tuple(in_service(records).columns) == columns_of("in_service")
    assert np.array_equal(records.set_aside.columns, columns_of("set_aside"))
