from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import headlife as hl
from headlife.decisions.policy.both_heads import both_heads
from headlife.decisions.policy.past_rating import kinds
from headlife.errors import DecisionError, SettingsError
from headlife.life.groups import Group
from headlife.shop import read_shop
from headlife.show.words.policy import advice_sentence, both_heads_sentence, proposal_sentence

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def shop():
    return read_shop(DEMO / "shop.toml")


@pytest.fixture(scope="module")
def review(shop):
    return hl.quarterly_review(hl.read_records(DEMO / "removals.csv", shop), shop)


@pytest.fixture(scope="module")
def ready(review, shop):
    return kinds(review, shop)


def of(ready, head_type, role):
    return next(k for k in ready if (k.head_type, k.role) == (head_type, role))


def with_policy(shop, swap_at):
    return shop.with_(policy={"swap_at": swap_at})


@pytest.mark.parametrize("scrapped", [0.0, 240.0, 5000.0])
@pytest.mark.parametrize("age", [700.0, 800.0, 900.0, 2000.0, np.inf])
def test_quality_critical_heads_are_never_advised_past_their_rating(ready, scrapped, age):
    kind = of(ready, "Fibre", "model")
    assert kind.quality_critical
    answer = kind.answer(kind.choices(age_hours=age, scrapped_build_cost=scrapped))
    assert answer.advice.age <= kind.rated_hours
    said = proposal_sentence(kind, answer)
    assert said.startswith("No: ") == (age > kind.rated_hours)
    assert "saves" not in said or age <= kind.rated_hours
    between = [one for one in answer.policies if one.policy.build_hours]
    allowed = [one for one in between if "not advised" not in one.policy.name]
    assert all(one.policy.comes_out_at <= kind.rated_hours for one in allowed)


def test_quality_critical_printers_are_named_and_kept_at_the_rating(ready, review, shop):
    kind = of(ready, "Standard", "support")
    answer = kind.answer(kind.choices(age_hours=1.5 * kind.rated_hours))
    assert answer.advice.never_past == ("Otter",)
    assert "Not on Otter" in proposal_sentence(kind, answer)
    proposals = {k.name: k.choices(age_hours=1.5 * k.rated_hours) for k in ready}
    pairs = both_heads(review, ready, proposals, shop.review.seed)
    assert sorted(p for pair in pairs for p in pair.printers) == sorted(
        set(review.fleet.positions["printer"])
    )
    otter = next(pair for pair in pairs if "Otter" in pair.printers)
    rated = {k.name: k.rated_hours for k in ready}
    for _, way in otter.ways:
        for name, policy in zip(otter.names, way.policies, strict=True):
            assert policy.swap_at <= rated[name]


def test_quality_critical_printers_are_named_without_a_head_of_the_kind_today(ready, review):
    kind = of(ready, "Standard", "model")
    now = review.fleet.of(Group("Standard", "model"))["printer"]
    assert "Otter" not in set(now)  # it holds another kind today, and may hold this one tomorrow
    answer = kind.answer(kind.choices(age_hours=1.5 * kind.rated_hours))
    assert "Not on Otter" in advice_sentence(kind, answer)
    assert "Not on Otter" in proposal_sentence(kind, answer)


def test_ages_beyond_the_oldest_head_are_named(ready):
    kind = of(ready, "Standard", "model")
    beyond = kind.answer(kind.choices(age_hours=2.0 * kind.oldest_seen))
    assert f"No head has run past {kind.oldest_seen:,.0f} h" in proposal_sentence(kind, beyond)
    within = kind.answer(kind.choices(age_hours=0.9 * kind.oldest_seen))
    assert "No head has run past" not in proposal_sentence(kind, within)
    for answer in (beyond, within):
        assert answer.advice.beyond_data == (answer.advice.age > kind.oldest_seen)
        named = f"oldest head seen ran {kind.oldest_seen:,.0f} h" in advice_sentence(kind, answer)
        assert named == answer.advice.beyond_data


def test_choices_move_the_answer_the_way_they_should(ready):
    kind = of(ready, "Standard", "support")
    cheap, dear = (
        kind.answer(kind.choices(age_hours=1500.0, scrapped_build_cost=cost))
        for cost in (50.0, 3000.0)
    )
    assert dear.advice.age <= cheap.advice.age
    assert dear.proposed.cost_per_hour.expected > cheap.proposed.cost_per_hour.expected
    checks = kind.answer(kind.choices(age_hours=1500.0, manual_checks=4))
    one = kind.answer(kind.choices(age_hours=1500.0, manual_checks=1))
    assert checks.proposed.cost_per_hour.expected > one.proposed.cost_per_hour.expected
    # Answers of one proposal do not depend on what was asked before.
    again = kind.answer(kind.choices(age_hours=1500.0, manual_checks=1))
    assert again.table.equals(one.table) and again.curve.equals(one.curve)


def test_both_heads_start_from_the_formula_and_say_what_they_found(ready, review, shop):
    proposals = {k.name: k.choices(age_hours=k.rated_hours) for k in ready}
    for pair in both_heads(review, ready, proposals, shop.review.seed):
        table = pair.table
        assert abs(table["saving"].iloc[0]) < 1e-6 and table["regret"].iloc[0] == 0
        assert table["cost_per_hour"].iloc[1] <= table["cost_per_hour"].iloc[0] + 1e-12
        assert (table["spares"] >= 0).all()
        assert all(name in both_heads_sentence(pair) for name in pair.names)


def test_settings_that_contradict_each_other_are_refused(review, shop):
    for swap_at in ("failure", 1000.0):
        with pytest.raises(DecisionError, match="contradict each other"):
            kinds(review, with_policy(shop, swap_at))
    assert kinds(review, with_policy(shop, "notice"))


def test_missing_costs_and_senseless_choices_end_with_a_sentence(ready, review, shop):
    bare = shop.with_(costs=type(shop.costs)())
    with pytest.raises(SettingsError, match="scrapped_build_cost"):
        kinds(review, bare)[0].choices()
    kind = ready[0]
    for tried, says in (
        ({"age_hours": 0.0}, "swap age must be above zero"),
        ({"build_hours": -1.0}, "length of a build"),
        ({"service_level": 95.0}, "0.95"),
        ({"scrapped_build_cost": np.nan}, "finite"),
    ):
        with pytest.raises(DecisionError, match=says):
            kind.choices(**tried)
