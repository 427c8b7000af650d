"""Whatever happens to a log of any shape and clock: nothing lost, and no wrong life without a flag.

Logs of seeded fleets (`messy_logs`), in every shape, with what people do to single rows of them.
"""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.records.messy_logs import (
    Log,
    as_csv,
    both_clocks,
    by_counter,
    days_and_weekly_hours,
    events_by_counter,
    events_by_meter,
    events_days_only,
    filled_down,
    orders_by_counter,
    orders_by_meter,
    two_years,
)

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.audit import audit
from headlife.records.frames import model
from headlife.records.lives import in_service, two_readings

SHAPES = (
    by_counter,
    both_clocks,
    days_and_weekly_hours,
    events_by_counter,
    events_by_meter,
    events_days_only,
    filled_down,
    orders_by_counter,
    orders_by_meter,
    two_years,
)
SEMICOLON = (events_by_meter, filled_down)


def _columns(rows, *words):
    names = [name.casefold() for name in rows[0]]
    return [i for i, name in enumerate(names) if any(word in name for word in words)] or [0]


def _dates(rows, draw):
    return draw(st.sampled_from(_columns(rows, "date", "done on")))


def _other_day(rows, row, draw):
    place = _dates(rows, draw)
    days = draw(st.sampled_from([-400, -90, -7, 7, 90, 400]))
    try:
        row[place] = (date.fromisoformat(row[place]) + timedelta(days=days)).isoformat()
    except ValueError:
        row[place] = "2023-02-30"


def _hours(rows, row, draw):
    place = draw(st.sampled_from(_columns(rows, "hours")))
    row[place] = draw(st.sampled_from(["", "0", "-5", "7e9", "x", "12,5", row[place] + "0"]))


def _serial(rows, row, draw):
    place = draw(st.sampled_from(_columns(rows, "head", "serial")))
    others = [other[place] for other in rows[1:] if len(other) > place]
    row[place] = draw(st.sampled_from(others or [""]))


def _printer(rows, row, draw):
    place = draw(st.sampled_from(_columns(rows, "printer", "machine", "drucker")))
    row[place] = draw(st.sampled_from(["Otter", "Lynx", "lynx", "", "New one"]))


def _any_cell(rows, row, draw):
    place = draw(st.integers(0, len(row) - 1))
    row[place] = draw(st.sampled_from(["", "?", "Total", "2024-01-01", "left", "worn out", "#N/A"]))


def _short(rows, row, draw):
    del row[draw(st.integers(1, len(row) - 1)) :]


CHANGES = (_other_day, _hours, _serial, _printer, _any_cell, _short)


@st.composite
def spoilt_logs(draw) -> Log:
    make = draw(st.sampled_from(SHAPES))
    log = make(draw(st.integers(1, 4)))
    name, delimiter = next(iter(log.files)), ";" if make in SEMICOLON else ","
    rows = list(csv.reader(io.StringIO(log.files[name].decode()), delimiter=delimiter))
    for _ in range(draw(st.integers(0, 4))):
        place = draw(st.integers(1, len(rows) - 1))
        what = draw(st.sampled_from(["drop", "twice", "change", "change", "change"]))
        if what == "drop":
            del rows[place]
        elif what == "twice":
            rows.insert(draw(st.integers(1, len(rows))), list(rows[place]))
        elif len(rows[place]) > 1:
            rows[place] += [""] * (len(rows[0]) - len(rows[place]))
            draw(st.sampled_from(CHANGES))(rows, rows[place], draw)
    return replace(log, files=log.files | {name: as_csv(rows, delimiter)})


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("logs")


@given(log=spoilt_logs())
@settings(
    max_examples=150,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_any_log(log, folder):
    path, shop_file = log.write(folder)
    shop = hl.read_shop(shop_file)
    try:
        records = hl.read_records(path, shop, unknown="set aside")
    except RecordsError as refused:
        assert len(str(refused)) > 30
        return
    aside, left_out = records.set_aside, records.no_records
    assert records.rows_used + len(aside) + len(left_out) == records.rows_read
    assert aside["row"].is_unique and not set(aside["row"]) & set(left_out["row"])
    assert aside["problem"].str.len().gt(10).all()
    assert left_out["why"].str.len().gt(5).all()
    used = set(records.accepted["row"])
    assert not used & set(left_out["row"])
    # A row that both ends one stay and begins another may be used for one of them alone.
    if not log.settings.count("orders"):
        assert not used & set(aside["row"])
    model("accepted").validate(records.accepted, lazy=True)
    model("set_aside").validate(aside, lazy=True)
    audit(records)
    if records.questions or records.accepted.empty:
        return
    lives = hl.lives(records)
    model("lives").validate(lives, lazy=True)
    assert (lives["exit_low"] <= lives["exit_hours"] + 1e-6).all()
    assert (lives["exit_hours"] <= lives["exit_high"] + 1e-6).all()
    in_service(records)
    two_readings(records)
