"""Lives: installations joined on the hour clock, heads in service, and what was known when."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from data_demo import generate
from tests.records.small_shop import as_csv, rows_of

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.lives import in_service
from headlife.records.usage import weekly_hours

DEMO = Path(generate.__file__).parent


@pytest.fixture(scope="module")
def demo():
    return hl.read_records(DEMO / "removals.csv", hl.read_shop(DEMO / "shop.toml"))


def test_lives_of_the_small_shop(read):
    lives = hl.lives(read()).set_index("head")
    assert lives.loc["H1", ["entry_hours", "exit_hours", "mode"]].tolist() == [0.0, 300.0, "wear"]
    assert lives.loc["H1", ["printer", "installations"]].tolist() == ["P2", 2]
    assert lives.loc["H1", "last_good_hours"] == 280.0
    # Bought used: it enters late, with the hours of its first row.
    assert lives.loc["H3", ["entry_hours", "exit_hours"]].tolist() == [250.0, 500.0]
    assert lives.loc["H3", "suspension"] == "planned swap"
    assert lives["in_service"].to_dict() == {"H1": False, "H2": True, "H3": False, "H4": True}
    assert not lives["on_shelf"].any()
    assert lives["mode"].isna().tolist() == [False, True, True, True]


def test_a_head_between_two_installations_waits_on_the_shelf(read):
    lives = hl.lives(read(), as_of="2025-02-10").set_index("head")
    assert bool(lives.loc["H1", "on_shelf"])
    assert lives.loc["H1", ["exit_hours", "suspension"]].tolist() == [100.5, "material change"]
    assert not lives.loc["H1", "in_service"]


def test_as_of_interpolates_between_the_two_readings(read):
    # H1's second stint: 100.5 h on 1 March to 300 h on 1 May, 61 days; 31 days on 1 April.
    lives = hl.lives(read(), as_of="2025-04-01").set_index("head")
    assert lives.loc["H1", "exit_hours"] == pytest.approx(100.5 + 199.5 * 31 / 61)
    assert lives.loc["H1", "mode"] is None
    assert bool(lives.loc["H1", "in_service"])
    assert np.isnan(lives.loc["H1", "last_good_hours"])
    assert lives.loc["H1", "date_last"] == pd.Timestamp("2025-04-01")
    # H4 went in on that very day; H3's removal on that day is known.
    assert lives.loc["H4", "exit_hours"] == 0.0
    assert lives.loc["H3", "suspension"] == "planned swap"


def test_as_of_the_last_day_is_everything(demo):
    last = demo.accepted["date_out"].max()
    pd.testing.assert_frame_equal(hl.lives(demo, as_of=last), hl.lives(demo))
    pd.testing.assert_frame_equal(in_service(demo, as_of=last), in_service(demo))


def test_knowledge_only_grows(demo):
    known = [hl.lives(demo, as_of=f"{year}-06-30").set_index("head") for year in (2024, 2025, 2026)]
    for before, after in zip(known, known[1:], strict=False):
        after = after.loc[before.index]
        assert (after["exit_hours"] >= before["exit_hours"]).all()
        assert after["entry_hours"].equals(before["entry_hours"])
        failed = before["mode"].notna()
        pd.testing.assert_frame_equal(after[failed], before[failed])


@pytest.mark.parametrize("day", ["2019-01-01", "2023-10-01"])
def test_a_day_before_the_first_row_is_named(demo, day):
    with pytest.raises(RecordsError, match=f"nothing was on record on {day}.*2023-10-02"):
        hl.lives(demo, as_of=day)


def test_an_as_of_date_that_is_none_is_named(demo):
    with pytest.raises(RecordsError, match="as-of date 'soon' is not a date"):
        hl.lives(demo, as_of="soon")


def test_the_removal_that_ends_a_life_counts_whatever_the_rounding(read):
    # The failure's own reading is a little below that of an earlier day, within the hour that
    # counts as the same reading.
    stint = rows_of()[0] | {"date_in": "2025-01-01", "date_out": "2025-01-01"}
    first = stint | {"hours_in": "0.3", "hours_out": "0.6"}
    last = stint | {"date_in": "2025-01-02", "date_out": "2025-01-02", "reason": "worn out"}
    last |= {"hours_in": "0", "hours_out": "0.5"}
    life = hl.lives(read([first, last])).iloc[0]
    assert (life["mode"], life["entry_hours"], life["exit_hours"]) == ("wear", 0.0, 0.6)


def answers(records):
    return hl.lives(records), in_service(records)


def test_shuffling_rows_changes_nothing(read):
    rows = generate.run_shop()
    shop = hl.read_shop(DEMO / "shop.toml")
    plain = answers(read(as_csv(rows), shop))
    rng = np.random.default_rng(1)
    for _ in range(3):
        shuffled = [rows[i] for i in rng.permutation(len(rows))]
        for got, want in zip(answers(read(as_csv(shuffled), shop)), plain, strict=True):
            pd.testing.assert_frame_equal(got, want)


def test_renaming_heads_changes_no_answer(read):
    rows = generate.run_shop()
    shop = hl.read_shop(DEMO / "shop.toml")
    plain = answers(read(as_csv(rows), shop))
    names = {
        row["head"]: f"N {sum(map(ord, row['head'])) % 97:02d} {row['head'][::-1]}" for row in rows
    }
    renamed = [dict(row, head=names[row["head"]]) for row in rows]
    for got, want in zip(answers(read(as_csv(renamed), shop)), plain, strict=True):
        want = want.assign(head=want["head"].map(names))
        pd.testing.assert_frame_equal(
            got.sort_values("head", ignore_index=True), want.sort_values("head", ignore_index=True)
        )


def test_splitting_a_stint_at_any_hour_changes_no_life(read):
    rows = generate.run_shop()
    shop = hl.read_shop(DEMO / "shop.toml")
    plain_lives, plain_service = answers(read(as_csv(rows), shop))
    rng = np.random.default_rng(2)
    split = []
    for row in rows:
        start, end = pd.Timestamp(row["date_in"]), pd.Timestamp(row["date_out"])
        days = (end - start).days
        if days < 2:
            split.append(row)
            continue
        day = int(rng.integers(1, days))
        hours = float(row["hours_in"])
        hours += (float(row["hours_out"]) - hours) * day / days
        cut = (start + pd.Timedelta(days=day)).date().isoformat()
        first = {"date_out": cut, "hours_out": repr(hours), "reason": "material change"}
        split.append(row | first | {"last_good_hours": ""})
        split.append(row | {"date_in": cut, "hours_in": repr(hours)})
    lives, service = answers(read(as_csv(split), shop))
    pd.testing.assert_frame_equal(
        lives.drop(columns="installations"), plain_lives.drop(columns="installations")
    )
    pd.testing.assert_frame_equal(service, plain_service, rtol=1e-12)


def test_in_service_lists_one_row_per_occupied_position(demo):
    service = in_service(demo)
    assert len(service) == 22
    assert not service.duplicated(["printer", "position"]).any()
    assert not service["projected"].any()


def test_present_ages_are_carried_forward_and_marked(demo):
    now, later = in_service(demo), in_service(demo, as_of="2026-10-14")
    assert later["projected"].all()
    assert np.allclose(later["age_hours"], now["age_hours"] + 2 * now["weekly_hours"])
    assert later["reading_hours"].equals(now["reading_hours"])


def test_weekly_hours_are_hours_over_weeks_at_a_steady_rate(read):
    rows = [
        dict(rows_of()[0], head=f"N{i}", printer="P1", reason="swap", hours_in="0", **stint)
        for i, stint in enumerate(
            [
                {"date_in": "2025-01-01", "date_out": "2025-01-15", "hours_out": "60"},
                {"date_in": "2025-01-15", "date_out": "2025-02-12", "hours_out": "120"},
            ]
        )
    ]
    assert weekly_hours(read(as_csv(rows))) == pytest.approx({"P1": 30.0})


def test_recent_weeks_count_more(read):
    stints = [
        {"date_in": "2024-01-01", "date_out": "2024-06-30", "hours_out": "100"},
        {"date_in": "2024-06-30", "date_out": "2024-12-29", "hours_out": "900"},
    ]
    rows = [
        dict(rows_of()[0], head=f"N{i}", reason="swap", hours_in="0", **stint)
        for i, stint in enumerate(stints)
    ]
    learned = weekly_hours(read(as_csv(rows)))["P1"]
    assert 1000 / 52 < learned < 900 / 26


def test_learned_usage_is_near_the_demo_shops_truth(demo):
    # The generator's own constants; a printer stops for the day when a head fails, and the last
    # half year counts most, so within a fifth.
    learned = weekly_hours(demo)
    for printer, (_, weekly, _, _) in generate.PRINTERS.items():
        assert learned[printer] == pytest.approx(weekly, rel=0.2)


def test_the_settings_usage_wins_and_a_typo_is_named(read, shop_with):
    records = read(None, shop_with("[usage]\nP2 = 12.5"))
    assert weekly_hours(records)["P2"] == 12.5
    with pytest.raises(RecordsError, match=r"printer 'P22' \(did you mean 'P2'\?\)"):
        weekly_hours(read(None, shop_with("[usage]\nP22 = 12.5")))
