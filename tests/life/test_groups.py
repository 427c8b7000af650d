"""Groups of heads are values: a rating by any column needs settings and no code."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from tests.written_case import HEADER, case_of

import headlife as hl
from headlife.decisions.rating import judge_rating
from headlife.errors import SettingsError
from headlife.life.evidence import pool
from headlife.life.groups import Group, groups_in
from headlife.life.reduction import add_evidence, group_evidence
from headlife.show.words.fit import division_sentence

DEMO = Path(__file__).parents[2] / "data_demo"
SETTINGS = """
name = "Shop"
[reasons.failures]
"worn out" = "wear"
[reasons.suspensions]
"swap" = "planned swap"
[head_types."A"]
rated_hours = 500
[spares]
lead_time_weeks = 6
[review]
draws = 300
{groups}
{more}
"""


@pytest.fixture
def review(tmp_path):
    """Review forty heads of two lots, one of them three times as long-lived, on two benches."""

    def make(groups, header=f"{HEADER},Charge,bench", more='[columns]\nlot = "Charge"', lots=True):
        rng = np.random.default_rng(3)
        lines = []
        for number in range(40):
            lot = "L1" if number % 2 else "L2"
            hours = 50 + 400.0 * (3.0 if lot == "L1" else 1.0) * rng.weibull(3.0)
            shown = ("" if number < 3 else lot) if lots else ""
            stay = f"A,model,P{number},left,2025-01-06,0,2025-12-01,{hours:.1f},worn out"
            lines.append(f"H{number:02d},{stay},{shown},{'north' if number % 4 < 2 else 'south'}")
        lot = "L1" if lots else ""
        lines.append(f"N1,A,model,P1,left,2025-12-05,0,2025-12-29,110,,{lot},north")
        settings = SETTINGS.format(groups=groups, more=more)
        return hl.quarterly_review(case_of(tmp_path, settings, lines, header))

    return make


def test_a_rating_per_lot_needs_settings_alone(review):
    found = review('groups = ["lot"]')
    (division,) = found.divisions
    assert division.group == Group("A", "model") and division.columns == ("lot",)
    names = [part.name for part in division.parts]
    assert names == ["A, model, no lot", "A, model, lot L1", "A, model, lot L2"]
    blank, good, bad = division.parts
    assert (blank.heads, good.heads, bad.heads) == (3, 20, 18)
    assert good.in_service == 1 and bad.in_service == 0
    assert good.verdict.share_reaching > 0.9 > 0.6 > bad.verdict.share_reaching
    assert division.comparison.advice != "pool"
    assert division.comparison.failures[good.group.part] == 19
    # The fault: half of the heads without a lot were a part like any other, without a word.
    assert "For 3 of 41 heads no lot is on record: they stand as “no lot”" in division_sentence(
        division
    )
    own = '[own_columns]\nwhere_mounted = "bench"'
    (benches,) = review('groups = ["where_mounted"]', more=own).divisions
    assert "is on record" not in division_sentence(benches)


def test_stocks_are_pooled_over_lots_and_use_the_lives_of_each(review):
    divided, whole = review('groups = ["lot"]'), review("")
    assert [one.group for one in divided.strata] == [Group("A", "model")]
    assert divided.strata[0].verdict == whole.strata[0].verdict
    assert whole.divisions == ()
    (one,), (pooled,) = divided.stock, whole.stock
    assert (one.head_type, one.site) == (pooled.head_type, pooled.site)
    # What is in place and what is bought now is the lot that lives three times as long.
    assert one.demand.mean < 0.7 * pooled.demand.mean


def test_columns_that_say_nothing_of_what_is_bought_leave_forecasts_as_they_are(review):
    more = '[own_columns]\nwhere_mounted = "bench"'
    divided, whole = review('groups = ["where_mounted"]', more=more), review("", more=more)
    assert divided.stock[0].demand.pmf.tobytes() == whole.stock[0].demand.pmf.tobytes()


def test_each_column_divides_for_itself_and_names_in_brackets_together(review):
    more = '[columns]\nlot = "Charge"\n[own_columns]\nwhere_mounted = "bench"'
    found = review('groups = ["where_mounted", ["lot", "where_mounted"]]', more=more)
    first, second = found.divisions
    assert [part.name for part in first.parts] == [
        "A, model, where mounted north",
        "A, model, where mounted south",
    ]
    assert len(second.parts) == 6
    assert "A, model, lot L1, where mounted north" in [part.name for part in second.parts]


def test_a_lot_too_young_to_judge_is_said_to_be_and_what_parts_lean_on(review, tmp_path):
    review('groups = ["lot"]')
    log = tmp_path / "log.csv"
    young = "N2,A,model,P2,left,2025-12-01,0,2025-12-29,40,{},L9,north\n"
    for why, is_young in (("", True), ("worn out", False)):
        whole = log.read_text()
        log.write_text(whole + young.format(why))
        found = hl.quarterly_review(hl.read_case(log, tmp_path / "shop.toml"))
        log.write_text(whole)
        (division,) = found.divisions
        new = division.parts[-1]
        assert new.name == "A, model, lot L9" and new.too_young is is_young
        said = division_sentence(division)
        assert "judged by its own heads and, as far as lives are alike" in said
        assert ("Too young to judge: lot L9." in said) is is_young
        assert not any(part.too_young for part in division.parts[:-1])


def test_what_other_lots_say_is_no_verdict_on_a_lot_too_young(review, tmp_path):
    review('groups = ["lot"]')
    stay = "A,model,P{},left,2025-01-06,0,2025-12-01,{},swap,{},north"
    rows = [f"H{i:03d},{stay.format(i, 500, 'L1' if i % 2 else 'L2')}" for i in range(400)]
    young = "N2,A,model,P2,left,2025-12-05,0,2025-12-29,40,,L9,north"
    log = tmp_path / "log.csv"
    log.write_text("\n".join([f"{HEADER},Charge,bench", *rows, young]) + "\n")
    (division,) = hl.quarterly_review(hl.read_case(log, tmp_path / "shop.toml")).divisions
    assert [part.verdict.verdict for part in division.parts] == ["holds", "holds", "not settled"]
    new = division.parts[-1]
    assert new.too_young and judge_rating(new.leans_on, 500.0).verdict == "holds"


def test_a_group_without_running_hours_has_no_verdict_and_is_not_compared(review, tmp_path):
    review('groups = ["lot"]')
    log = tmp_path / "log.csv"
    log.write_text(log.read_text() + "N2,A,model,P2,left,2025-12-29,0,2025-12-29,0,,L9,north\n")
    found = hl.quarterly_review(hl.read_case(log, tmp_path / "shop.toml"))
    new = found.divisions[0].parts[-1]
    assert (new.name, new.heads, new.in_service) == ("A, model, lot L9", 1, 1)
    assert new.verdict is None and new.failures == {"wear": 0}
    assert new.group.part not in found.divisions[0].comparison.failures


def test_an_unknown_column_is_refused_with_those_that_are_known(review):
    with pytest.raises(SettingsError, match=r"groups names 'lott' \(did you mean 'lot'\?\), by w"):
        review('groups = ["lott"]')
    with pytest.raises(SettingsError, match=r"groups .* names of columns in brackets"):
        review('groups = "lot"')


def test_a_column_that_nobody_filled_in_is_refused(review):
    with pytest.raises(SettingsError, match="by lot, and no head on record has a value there"):
        review('groups = ["lot"]', lots=False)
    with pytest.raises(SettingsError, match="by vendor, and no head on record"):
        review('groups = ["vendor"]')


def test_evidence_of_divisions_adds_up_to_the_whole():
    case = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml")
    rated, modes = case.shop.rated_hours, case.shop.failure_modes
    whole = group_evidence(case.lives, rated, modes)
    parts = group_evidence(case.lives, rated, modes, ["site", "printer"])
    assert len(parts) > len(whole)
    for one in whole:
        own = [part for part in parts if part.group.pooled == one.group]
        assert sum(part.heads for part in own) == one.heads
        assert sum(part.print_hours for part in own) == pytest.approx(one.print_hours)
        for mode, evidence in one.modes.items():
            added = pool([part.modes[mode] for part in own if part.modes])
            assert added.all_failures == evidence.all_failures
            assert added.log_sum == pytest.approx(evidence.log_sum, abs=1e-9)


def test_evidence_of_partitions_is_that_of_the_table_in_the_settings_order():
    case = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml")
    rated, modes = case.shop.rated_hours, case.shop.failure_modes
    whole = group_evidence(case.lives, rated, modes, ["site"])
    parts = [group_evidence(case.lives.iloc[i::3], rated, modes, ["site"]) for i in range(3)]
    added = add_evidence(parts, rated)
    assert [one.group for one in added] == [one.group for one in whole]
    assert [one.group.head_type for one in whole] == sorted(
        (one.group.head_type for one in whole), key=list(rated).index
    )
    assert [one.heads for one in added] == [one.heads for one in whole]


def test_rows_of_a_group_are_those_that_groups_in_gave():
    table = pd.DataFrame(
        {
            "head_type": ["A", "A", "B", "A"],
            "role": ["model", "support", "model", "model"],
            "lot": ["x", None, "x", None],
        }
    )
    found = groups_in(table, ["lot"])
    assert [group.name for group in found] == [
        "A, model, lot x",
        "A, model, no lot",
        "A, support, no lot",
        "B, model, lot x",
    ]
    for group, own in found.items():
        assert table.index[group.rows(table)].tolist() == own.index.tolist()
        assert group.pooled.rows(table).sum() >= len(own)
