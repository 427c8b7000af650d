"""A printer's meter on any day: bounds that hold, changes, slips and breaks."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from tests.records.fleets import fleet

from headlife.records.meters import Usage, meters
from headlife.shop.clocks import MeterChange


def put(readings, changes=(), usage=None):
    table = pd.DataFrame(readings, columns=["printer", "day", "hours"])
    return meters(table, changes, usage or {}, [str(i + 2) for i in range(len(table))])


@pytest.mark.parametrize("every", [5, 21, 60])
def test_the_true_hours_lie_within_the_bounds(every):
    """Meters read every few weeks, asked on every day between: by definition of the bounds."""
    made = fleet(3)
    for printer, shown in made.meters.items():
        days = np.arange(0, len(shown), every)
        found = put([(printer, day, shown[day]) for day in days.tolist()]).lines[printer]
        for day in range(int(days[-1])):
            span, _ = found.on(day)
            # An event is at some moment of its day: between the evening before and its own.
            before = shown[day - 1] if day else shown[0] - 24
            assert span.low - 1e-6 <= max(before, span.low)
            assert span.low - 24 <= before <= span.high + 1e-6
            assert span.low - 1e-6 <= shown[day] <= span.high + 24
            assert span.low <= span.hours <= span.high


def test_a_reading_is_what_it_says():
    found = put([("P", 0, 100.0), ("P", 10, 180.0), ("P", 20, 200.0)])
    assert found.hours.tolist() == [100.0, 180.0, 200.0]
    span, _ = found.lines["P"].on(5)
    assert (span.low, span.hours, span.high) == (100.0, 140.0, 180.0)
    # On the day of a reading an event may be before or after it, by a day's hours.
    span, _ = found.lines["P"].on(10)
    assert (span.low, span.hours, span.high) == (156.0, 180.0, 200.0)


def test_a_stated_change_carries_the_meter_on():
    change = MeterChange(printer="P", on=date(1970, 1, 11), last=180.0, first=5.0)
    found = put([("P", 0, 100.0), ("P", 9, 170.0), ("P", 10, 9.0), ("P", 20, 60.0)], [change])
    assert not found.faults and not found.breaks
    assert found.hours.tolist() == [100.0, 170.0, 184.0, 235.0]
    assert found.parts.tolist() == [0, 0, 0, 0]


def test_a_change_whose_last_reading_nobody_wrote_down_leaves_a_range():
    change = MeterChange(printer="P", on=date(1970, 1, 11))
    found = put([("P", 0, 100.0), ("P", 8, 170.0), ("P", 20, 60.0)], [change])
    line = found.lines["P"]
    assert line.unread_between(0, 20) == 24 * 3  # days 8, 9 and 10
    assert line.unread_between(0, 8) == line.unread_between(11, 20) == 0


def test_one_slip_is_named_and_the_others_go_on():
    found = put([("P", 0, 100.0), ("P", 5, 150.0), ("P", 10, 910.0), ("P", 15, 190.0)])
    assert list(found.faults) == [2]
    assert "150.0 h in row 3 and 190.0 h in row 5" in found.faults[2]
    assert np.isnan(found.hours[2])
    assert not found.breaks


def test_a_slip_written_down_twice_is_one():
    """At a swap the same reading stands for the head that came out and the one that went in."""
    twice = [("P", 0, 100.0), ("P", 10, 910.0), ("P", 10, 910.0), ("P", 15, 190.0)]
    found = put([*twice, ("P", 20, 230.0)])
    assert sorted(found.faults) == [1, 2]


def test_a_meter_set_back_for_good_is_a_break_with_the_line_to_write():
    found = put([("P", 0, 900.0), ("P", 9, 960.0), ("P", 12, 8.0), ("P", 20, 60.0)])
    assert not found.faults
    assert found.parts.tolist() == [0, 0, 1, 1]
    (said,) = found.breaks["P"]
    assert "runs backwards from 960.0 h (row 3) to 8.0 h (row 4)" in said
    assert 'meter_changes = [{ printer = "P", on = 1970-01-13, last = 960.0' in said
    # Nobody knows what ran across it.
    assert found.lines["P"].on(10) is None


def test_two_meters_under_one_name_are_told_apart_from_slips():
    both = [("P", day, 1000.0 + 8 * day) for day in range(0, 60, 6)]
    both += [("P", day, 5000.0 + 8 * day) for day in range(3, 60, 6)]
    found = put(both)
    assert "P" not in found.lines
    assert all("two printers with one name" in one for one in found.faults.values())
    assert len(found.faults) == len(both)


def test_beyond_the_readings_stated_hours_a_week_go_on():
    usage = {"P": Usage(70.0, 0.25)}
    line = put([("P", 0, 0.0), ("P", 7, 70.0)], usage=usage).lines["P"]
    span, _ = line.on(7 + 28)
    assert span.hours == pytest.approx(70 + 280)
    # A quarter of 280 h, and a week's hours for the square root of four weeks.
    assert (span.low, span.high) == pytest.approx((350 - 70 - 140, 350 + 70 + 140))


def test_hours_a_week_are_bounded_by_the_calendar():
    span = Usage(160.0, 0.5).over(1)
    assert span.low == 0
    assert span.high == 48


def test_a_meter_that_goes_round_is_proposed_to_have_run_to_its_last_digit():
    """The fault: the line proposed lost the hours from its last reading to 10,000."""
    readings = [("P", 0, 9380.0), ("P", 20, 9700.0), ("P", 90, 200.0), ("P", 99, 240.0)]
    (said,) = put(readings).breaks["P"]
    assert 'begins again after 9,999 h, state it: meter_changes = [{ printer = "P"' in said
    assert "on = 1970-04-01, last = 10000.0, first = 0.0" in said
    change = MeterChange(printer="P", on=date(1970, 4, 1), last=10000.0, first=0.0)
    found = put(readings, [change])
    assert not found.breaks
    assert found.hours.tolist() == [9380.0, 9700.0, 10200.0, 10240.0]
    # More hours than the days have: it cannot have gone round.
    (said,) = put([("P", 0, 9380.0), ("P", 20, 9400.0), ("P", 30, 200.0)]).breaks["P"]
    assert "was replaced or set back" in said
    assert "last = 9400.0" in said
