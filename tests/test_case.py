"""A case: records, settings, day and seed that cannot be mixed, and choices checked like a file."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from tests.written_case import HEADER

import headlife as hl
from headlife.decisions.two_ways import read_both_ways
from headlife.errors import HeadlifeError, RecordsError, SettingsError
from headlife.shop import Costs

DEMO = Path(__file__).parents[1] / "data_demo"
SETTINGS = """
name = "{name}"
[reasons.failures]
"worn out" = "wear"
[reasons.suspensions]
"swap" = "planned swap"
[head_types."A"]
rated_hours = {rated}
[spares]
lead_time_weeks = {lead}
[review]
draws = 500
"""


@pytest.fixture
def shop(tmp_path):
    def make(name="Shop", rated=500, lead=6):
        path = tmp_path / f"{name}.toml"
        path.write_text(SETTINGS.format(name=name, rated=rated, lead=lead))
        return hl.read_shop(path)

    return make


@pytest.fixture
def table(tmp_path):
    lines = [
        f"H{n},A,model,P{n},left,2025-01-06,0,2025-{3 + n}-03,{150 * n + 60},worn out"
        for n in range(6)
    ]
    lines += [f"N{n},A,model,P{n},left,2025-09-15,0,2025-12-29,{110 + n}," for n in range(6)]
    (tmp_path / "log.csv").write_text("\n".join([HEADER, *lines]) + "\n")
    return tmp_path / "log.csv"


ANSWERS = [hl.quarterly_review, hl.spares_study, hl.backtest]


@pytest.mark.parametrize("answer", ANSWERS)
@pytest.mark.parametrize("other", [{"lead": 60}, {"rated": 900}])
def test_records_read_with_one_shop_are_not_answered_with_another(shop, table, answer, other):
    records = hl.read_records(table, shop())
    with pytest.raises(SettingsError, match=r"log\.csv was read with other settings \(Shop\)"):
        answer(records, shop("Other", **other))


def test_the_same_settings_read_twice_are_the_same(shop, table):
    records = hl.read_records(table, shop())
    assert hl.quarterly_review(records, shop()).shop_name == "Shop"


@pytest.mark.parametrize("key", ["intake", "reasons", "roles", "columns"])
def test_rows_read_before_a_change_they_rest_on_must_be_read_again(shop, table, key):
    changes = {
        "intake": {"decimal": ","},
        "reasons": {"suspensions": {"swap": "at rating"}, "reusable": []},
        "roles": {"m": "model"},
        "columns": {"head": "Serial"},
    }
    records = hl.read_records(table, shop())
    with pytest.raises(SettingsError, match=rf"log\.csv was read before {key} .* read the records"):
        hl.Case(records, records.shop.with_(**{key: changes[key]}))


def test_a_head_type_on_record_cannot_be_taken_out_of_the_settings(shop, table):
    case = hl.read_case(table, shop())
    with pytest.raises(SettingsError, match="has heads of the type 'A'"):
        case.with_(head_types={"B": {"rated_hours": 100}})


def test_what_if_answers_are_those_of_settings_written_so(shop, table):
    asked = hl.read_case(table, shop()).with_(spares={"lead_time_weeks": 60})
    written = hl.read_case(table, shop(lead=60))
    assert asked.shop.as_read.spares.lead_time_weeks == 6
    for one, other in zip(
        hl.quarterly_review(asked).stock, hl.quarterly_review(written).stock, strict=True
    ):
        pd.testing.assert_frame_equal(one.plan.table, other.plan.table)


@pytest.mark.parametrize(
    ("choice", "sentence"),
    [
        ({"set_aside": "Stop"}, r"\[review\] set_aside = 'Stop' .* write \"stop\" or"),
        ({"seed": -3}, r"\[review\] seed = -3 .* 0 or more"),
        ({"seed": "3"}, r"\[review\] seed = '3' .* whole number"),
        ({"as_of": "yesterday"}, "'yesterday' is not a date"),
    ],
)
def test_a_choice_is_checked_like_a_file(shop, table, choice, sentence):
    with pytest.raises(HeadlifeError, match=sentence):
        hl.read_case(table, shop(), **choice)
    with pytest.raises(HeadlifeError, match=sentence):
        hl.read_case(table, shop()).with_(**choice)


def test_choices_are_in_the_answers_and_in_what_they_were_made_from(shop, table):
    case = hl.read_case(table, shop(), as_of="2025-11-30", seed=5)
    review = hl.quarterly_review(case.with_(review={"build_hours": 30}))
    assert (review.seed, review.as_of) == (5, pd.Timestamp("2025-11-30"))
    assert review.build_hours == 30
    assert review.shop_sha256 == shop().sha256
    assert case.lives["date_last"].max() <= case.day


def test_a_case_takes_no_settings_beside_its_own(shop, table):
    case = hl.read_case(table, shop())
    with pytest.raises(HeadlifeError, match="holds its own settings and day"):
        hl.quarterly_review(case, as_of="2025-11-30")
    with pytest.raises(HeadlifeError, match="holds its own settings and day"):
        hl.spares_study(case, case.shop)


def test_rows_set_aside_stop_every_answer_unless_asked_to_go_on(shop, table):
    table.write_text(table.read_text() + "X,A,model,P9,left,2025-01-06,9,2025-03-03,5,worn out\n")
    with pytest.raises(RecordsError, match=r"log\.csv, row 14, hours_out '5' lies below"):
        hl.read_case(table, shop())
    case = hl.read_case(table, shop(), set_aside="continue")
    assert len(hl.quarterly_review(case).set_aside) == 1
    with pytest.raises(RecordsError, match="row 14"):
        case.with_(set_aside="stop")


def test_the_older_call_gives_the_same_answers():
    case = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml", as_of="2024-12-31", seed=2)
    case = case.with_(review={"draws": 300})
    records = hl.read_records(DEMO / "removals.csv", case.shop)
    new = hl.quarterly_review(case)
    old = hl.quarterly_review(records, case.shop, as_of="2024-12-31")
    assert [a.verdict for a in new.strata] == [a.verdict for a in old.strata]
    assert [a.demand.pmf.tolist() for a in new.stock] == [a.demand.pmf.tolist() for a in old.stock]
    pd.testing.assert_frame_equal(new.last_quarter, old.last_quarter)
    assert read_both_ways(new, case).as_failures is new


def test_settings_change_table_by_table():
    shop = hl.read_shop(DEMO / "shop.toml")
    changed = shop.with_(spares={"order_multiple": 5}, costs=Costs(currency="shells"), plans={})
    assert changed.spares.lead_time_weeks == shop.spares.lead_time_weeks
    assert changed.spares.order_multiple == 5
    assert changed.costs == Costs(currency="shells")
    assert changed.with_().as_read is shop
    assert changed.tables_unlike(shop) == ("spares", "costs")


def test_a_misspelt_change_is_named():
    shop = hl.read_shop(DEMO / "shop.toml")
    with pytest.raises(SettingsError, match=r"do not know 'reveiw' \(did you mean 'review'"):
        shop.with_(reveiw={"seed": 3})
    with pytest.raises(SettingsError, match=r"\[review\] does not know 'sed'"):
        shop.with_(review={"sed": 3})


@pytest.mark.parametrize(("day", "refused"), [("2027-10-01", False), ("2027-10-02", True)])
def test_a_day_more_than_a_year_after_the_newest_row_is_refused_both_ways(day, refused):
    """As of 2036 heads of 13,759 h were told to be swapped; as of 2199 a back-test never ended."""
    ways = (
        lambda: hl.read_case(DEMO / "removals.csv", shop=DEMO / "shop.toml", as_of=day),
        lambda: hl.review_files(
            [DEMO / "removals.csv"], hl.read_shop(DEMO / "shop.toml"), as_of=day
        ),
    )
    for way in ways if refused else ways[:1]:
        if refused:
            says = "newest row is of 2026-09-30, 367 days before 2027-10-02, and nobody knows"
            with pytest.raises(RecordsError, match=says):
                way()
        else:
            assert str(way().day.date()) == day
