"""Where one head type takes the place of another: what is due, plans and advice go on with that."""

from __future__ import annotations

import numpy as np
import pytest
from tests.written_case import COSTS, case_of

import headlife as hl
from headlife.decisions.actions import RATING, VENDOR
from headlife.decisions.plan.build_plan import build_plan
from headlife.decisions.policy.proposal import proposal_study
from headlife.decisions.review import quarterly_review
from headlife.show.plain import lines
from headlife.show.words.due import spare_words
from headlife.show.words.newest import division_answer
from headlife.show.words.plan import doubts, goes_in
from headlife.show.words.policy import gives_way_sentence

SETTINGS = """
name = "Shop"
[reasons.failures]
"worn out" = "wear"
[head_types."Old"]
rated_hours = 500
price = 300.0
on_hand = {old}
[head_types."New"]
rated_hours = 600
price = 350.0
on_hand = {new}
on_order = {on_order}
[spares]
lead_time_weeks = 6
[policy]
swap_at = "rating"
confirmed = {confirmed}
[review]
build_hours = 60
draws = 500
{groups}
"""
SETTINGS += COSTS
BY_LOT = 'groups = ["lot"]'


@pytest.fixture
def shop(tmp_path):
    """Six printers whose heads went over from Old to New, and one more that still has an Old."""

    def make(old=0, new=0, on_order=0, confirmed="false", last=True, groups=""):
        rows = [
            "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason,lot"
        ]
        for place in range(6):
            for turn, kind in enumerate(("Old", "Old", "New")):
                begins = np.datetime64("2024-01-01") + 60 * turn + place
                why, ran = ("", 300) if turn == 2 else ("worn out", 430 + 10 * place)
                days = f"{begins},0,{begins + 60}"
                lot = f"L{turn}"
                rows.append(f"H{place}{turn},{kind},model,P{place},left,{days},{ran},{why},{lot}")
        if last:
            rows.append("LAST,Old,model,P9,left,2024-04-01,0,2024-07-04,480,,L1")
        (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
        (tmp_path / "shop.toml").write_text(
            SETTINGS.format(old=old, new=new, on_order=on_order, confirmed=confirmed, groups=groups)
        )
        return hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")

    return make


def spare_of_last(case):
    return next(one for one in lines(hl.due_list(case).heads) if one.head == "LAST")


def test_the_spare_is_of_the_type_that_takes_the_place(shop):
    # Before, the last head of the old type had no spare, whatever was on the shelf of the new one.
    found = spare_of_last(shop(new=1))
    assert (found.spare, found.spare_type) == ("new", "New")
    assert spare_words(found) == "new New head, on the shelf"
    # Of its own where that is all there is, and before one that is still on order.
    assert spare_of_last(shop(old=1, new=1)).spare_type == "New"
    only = spare_of_last(shop(old=1, on_order=3))
    assert (only.spare, only.spare_type, spare_words(only)) == ("new", "Old", "new, on the shelf")
    ordered = spare_of_last(shop(on_order=1))
    assert (ordered.spare, ordered.spare_type) == ("on order", "New")
    none = spare_of_last(shop())
    assert (none.spare, none.spare_type) == ("none", "New")
    # Confirmed settings: heads are followed by heads of their type.
    assert spare_of_last(shop(new=1, confirmed="true")).spare == "none"


def test_a_plan_puts_in_the_type_that_takes_the_place_and_runs_no_head_past_its_age(shop):
    plan = build_plan(shop(new=1))
    assert not len(plan.overdue) and not len(plan.past_rating) and not plan.missing
    last = next(one for one in lines(plan.swaps) if one.head_out == "LAST")
    assert (last.head_type, last.rated_hours, last.type_in, last.spare) == (
        "Old",
        500.0,
        "New",
        "on the shelf",
    )
    assert goes_in(last) == "new New"
    # With no head of the new type there, one of its own is still put in.
    own = build_plan(shop(old=1))
    assert next(one for one in lines(own.swaps) if one.head_out == "LAST").type_in == "Old"
    assert build_plan(shop(new=1, confirmed="true")).overdue["head"].tolist() == ["LAST"]


def test_what_goes_in_lives_by_its_own_rating(shop):
    # Long enough that the head put in for the last of the old type comes out too.
    plan = build_plan(shop(new=9), weeks=26)
    there = plan.swaps[plan.swaps["printer"] == "P9"]
    assert there["rated_hours"].tolist()[:2] == [500.0, 600.0]
    assert there["swap_at"].tolist()[:2] == [500.0, 600.0]
    assert there["head_type"].tolist()[:2] == ["Old", "New"]
    assert (there["age_out"] <= there["swap_at"]).all()


def test_advice_on_a_type_that_goes_says_that_it_is_about_the_heads_left(shop):
    case = shop(new=3)
    made = proposal_study(quarterly_review(case), case.shop)
    said = {kind.head_type: gives_way_sentence(kind) for kind, _ in made.each()}
    assert said["Old"] == (
        "6 of the last 6 used up were followed by New heads, so this is about the 1 still in "
        "place: what goes in costs a New head, and no Old spares are held. The cheapest age is as "
        "if such heads followed each other; where New heads cost less per print hour, swap earlier."
    )
    assert said["New"] == (
        "1 Old head still in place counts here too, at the same share of the rating, since New "
        "heads follow."
    )


def test_what_goes_in_is_priced_and_stocked_and_nothing_of_the_type_that_goes(shop):
    case = shop(new=3)
    made = proposal_study(quarterly_review(case), case.shop)
    (old, of_old), (new, of_new) = sorted(made.each(), key=lambda one: one[0].head_type != "Old")
    labour = 0.3 * (38.0 + 9.0)
    assert (of_old.costs.head, of_new.costs.head) == (350.0 + labour, 350.0 + labour)
    assert {one.spares_level for one in of_old.policies} == {0}
    assert {one.holding_per_hour for one in of_old.policies} == {0.0}
    assert (old.to_follow, new.to_follow) == ({}, {"Old": 1})
    # So many of 500 h are due when a fifth more of 600 h are.
    choices = new.choices(age_hours=600.0)
    ages = [*new.positions(choices).ages, *(1.2 * old.positions(choices).ages)]
    assert sorted(new.served(choices).ages) == pytest.approx(sorted(ages))
    assert of_new.hours_per_quarter == pytest.approx(new.served(choices).hours_per_quarter)
    # Confirmed settings: each type by itself, as before.
    alone = shop(new=3, confirmed="true")
    apart = proposal_study(quarterly_review(alone), alone.shop)
    of_old, of_new = (
        next(one for kind, one in apart.each() if kind.head_type == name) for name in ("Old", "New")
    )
    assert (of_old.costs.head, of_new.costs.head) == (300.0 + labour, 350.0 + labour)
    assert max(one.spares_level for one in of_old.policies) > 0


def test_a_type_under_another_name_leaves_every_position_as_it_was(tmp_path):
    """Half way from one type to another with the same rating, or one type all along."""
    served = []
    for name in ("Old", "New"):
        folder = tmp_path / name
        folder.mkdir()
        case = half_way(folder, until="2025-03-31")
        log = (folder / "log.csv").read_text()
        (folder / "log.csv").write_text(log.replace(",Old,model,", f",{name},model,"))
        settings = (
            (folder / "shop.toml").read_text().replace("rated_hours = 600", "rated_hours = 500")
        )
        (folder / "shop.toml").write_text(settings)
        case = hl.read_case(folder / "log.csv", folder / "shop.toml")
        made = proposal_study(quarterly_review(case), case.shop)
        kind = next(one for one in made.kinds if (one.head_type, one.role) == ("New", "model"))
        at = kind.served(kind.choices(age_hours=500.0))
        served.append((sorted(at.ages), sorted(at.weekly_hours)))
        # Both heads in one visit: one pair, on every printer.
        (pair,) = made.pairs
        assert pair.names == ("New, model", "Old, support")
        assert len(pair.printers) == 8
    assert served[0] == served[1]


def half_way(tmp_path, until="2025-07-08"):
    """Eight printers, two heads each; from 17 January 2025 on New model heads go in for Old."""
    rows, last = [], np.datetime64(until)
    head = "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason"
    for place in range(8):
        for role, days in (("model", 70), ("support", 84)):
            # In step by a fraction of a stay, so that swaps are spread over the year.
            begins, turn = np.datetime64("2024-01-01") + 9 * place, 0
            while begins < last:
                over = role == "model" and begins >= np.datetime64("2025-01-17")
                kind = "New" if over else "Old"
                ends = begins + days + 13 * ((place + turn) % 3)
                why, out = ("worn out", ends) if ends <= last else ("", last)
                ran = 6.0 * float((out - begins).astype(int))
                name = f"{kind[0]}{role[0]}{place}{turn:02d}"
                rows.append(
                    f"{name},{kind},{role},P{place},{role},{begins},0,{out},{ran:.1f},{why}"
                )
                begins, turn = ends, turn + 1
    (tmp_path / "log.csv").write_text("\n".join([head, *rows]) + "\n")
    text = SETTINGS.format(old=0, new=2, on_order=0, confirmed="false", groups="")
    (tmp_path / "shop.toml").write_text(text)
    return hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml")


def test_past_forecasts_count_every_head_used_up_once_where_a_type_gives_way(tmp_path):
    case = half_way(tmp_path)
    quarters = hl.backtest(case, draws=500).quarters
    out = case.records.accepted
    out = out[out["reason"].notna()]
    for (begins, ends), rows in quarters.groupby(["begins", "ends"]):
        used = int(((out["date_out"] > begins) & (out["date_out"] <= ends)).sum())
        assert rows["happened"].sum() == used, begins
        assert rows["positions"].sum() == 16
    # Forecast as New heads, the Old ones in place count as such.
    spring = quarters[quarters["quarter"] == "2025 Q2"].set_index("head_type")
    at_first = case.with_(as_of="2025-03-31").fleet
    assert [(one.head_type, one.role, one.to) for one in at_first.giving_way] == [
        ("Old", "model", "New")
    ]
    still = at_first.positions.query("role == 'model' and head_type == 'Old'")
    assert len(still) >= 1
    assert spring.loc["New", "positions"] == 8
    assert (
        spring.loc["New", "low_95"] <= spring.loc["New", "happened"] <= spring.loc["New", "high_95"]
    )


@pytest.mark.parametrize(
    ("last", "acted_on"), [(True, {"Old", "New"}), (False, {"New"})], ids=["one left", "none left"]
)
def test_nothing_is_bought_now_of_a_type_that_goes(shop, last, acted_on):
    # Before, the newest lot of the old type was "bought now" for ever, its rating to be acted on.
    review, old, found = of_ratings(shop(last=last, groups=BY_LOT))
    assert (old.bought_now, found) == ((), acted_on)
    assert "ought now" not in division_answer(review, old)
    # Confirmed settings: heads are followed by heads of their type.
    review, old, found = of_ratings(shop(last=last, groups=BY_LOT, confirmed="true"))
    assert [one.group.part for one in old.bought_now] == ["lot L1"]
    assert found == {"Old", "New"}


def of_ratings(case):
    """Give a review, the lots of its old type, and the types whose rating is to be acted on."""
    review = quarterly_review(case)
    each = hl.actions_of(review, case.shop).each
    old = next(one for one in review.divisions if one.group.head_type == "Old")
    return review, old, {one.about[0] for one in each if one.kind in (VENDOR, RATING)}


def test_a_head_that_another_site_keeps_is_named_and_not_taken(tmp_path):
    """Two sites alike, a head due at both; all three spares are at one of them."""
    header = "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason,site"
    rows = []
    for site in ("Here", "There"):
        for turn in range(4):
            begins = np.datetime64("2024-01-01") + 60 * turn
            why, ran = ("worn out", 470 + 10 * turn) if turn < 3 else ("", 480)
            days = f"{begins},0,{begins + 60}"
            rows.append(f"{site}{turn},Old,model,{site[0]},left,{days},{ran},{why},{site}")
    settings = SETTINGS.format(old=0, new=0, on_order=0, confirmed="false", groups="")
    settings = settings.replace("on_hand = 0\n", "on_hand_by_site = { Here = 0, There = 3 }\n", 1)
    settings = settings.replace("[spares]", '[spares]\nsites = "separate"')
    case = case_of(tmp_path, settings, rows, header)
    here, there = (spare_of(name, case) for name in "HT")
    assert (here.spare, here.spare_site, spare_words(here)) == (
        "none",
        "There",
        "none; There has a new head",
    )
    assert (there.spare, there.spare_site) == ("new", "")
    plan = build_plan(case)
    # It runs on as before; that heads lie there, less those used there, was not said.
    assert plan.overdue["printer"].tolist() == ["H"]
    taken = int((plan.swaps["printer"] == "T").sum())
    assert plan.left_elsewhere == (("Old", "There", 3 - taken),)
    assert any(f"{3 - taken} new Old head" in said and "at There" in said for said in doubts(plan))
    pooled = case_of(tmp_path, settings.replace("separate", "pooled"), rows, header)
    assert build_plan(pooled).left_elsewhere == () and spare_of("H", pooled).spare_site == ""


def spare_of(printer, case):
    return next(one for one in lines(hl.due_list(case).heads) if one.printer == printer)
