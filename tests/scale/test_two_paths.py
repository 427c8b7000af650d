"""One table and a folder of files give the same review, whatever the shop does."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from tests.scale.random_shop import random_records, random_settings, write_parts

import headlife as hl
from headlife.decisions.review_answers import SINGLE_LIVES
from headlife.errors import HeadlifeError
from headlife.show.words.fit import finding
from headlife.show.words.sites import left_out_sentence
from headlife.show.words.stock import note_sentence

DEMO = Path(__file__).parents[2] / "data_demo"
ROWS_OF = ["row", "column", "value", "problem", "head"]


def both_ways(tmp_path, settings, table, partitions, files, as_of=None):
    (tmp_path / "shop.toml").write_text(settings)
    table.to_csv(tmp_path / "whole.csv", index=False)
    (tmp_path / "parts").mkdir()
    write_parts(tmp_path / "parts", table, files)
    shop = hl.read_shop(tmp_path / "shop.toml")
    case = hl.read_case(tmp_path / "whole.csv", shop, as_of=as_of)
    folder = [tmp_path / "parts"]
    try:
        one = hl.quarterly_review(case)
    except HeadlifeError as refusal:
        # What one path refuses the other refuses too, in the same words.
        with pytest.raises(HeadlifeError, match=re.escape(str(refusal))):
            hl.review_files(folder, shop, as_of=as_of, partitions=partitions)
        return None
    other = hl.review_files(folder, shop, as_of=as_of, partitions=partitions)
    assert_same_findings(case, other, files)
    return one, other


def assert_same_findings(case, other, files):
    """What is doubtful in all rows is found in rows kept part by part, in the same words."""
    mine = hl.audit(case.records)
    mine = mine[~mine["check"].isin(["row set aside", "pile-up at the counter"])]
    keys = ["check", "severity", "head"] + ["rows", "sentence"] * (files == 1)
    found = other.findings[keys].sort_values(keys, ignore_index=True)
    pd.testing.assert_frame_equal(found, mine[keys].sort_values(keys, ignore_index=True))


def assert_same_answers(one, other):
    assert (other.rows_read, other.rows_accepted) == (one.rows_read, one.rows_accepted)
    assert (other.as_of, other.seed, other.shop_name) == (one.as_of, one.seed, one.shop_name)
    assert_same_fleet(one.fleet, other.fleet)
    assert_same_ratings(one.strata, other.strata)
    assert [d.columns for d in one.divisions] == [d.columns for d in other.divisions]
    for mine, theirs in zip(one.divisions, other.divisions, strict=True):
        assert mine.group == theirs.group
        assert_same_ratings(mine.parts, theirs.parts)
        assert (mine.comparison is None) == (theirs.comparison is None)
        if mine.comparison is not None:
            assert finding(mine.comparison) == finding(theirs.comparison)
    assert len(one.stock) == len(other.stock)
    for mine, theirs in zip(one.stock, other.stock, strict=True):
        assert (mine.head_type, mine.site, note_sentence(mine)) == (
            theirs.head_type,
            theirs.site,
            note_sentence(theirs),
        )
        for name in ("stock_level", "order_now", "on_hand", "on_order"):
            assert getattr(mine.plan, name) == getattr(theirs.plan, name)
        assert mine.reorder_point == theirs.reorder_point
        np.testing.assert_allclose(theirs.demand.pmf, mine.demand.pmf, atol=1e-12)
        pd.testing.assert_frame_equal(theirs.plan.table, mine.plan.table)
    pd.testing.assert_frame_equal(other.watch, one.watch, check_exact=False, rtol=1e-7)


def assert_same_fleet(one, other):
    for name in ("positions", "shelf"):
        pd.testing.assert_frame_equal(
            getattr(other, name), getattr(one, name), check_exact=True, check_dtype=False
        )
    assert other.changes == one.changes
    assert (other.follows, other.practised) == (one.follows, one.practised)
    assert other.swap_lag == one.swap_lag
    assert (other.week_sd, other.weeks_learned) == (one.week_sd, one.weeks_learned)


def assert_same_ratings(one, other):
    assert [stratum.group for stratum in one] == [stratum.group for stratum in other]
    for mine, theirs in zip(one, other, strict=True):
        assert (mine.heads, mine.in_service) == (theirs.heads, theirs.in_service)
        assert mine.failures == theirs.failures
        assert mine.evidence.print_hours == pytest.approx(theirs.evidence.print_hours)
        assert (mine.verdict is None) == (theirs.verdict is None)
        if mine.verdict is not None and theirs.verdict is not None:
            assert mine.verdict.verdict == theirs.verdict.verdict
            for name in ("probability", "share_reaching", "bounds", "life_at_share"):
                found, wanted = getattr(theirs.verdict, name), getattr(mine.verdict, name)
                assert found == pytest.approx(wanted, rel=1e-7, abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_random_settings_and_records_have_one_answer(tmp_path, seed):
    rng = np.random.default_rng(seed)
    sites = [["here"], ["here", "there"]][int(rng.integers(0, 2))]
    settings, table = random_settings(rng, sites), random_records(rng, sites)
    as_of = None if rng.random() < 0.6 else "2025-06-30"
    pieces = int(rng.integers(1, 9)), int(rng.integers(1, 5))
    found = both_ways(tmp_path, settings, table, *pieces, as_of)
    if found is None:
        return
    one, other = found
    assert_same_answers(one, other)
    assert one.left_out == ()
    assert [left.what for left in other.left_out] == [SINGLE_LIVES]


def told_otherwise(table, how):
    """The same log by the hours of each stay, by the counter at removal, or without serials."""
    if how == "stays":
        run = (table["hours_out"] - table["hours_in"]).clip(lower=0.1).round(1)
        return table.drop(columns=["hours_in", "hours_out"]).assign(hours_run=run)
    if how == "counter at removal":
        return table.drop(columns="hours_in")
    return table.drop(columns="head")


@pytest.mark.parametrize("how", ["stays", "counter at removal", "without serials"])
@pytest.mark.parametrize("seed", range(4))
def test_other_logs_have_one_answer_too(tmp_path, seed, how):
    rng = np.random.default_rng(100 + seed)
    sites = ["here", "there"][: 1 + seed % 2]
    settings, table = random_settings(rng, sites), random_records(rng, sites)
    # A slip of the pen spoils a head's later rows, which is another test's question.
    table = table[table["hours_out"] >= table["hours_in"]]
    if how == "without serials":
        settings += '[intake]\nwithout_serials = true\nhours = "head"\n'
    as_of = "2025-06-30" if seed == 3 else None
    found = both_ways(tmp_path, settings, told_otherwise(table, how), 3, 2, as_of)
    assert found is not None
    one, other = found
    assert_same_answers(one, other)
    # What is left out is said: that refurbished heads came with hours on their counter.
    said = {note for note in one.notes if "with hours on their counter" not in note}
    said = {note for note in said if "with hours on its counter" not in note}
    assert set(other.notes) == said
    assert "with hours on their counter" in left_out_sentence(other.left_out[0])


def test_files_that_tell_hours_in_two_ways_are_refused(tmp_path):
    table = pd.read_csv(DEMO / "removals.csv")
    folder = tmp_path / "logs"
    folder.mkdir()
    table.iloc[:120].to_csv(folder / "a.csv", index=False)
    told_otherwise(table.iloc[120:], "stays").to_csv(folder / "b.csv", index=False)
    shop = hl.read_shop(DEMO / "shop.toml")
    said = "a.csv tells hours by hours_in and hours_out, b.csv by hours_run.*into one table"
    with pytest.raises(HeadlifeError, match=said):
        hl.review_files([folder], shop, partitions=2)


def test_a_folder_without_serials_asks_whose_hours_these_are(tmp_path):
    folder = tmp_path / "logs"
    folder.mkdir()
    pd.read_csv(DEMO / "removals.csv").drop(columns="head").to_csv(folder / "a.csv", index=False)
    text = (DEMO / "shop.toml").read_text() + "\n[intake]\nwithout_serials = true\n"
    (tmp_path / "shop.toml").write_text(text)
    with pytest.raises(HeadlifeError, match='a.csv: many files without.*state hours = "head"'):
        hl.review_files([folder], hl.read_shop(tmp_path / "shop.toml"), partitions=2)


def test_other_clocks_are_refused_with_what_to_do(tmp_path):
    table = pd.read_csv(DEMO / "removals.csv")
    meters = table.rename(
        columns={"hours_in": "printer_hours_in", "hours_out": "printer_hours_out"}
    )
    folder = tmp_path / "logs"
    folder.mkdir()
    meters.to_csv(folder / "a.csv", index=False)
    with pytest.raises(HeadlifeError, match="a.csv: many files are read.*Put all rows into one"):
        hl.review_files([folder], hl.read_shop(DEMO / "shop.toml"), partitions=2)


def refused_in_parts(tmp_path, tables, said, partitions=6):
    """What rows of several files say together is asked of parts too."""
    folder = tmp_path / "logs"
    folder.mkdir()
    for number, table in enumerate(tables):
        table.to_csv(folder / f"{number}.csv", index=False)
    shop = hl.read_shop(DEMO / "shop.toml")
    with pytest.raises(HeadlifeError, match=said):
        hl.review_files([folder], shop, partitions=partitions)
    return folder, shop


def test_the_printers_meter_under_the_heads_name_is_asked_about_in_parts(tmp_path):
    """A folder took it for the heads' own hours without a word; one table asks."""
    table = pd.read_csv(DEMO / "removals.csv").sort_values("date_in")
    run = table["hours_out"] - table["hours_in"]
    table["hours_out"] = run.groupby([table["printer"], table["position"]]).cumsum()
    table["hours_in"] = table["hours_out"] - run
    table = table.drop_duplicates("head").drop(columns="last_good_hours", errors="ignore")
    said = 'start where that one ended.*state .intake. hours = "printer"'
    folder, shop = refused_in_parts(tmp_path, [table[:40], table[40:]], said)
    with pytest.raises(HeadlifeError, match=said):
        hl.review_files([folder], shop)


def test_hours_that_only_neighbours_tell_are_not_worked_out_from_some_of_them(tmp_path):
    """Ages of heads in service were worked out from the heads of one partition alone."""
    table = told_otherwise(pd.read_csv(DEMO / "removals.csv"), "stays")
    table.loc[table["reason"].isna(), "hours_run"] = None
    said = "hours of heads in service are blank.*put all rows into one table"
    folder, shop = refused_in_parts(tmp_path, [table[:100], table[100:]], said)
    whole = hl.review_files([folder], shop)
    assert any("worked out and not read" in note for note in whole.notes)


def test_dates_that_two_sites_write_in_two_orders_are_asked_about_in_parts(tmp_path):
    """Each partition settled them by its own cells; one table refuses those of two readings."""
    table = pd.read_csv(DEMO / "removals.csv", parse_dates=["date_in", "date_out"])
    names = sorted(table["printer"].unique())
    tables = []
    for number, how in enumerate(("%d/%m/%Y", "%m/%d/%Y")):
        own = table[table["printer"].isin(names[number::2])].copy()
        for name in ("date_in", "date_out"):
            own[name] = own[name].dt.strftime(how)
        tables.append(own.assign(head=own["head"] + f"-{number}"))
    said = "written with 'day first' and 'month first'; state .intake. date_order"
    # So many that a partition has the heads of one site.
    refused_in_parts(tmp_path, tables, said, partitions=60)


def test_dates_that_all_write_alike_are_read_and_said_in_parts(tmp_path):
    table = pd.read_csv(DEMO / "removals.csv", parse_dates=["date_in", "date_out"])
    for name in ("date_in", "date_out"):
        table[name] = table[name].dt.strftime("%d/%m/%Y")
    one, other = both_ways(tmp_path, (DEMO / "shop.toml").read_text(), table, 2, 1)
    assert_same_answers(one, other)
    assert any("are read day first" in note for note in other.notes)


@pytest.mark.parametrize("multiple", [1, 5])
def test_the_demo_orders_the_same_from_a_folder(tmp_path, multiple):
    settings = (DEMO / "shop.toml").read_text()
    settings = settings.replace("[spares]", f"[spares]\norder_multiple = {multiple}")
    settings = settings.replace("[review]", "[review]\ndraws = 2000")
    table = pd.read_csv(DEMO / "removals.csv", dtype=str)
    one, other = both_ways(tmp_path, settings, table, 4, 3)
    assert_same_answers(one, other)
    orders = [answer.plan.order_now for answer in other.stock]
    assert all(order % multiple == 0 for order in orders) and sum(orders) > 0


@pytest.mark.parametrize("partitions", [1, 4])
@pytest.mark.parametrize(
    ("column", "one", "other"),
    [("head", "T012", "T12"), ("head", "T-012", "t 012"), ("printer", "Marten", "MARTEN")],
)
def test_two_spellings_in_two_files_are_found_as_in_one(tmp_path, column, one, other, partitions):
    table = pd.read_csv(DEMO / "removals.csv", dtype=str)
    table.loc[5, column], table.loc[200, column] = one, other
    shop = hl.read_shop(DEMO / "shop.toml")
    folder = tmp_path / "logs"
    folder.mkdir()
    table.iloc[:120].to_csv(folder / "a.csv", index=False)
    table.iloc[120:].to_csv(folder / "b.csv", index=False)
    table.to_csv(tmp_path / "all.csv", index=False)
    found = hl.review_files([folder], shop, partitions=partitions).findings
    found = found[found["check"] == "two spellings"]
    whole = hl.read_records(tmp_path / "all.csv", shop).findings
    whole = whole[whole["check"] == "two spellings"]
    assert len(whole)
    assert found["head"].tolist() == whole["head"].tolist()
    # Rows are numbered through the files: the second one's header is a row of its own.
    last = [int(rows.rpartition(" ")[2]) for rows in whole["rows"]]
    after = [int(rows.rpartition(" ")[2]) for rows in found["rows"]]
    assert after == [row + (row > 121) for row in last]
    words = [sentence.partition(" (rows")[0] for sentence in found["sentence"]]
    assert words == [sentence.partition(" (rows")[0] for sentence in whole["sentence"]]
