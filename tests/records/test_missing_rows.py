"""Logs that leave out heads that lasted are asked about; complete ones never are."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.decisions.test_actions import asked, of_kind
from tests.records.small_shop import SETTINGS, as_csv, rows_of
from tests.records.test_quiet import BEGAN, KINDS

import headlife as hl
from headlife.decisions import actions as todo
from headlife.records.missing_rows import missing_rows
from studies.changing_shops.shops import Truth, record


def log_of(truth: Truth, number: int, weeks: float = 150.0) -> pd.DataFrame:
    """Let a simulated shop write its complete log, heads in service included."""
    found = record(truth, weeks, np.inf, np.random.default_rng(number))
    return pd.DataFrame(
        {
            "row": np.arange(found.printer.size) + 2,
            "head": np.arange(found.printer.size).astype(str),
            "printer": found.printer.astype(str),
            "position": found.position.astype(str),
            "date_in": BEGAN + found.day_in.astype("timedelta64[D]"),
            "date_out": BEGAN + found.day_out.astype("timedelta64[D]"),
            "reason": np.where(found.used_up, "out", None),
            "mode": np.where(found.failed, "wear", None),
        }
    )


@pytest.mark.parametrize("kind", KINDS)
def test_a_complete_log_is_never_asked(kind):
    """Run to failure included, where every removal is a failure too."""
    assert not any(missing_rows(log_of(KINDS[kind], number)) for number in range(40))


@pytest.mark.parametrize("kind", KINDS)
def test_a_log_without_its_heads_in_service_is_asked(kind):
    log = log_of(KINDS[kind], 3)
    (found,) = missing_rows(log[log["reason"].notna()])
    assert "no head is in any printer since" in found.sentence
    failures_alone = not (log["mode"].isna() & log["reason"].notna()).any()
    assert ("are failures" in found.sentence) == failures_alone


def test_a_log_of_failures_alone_is_asked_with_or_without_heads_in_service():
    """Heads swapped at 800 h and not written down."""
    truth = Truth(swap_at=800.0, swap_before=800.0, staggered=True)
    for number in range(20):
        log = log_of(truth, number)
        kept = log[log["mode"].notna() | log["reason"].isna()]
        (found,) = missing_rows(kept)
        assert "removals on record are failures, and positions are empty for" in found.sentence
        (found,) = missing_rows(log[log["mode"].notna()])
        assert "no head is in any printer" in found.sentence
        assert "removals on record are failures" in found.sentence


def test_what_is_missing_comes_first_and_no_vendor_is_written_to(tmp_path):
    """The fault: a log of failures alone led to the vendor, "confirmed", and to holding nothing."""
    (tmp_path / "shop.toml").write_text(SETTINGS)
    rows = [
        rows_of()[2]
        | {"head": f"H{place}{turn}", "printer": f"P{place}", "hours_in": "0"}
        | {"hours_out": str(500 + 20 * place), "reason": "worn out"}
        | {"date_in": f"202{3 + turn}-01-01", "date_out": f"202{3 + turn}-05-01"}
        for place in range(6)
        for turn in range(3)
    ]
    (tmp_path / "log.csv").write_text(as_csv(rows))
    case = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")
    actions = asked(case.with_(review={"draws": 500}))
    assert actions.each[0].kind == todo.MISSING
    assert not of_kind(actions, todo.VENDOR)
    (note,) = case.provenance.notes
    # Each place was empty for two of its three times: 491 of 851 days.
    assert "All 18 removals on record are failures, and positions are empty for 58 %" in note
