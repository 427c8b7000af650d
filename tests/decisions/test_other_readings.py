"""What nobody read and what is left out: the verdict is given as it would be at both ends."""

from __future__ import annotations

import numpy as np
import pytest
from tests.records.messy_logs import by_counter, days_and_readings
from tests.records.small_shop import SETTINGS, as_csv, rows_of

import headlife as hl
from headlife.decisions.other_readings import (
    HOURS,
    LEFT_OUT,
    NO_REASON,
    left_out_heads,
    other_readings,
)
from headlife.life.groups import Group
from headlife.records.used_up import swaps_between
from headlife.show.words.standing import readings_sentence


def case_of(log, folder, **choices):
    path, settings = log.write(folder)
    return hl.read_case(path, settings, **choices)


def test_where_every_hour_was_read_nothing_is_read_in_another_way(tmp_path):
    case = case_of(by_counter(1), tmp_path)
    groups = {stratum.group for stratum in hl.quarterly_review(case).strata}
    assert all(not other_readings(case, group) for group in groups)


def test_hours_worked_out_are_read_at_both_ends(tmp_path):
    """The life that the true hours give lies between those at the ends."""
    case = case_of(days_and_readings(1), tmp_path)
    truth = case_of(by_counter(1), tmp_path)
    review = hl.quarterly_review(case)
    for stratum in hl.quarterly_review(truth).strata:
        found = [one for one in other_readings(case, stratum.group) if one.about == HOURS]
        assert [one.name for one in found] == ["at the least", "at the most"]
        assert found[0].heads == stratum.heads
        true = stratum.evidence.modes["wear"]
        assert all(one.evidence.all_failures == true.all_failures for one in found)
        # The same failures, after fewer hours and after more than there truly were.
        low, high = (hl.fit_life(one.evidence).median_life(0.5) for one in found)
        assert low < hl.fit_life(true).median_life(0.5) < high
        sentence = readings_sentence(review.standings[stratum.group].overturn)
        assert "worked out and not read" in sentence


def thousands(rows):
    """Write hours past 999 with a mark that nobody can read, as some programs do."""
    for row in rows:
        for name in ("hours_in", "hours_out"):
            value = float(row[name])
            row[name] = f"{value:,.0f}".replace(",", "x") if value >= 1000 else row[name]
    return rows


@pytest.fixture
def censored_by_value(tmp_path):
    """Forty heads of which those that lasted long cannot be read: they are left out."""
    rng = np.random.default_rng(5)
    lives = np.round(1300 * rng.weibull(3.0, 40), 1)
    rows = [
        rows_of()[2]
        | {"head": f"H{i}", "printer": f"P{i}", "hours_in": "0", "hours_out": f"{life:.1f}"}
        | {"reason": "worn out", "date_in": "2024-01-01", "date_out": "2025-06-30"}
        for i, life in enumerate(lives)
    ]
    (tmp_path / "shop.toml").write_text(SETTINGS)
    (tmp_path / "whole.csv").write_text(as_csv(rows))
    (tmp_path / "log.csv").write_text(as_csv(thousands(rows)))
    return tmp_path, lives


def test_rows_left_out_by_their_value_are_told_with_how_far_they_move_the_answer(
    censored_by_value,
):
    """The share that reaches the rating, as the whole record gives it, lies within the ends."""
    folder, lives = censored_by_value
    case = hl.read_case(folder / "log.csv", folder / "shop.toml", set_aside="continue")
    whole = hl.read_case(folder / "whole.csv", folder / "shop.toml")
    group = Group("A", "support")
    out = left_out_heads(case.records)
    assert len(out) == (lives >= 1000).sum() > 10
    assert set(out["head_type"]) == {"A"}
    assert out["may_have_failed"].all()
    early, late = other_readings(case, group)
    assert (early.about, early.heads) == (LEFT_OUT, len(out))

    def reaching(evidence):
        return hl.fit_life(evidence).median_reliability(1200.0)

    true = hl.quarterly_review(whole).strata[0].evidence.modes["wear"]
    alone = hl.quarterly_review(case).strata[0].evidence.modes["wear"]
    assert reaching(early.evidence) < reaching(true) < reaching(late.evidence)
    # What is said without them is far off, which is why it must be said.
    assert reaching(alone) < 0.5 * reaching(true)
    review = hl.quarterly_review(case)
    sentence = readings_sentence(review.standings[group].overturn)
    assert f"{len(out)} heads" in sentence
    # Far below 90 % either way; a claim that half of the heads reach it hangs on those left out.
    assert "the verdict stands either way" in sentence
    review = hl.quarterly_review(case.with_(claim={"share": 0.5}))
    assert "the verdict hangs on them" in readings_sentence(review.standings[group].overturn)


def test_a_head_whose_reason_is_no_failure_is_no_failure_at_either_end(tmp_path):
    rows = rows_of()
    rows[0]["date_in"], rows[1]["date_in"] = "soon", "later"
    (tmp_path / "shop.toml").write_text(SETTINGS)
    (tmp_path / "log.csv").write_text(as_csv(rows))
    case = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml", set_aside="continue")
    out = left_out_heads(case.records)
    assert out[["head", "mode", "may_have_failed"]].to_numpy().tolist() == [["H1", "wear", True]]
    rows[1]["reason"] = "swap"
    (tmp_path / "log.csv").write_text(as_csv(rows))
    case = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml", set_aside="continue")
    for one in other_readings(case, Group("A", "model")):
        assert one.evidence.all_failures == 0


def test_heads_out_early_without_a_reason_are_read_as_failures_too(tmp_path):
    """The fault: heads came out with no reason on record and counted as sound without a word.

    Of forty heads swapped at 1,200 h, ten failed before; the reasons of half of all are blank.
    """
    rows = []
    for place in range(8):
        day = np.datetime64("2022-01-01")
        for turn in range(6):
            failed = (place + turn) % 4 == 0
            hours = 700 + 40 * turn if failed else 1200
            after = day + int(hours / 6)
            rows.append(
                rows_of()[2]
                | {"head": f"H{place}-{turn}", "printer": f"P{place}", "hours_in": "0"}
                | {"date_in": str(day), "date_out": str(after), "hours_out": str(hours)}
                | {"reason": ("worn out" if failed else "swap") if turn < 5 else ""}
            )
            day = after
    (tmp_path / "shop.toml").write_text(SETTINGS)

    def read(name):
        (tmp_path / name).write_text(as_csv(rows))
        case = hl.read_case(tmp_path / name, tmp_path / "shop.toml").with_(review={"draws": 200})
        return case, hl.quarterly_review(case)

    whole, true = read("whole.csv")
    for row in rows[1::2]:
        row["reason"] = ""
    case, review = read("log.csv")
    group = Group("A", "support")
    (early,) = other_readings(case, group)
    blank = [row for row in rows[1::2] if int(row["hours_out"]) < 1200 and row["head"][-1] != "5"]
    assert (early.about, early.heads) == (NO_REASON, len(blank))
    assert early.evidence.all_failures == true.strata[0].evidence.modes["wear"].all_failures
    alone = review.strata[0].evidence.modes["wear"]
    assert alone.all_failures == early.evidence.all_failures - len(blank)
    said = readings_sentence(review.standings[group].overturn)
    assert f"No reason is written down of {len(blank)} heads out early" in said
    # Heads that came out were used up, whatever took them out.
    begins, until = np.datetime64("2022-01-02"), whole.day
    used = [len(swaps_between(one.records, begins, until)) for one in (whole, case)]
    assert used[0] == used[1] == 40
