"""Print hours that changed for good are asked about, swings of every day are not."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from tests.records.small_shop import SETTINGS, as_csv, rows_of
from tests.records.test_quiet import KINDS, log_of

import headlife as hl
from headlife.records.busier import changed_hours, stopped_hours


@pytest.mark.parametrize("kind", [kind for kind in KINDS if "differ for all" not in kind])
def test_shops_that_do_not_swing_together_are_not_asked(kind):
    assert not any(changed_hours(log_of(KINDS[kind], 150.0, number)) for number in range(20))


def two_shifts(factor: float, apart: int = 3) -> list[dict[str, str]]:
    """Ten printers, heads out at 300 h; 30 h a week until 1 May 2026, then so many times that."""
    rows = []
    turn, until = np.datetime64("2026-05-01"), np.datetime64("2026-11-01")
    for place in range(10):
        day, number = np.datetime64("2025-01-01") + apart * place, 0
        while day < until:
            rate = 30.0 * (factor if day >= turn else 1.0) / 7.0
            last = min(day + int(300 / rate), until)
            hours = (last - day).astype(int) * rate
            rows.append(
                rows_of()[2]
                | {"head": f"H{place}-{number}", "printer": f"P{place}", "hours_in": "0"}
                | {"date_in": str(day), "date_out": str(last), "hours_out": f"{hours:.0f}"}
                | {"reason": "swap" if last < until else ""}
            )
            day, number = last, number + 1
    return rows


@pytest.mark.parametrize(("factor", "asked"), [(2.0, True), (1.0, False), (0.5, True)])
def test_a_second_shift_is_asked_about_with_every_answer_until_a_plan_says_so(
    tmp_path, factor, asked
):
    """The fault: forecasts took a second shift for a swing, 20.5 heads where 31 are needed, and
    nothing told the shop to state it."""
    (tmp_path / "shop.toml").write_text(SETTINGS)
    (tmp_path / "log.csv").write_text(as_csv(two_shifts(factor)))
    case = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")
    notes = [note for note in case.provenance.notes if "a swing that may pass" in note]
    assert bool(notes) == asked
    if asked:
        assert f"ran {30 * factor:.0f} h a week" in notes[0]
        plan = f'\n[plans."shift"]\nfactor = {factor}\nbegins = 2026-05-01\n'
        (tmp_path / "stated.toml").write_text(SETTINGS + plan)
        stated = hl.read_case(tmp_path / "log.csv", tmp_path / "stated.toml")
        assert not stated.provenance.notes


def stopped(weeks: int) -> list[dict[str, str]]:
    """Ten printers, heads out at 300 h, 30 h a week, and nothing for weeks from 2 February 2026."""
    begins = np.datetime64("2026-02-02")
    rows = two_shifts(1.0, apart=7)
    for row in rows:
        for name in ("date_in", "date_out"):
            if np.datetime64(row[name]) >= begins:
                row[name] = str(np.datetime64(row[name]) + 7 * weeks)
    return rows


@pytest.mark.parametrize(("weeks", "asked"), [(0, False), (8, True)])
def test_a_stop_that_nobody_stated_is_asked_about_until_a_plan_says_so(tmp_path, weeks, asked):
    """The fault: hours that swing were learned from it, 19 to 21 heads held where 17 serve, and
    nothing told the shop to state it."""
    (tmp_path / "shop.toml").write_text(SETTINGS)
    (tmp_path / "log.csv").write_text(as_csv(stopped(weeks)))
    case = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")
    notes = [note for note in case.provenance.notes if "had stood still" in note]
    assert len(notes) == asked
    if asked:
        assert "the 10 heads in service" in notes[0] and "for about 8 weeks" in notes[0]
        plan = '\n[plans."stop"]\nfactor = 0\nbegins = 2026-02-02\nends = 2026-03-29\n'
        (tmp_path / "stated.toml").write_text(SETTINGS + plan)
        stated = hl.read_case(tmp_path / "log.csv", tmp_path / "stated.toml")
        assert not stated.provenance.notes


@pytest.mark.parametrize("kind", list(KINDS))
def test_shops_that_never_stop_are_not_asked_about_a_stop(kind):
    """Of 40 of each kind none, and two of those whose quarters differ for all by a third."""
    asked = [bool(stopped_hours(log_of(KINDS[kind], 150.0, number))) for number in range(20)]
    assert sum(asked) <= ("differ for all" in kind)


def test_few_heads_are_not_asked_about():
    rows = pd.DataFrame(
        {
            "date_in": [pd.Timestamp(date(2026, 1, 1))],
            "date_out": [pd.Timestamp(date(2026, 3, 1))],
            "hours_in": [0.0],
            "hours_out": [300.0],
            "printer": ["P1"],
            "position": ["left"],
        }
    )
    assert not changed_hours(rows) and not stopped_hours(rows)
