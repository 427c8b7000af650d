"""Logs as shops keep them: every life right, inside its range, or flagged; the wrong clock asked.

The truth is that of a seeded fleet (`fleets`), written in sixteen shapes and clocks
(`messy_logs`).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.records.fleets import fleet
from tests.records.messy_logs import (
    CORE,
    LOGS,
    ORDERS,
    Log,
    as_csv,
    by_counter,
    by_meter_as_hours,
    events_by_meter,
    orders_by_meter,
    plain,
    score,
    table,
)

import headlife as hl
from headlife.errors import RecordsError


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("make", LOGS, ids=lambda make: make.__name__)
def test_every_life_is_right_or_in_its_range(make, seed, tmp_path):
    log = make(seed)
    found, records = score(log, tmp_path)
    assert not found.wrong
    assert not found.flagged
    assert found.right + found.in_range == found.true
    # Where the log holds the hours they are not ranges; only heads that nobody read while they
    # are in service are.
    if log.exact:
        still_in = sum(life.in_service for life in log.truth.lives().values())
        assert found.right >= found.true - still_in
    else:
        assert found.in_range == found.true
    assert log.lines <= 21
    sums = len(records.set_aside) + records.rows_used + len(records.no_records)
    assert sums == records.rows_read


def hours_as_meter(seed: int, start: float | None, hours_in: str = "printer_hours_in") -> Log:
    """The printer's meter in the columns of the head's hours, without a word in the settings."""
    made = fleet(seed, meter_starts=start)
    rows = plain(made)
    for row in rows:
        row["hours_in"], row["hours_out"] = row.get(hours_in, 0.0), row["printer_hours_out"]
    data = as_csv(table(rows, (*CORE, "hours_in", "date_out", "hours_out", "reason")))
    return Log("meter as hours", {"log.csv": data}, "", made)


def meter_in_events(seed: int) -> Log:
    log = events_by_meter(seed)
    data = log.files["log.csv"].replace(b"printer_hours", b"hours")
    return replace(log, files={"log.csv": data})


def meter_in_orders(seed: int) -> Log:
    settings = ORDERS.replace("[positions]", 'hours = "Machine hours"\n[positions]')
    return replace(orders_by_meter(seed), settings=settings)


def meter_under_a_title(seed: int) -> Log:
    log = by_meter_as_hours(seed)
    return replace(log, settings=log.settings.replace('hours = "printer"', ""))


WRONG_CLOCKS = {
    "stretches": lambda seed: hours_as_meter(seed, None),
    "stretches, meter from 0": lambda seed: hours_as_meter(seed, 0.0),
    "at removal only": lambda seed: hours_as_meter(seed, None, "none"),
    "at removal only, meter from 0": lambda seed: hours_as_meter(seed, 0.0, "none"),
    "events": meter_in_events,
    "orders": meter_in_orders,
    "workbook with sums": meter_under_a_title,
}


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("log", WRONG_CLOCKS.values(), ids=WRONG_CLOCKS)
def test_the_wrong_clock_is_asked_and_never_answered(log, seed, tmp_path):
    path, settings = log(seed).write(tmp_path)
    shop = hl.read_shop(settings)
    with pytest.raises(RecordsError, match='state \\[intake\\] hours = "printer"'):
        hl.read_records(path, shop)
    checked = hl.read_records(path, shop, unknown="set aside")
    assert checked.questions
    with pytest.raises(RecordsError, match='hours = "printer"'):
        hl.lives(checked)
    # Not even where rows that cannot be used are to be left out.
    with pytest.raises(RecordsError, match='hours = "printer"'):
        hl.read_case(path, shop, set_aside="continue")


@pytest.mark.parametrize("start", [None, 0.0])
def test_one_line_settles_it(start, tmp_path):
    log = replace(hours_as_meter(1, start), settings='[intake]\nhours = "printer"\n')
    found, _ = score(log, tmp_path)
    assert found.right == found.true


def test_stated_as_the_heads_own_it_is_taken_as_such(tmp_path):
    """Whoever states it is answered; rows that cannot be true are still set aside."""
    log = replace(hours_as_meter(1, None), settings='[intake]\nhours = "head"\n')
    path, settings = log.write(tmp_path)
    records = hl.read_records(path, hl.read_shop(settings), unknown="set aside")
    assert not records.questions


@pytest.mark.parametrize("seed", range(40))
def test_heads_own_counters_are_not_asked_about(seed, tmp_path):
    """No false alarm: neither with moves between printers nor in a fleet of one printer."""
    for made in (fleet(seed), fleet(seed, printers=1, weeks=100)):
        log = replace(by_counter(seed), files={"log.csv": counters(made)})
        path, settings = log.write(tmp_path)
        assert not hl.read_records(path, hl.read_shop(settings)).questions


def counters(made) -> bytes:
    return as_csv(table(plain(made), (*CORE, "hours_in", "date_out", "hours_out", "reason")))


def test_printers_can_keep_different_clocks(tmp_path):
    made = fleet(4)
    rows = plain(made)
    for row in rows:
        if row["printer"] == "Lynx":
            row["hours_in"], row["hours_out"] = row["printer_hours_in"], row["printer_hours_out"]
    data = as_csv(table(rows, (*CORE, "hours_in", "date_out", "hours_out", "reason")))
    asked = Log("one printer by its meter", {"log.csv": data}, "", made)
    path, settings = asked.write(tmp_path)
    with pytest.raises(RecordsError, match="hours_of"):
        hl.read_records(path, hl.read_shop(settings))
    lines = '[intake]\nhours_of = { Lynx = "printer" }\n'
    moved = {one.head for one in made.stints if one.printer == "Lynx"}
    moved &= {one.head for one in made.stints if one.printer != "Lynx"}
    found, _ = score(replace(asked, settings=lines), tmp_path)
    # A head that came from another printer starts there with hours that nobody wrote down as its
    # own; it has them from its row before.
    assert found.right == found.true
    assert moved
