"""Where lots are told apart, heads in place count as their own lot and new ones as the newest."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from tests.futures.two_lots import IN, LONG, RATED, SHORT, heads_of, made, two_lots
from tests.written_case import COSTS

import headlife as hl
from headlife.decisions.due import due_list
from headlife.decisions.plan.lives_ahead import LivesAhead
from headlife.decisions.policy.past_rating import kinds
from headlife.decisions.policy.proposal import proposal_study
from headlife.decisions.policy.survival import as_survival
from headlife.decisions.watch import watch_list
from headlife.life.by_lot import lots_of
from headlife.life.groups import Group
from headlife.life.lot_life import OneOfLots
from headlife.show.due.page import cards
from headlife.show.due.values import due_values
from headlife.show.past_rating.values import past_rating_values
from headlife.show.review.first_screen import first_screen
from headlife.show.words.policy import rated_words
from headlife.show.words.watch import watch_sentence

ALL = Group("A", "model")
BUILD = 96.0


def both_in(tmp_path, groups='groups = ["lot"]\n'):
    """Six heads of each lot in place, at 345 h and at 240 h; only the short-lived one is bought."""
    heads = [
        *heads_of("A", "2023-01-02", LONG),
        *heads_of("B", "2024-06-03", SHORT),
        *heads_of("A", "2025-09-08", IN),
        *heads_of("B", "2025-10-13", IN),
        *heads_of("B", "2025-12-31", [None]),
    ]
    return made(tmp_path, heads, groups, COSTS)


def of_lots(case):
    """Lives that are drawn or integrated for each lot, by its name."""
    (life,) = case.modes[ALL]
    return {lot.further[0][1]: one for lot, one in life.lots.items()}


def test_points_of_a_lots_posterior_average_as_its_draws_do(tmp_path):
    """Within three standard errors of 20,000 draws, at four ages; weights sum to 1."""
    for life in of_lots(both_in(tmp_path)).values():
        shape, scale, weight = life.nodes()
        drawn_shape, drawn_scale = life.draw(20_000, np.random.default_rng(3))
        assert weight.sum() == pytest.approx(1.0, abs=1e-12)
        for age in (150.0, 300.0, RATED, 900.0):
            drawn = np.exp(-((age / drawn_scale) ** drawn_shape))
            error = 3.0 * drawn.std() / np.sqrt(drawn.size) + 1e-6
            assert weight @ np.exp(-((age / scale) ** shape)) == pytest.approx(
                drawn.mean(), abs=error
            )


def test_the_chance_to_finish_a_build_is_that_of_the_heads_own_lot(tmp_path):
    """Within sampling of that lot's posterior; the one for all heads lies far from both."""
    case = both_in(tmp_path)
    watch = watch_list(case.fleet.positions, case.modes, BUILD)
    old = watch[watch["age_hours"] > 200.0]
    pooled = watch_list(case.fleet.positions, both_in(tmp_path, "").modes, BUILD)
    one = pooled.set_index("head")["probability"]
    for name, life in of_lots(case).items():
        own = old[old["lot"] == name]
        shape, scale, weight = life.nodes(64)
        age = own["age_hours"].iloc[0]
        ahead = ((age + BUILD) / scale) ** shape - (age / scale) ** shape
        assert (own["probability"] == own["probability"].iloc[0]).all()
        assert own["probability"].iloc[0] == pytest.approx(weight @ np.exp(-ahead), abs=0.01)
        assert abs(own["probability"].iloc[0] - one[own["head"].iloc[0]]) > 0.08
        assert set(own["lives_as"]) == {f"lot {name}"}
    assert set(pooled["lives_as"]) == {""}
    # Drawn together: neither which other heads there are nor their order matters.
    few = watch_list(case.fleet.positions.iloc[::-1].head(3), case.modes, BUILD)
    same = watch.set_index("head").loc[few["head"]]
    assert few["probability"].to_numpy() == pytest.approx(same["probability"].to_numpy(), abs=1e-12)


def test_words_and_numbers_name_the_lot(tmp_path):
    case = both_in(tmp_path)
    review = hl.quarterly_review(case)
    assert ", lot B)" in watch_sentence(review.watch, BUILD)
    assert "Bought now: lot B, with its newest head of" in str(first_screen(review))
    listed = due_list(case, BUILD)
    assert "as heads of lot B live" in str(cards(listed.heads, BUILD))
    due = due_values(listed)
    said = {head["lives_as"] for head in due["heads"] if "heads of lot B live" in head["why"]}
    assert said == {"lot B"}
    plain = due_values(due_list(both_in(tmp_path, ""), BUILD))
    assert not any("live" in head["why"] for head in plain["heads"])
    assert "Bought now" not in str(first_screen(hl.quarterly_review(both_in(tmp_path, ""))))


def test_heads_without_the_column_or_of_an_unknown_lot_are_not_told_apart(tmp_path):
    case = both_in(tmp_path)
    lots = case.modes[ALL][0].lots
    heads = pd.DataFrame({"head_type": "A", "role": "model", "lot": ["B", "Z", None]})
    assert lots_of(heads, lots) == [Group("A", "model", (("lot", "B"),)), None, None]
    assert lots_of(heads.drop(columns="lot"), lots) == [None] * 3
    assert lots_of(heads, []) == [None] * 3
    known = case.fleet.positions.drop(columns="lot")
    pooled = watch_list(known, case.modes, BUILD)
    plain = watch_list(known, both_in(tmp_path, "").modes, BUILD)
    assert pooled["probability"].tolist() == plain["probability"].tolist()


def test_a_plan_of_builds_takes_the_same_lives(tmp_path):
    """Heads in place by their own lot; new ones as the lot bought now, which is the short one."""
    case = both_in(tmp_path)
    lives = LivesAhead(case.modes, 500.0, seed=1)
    of_each = of_lots(case)
    kind = lives.kinds(case.fleet.positions)
    at = case.fleet.positions["age_hours"]
    for name, life in of_each.items():
        row = kind[(case.fleet.positions["lot"] == name) & (at > 200.0)].index[0]
        age = float(at[row])
        shape, scale, weight = life.nodes()
        there, later = (np.exp(-((one / scale) ** shape)) for one in (age, age + BUILD))
        share = (weight @ later) / (weight @ there)
        assert float(lives.aged(kind[row], age)(age + BUILD)) == pytest.approx(share, abs=0.01)
    shape, scale, weight = of_each["B"].nodes()
    new = weight @ np.exp(-((300.0 / scale) ** shape))
    assert float(lives.new(ALL, 2000.0)(300.0)) == pytest.approx(new, abs=0.01)
    plain = LivesAhead(both_in(tmp_path, "").modes, 500.0, seed=1)
    assert set(plain.kinds(case.fleet.positions)) == {ALL}
    assert float(plain.new(ALL, 2000.0)(300.0)) > new + 0.1


def test_part_used_heads_on_the_shelf_keep_their_lot(tmp_path):
    case = both_in(tmp_path)
    # One more head came out of its printer for another material and waits.
    rows = (tmp_path / "log.csv").read_text().splitlines()
    rows.append("U1,A,model,P900,left,2025-06-02,0,2025-08-04,180,material,A")
    (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
    settings = (tmp_path / "shop.toml").read_text()
    asked = settings.replace(
        '[head_types."A"]', '[reasons.suspensions]\nmaterial = "material change"\n[head_types."A"]'
    )
    (tmp_path / "shop.toml").write_text(asked)
    shelf = hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml").fleet.shelf
    assert shelf["lot"].tolist() == ["A"]
    assert LivesAhead(case.modes, 500.0, 1).kinds(shelf).tolist() == [
        Group("A", "model", (("lot", "A"),))
    ]


def test_policies_are_priced_for_the_heads_bought_now(tmp_path):
    """As if there were only that lot: within a tenth; one life for all would be far off."""
    case = both_in(tmp_path)
    (kind,) = kinds(hl.quarterly_review(case), case.shop)
    assert rated_words(kind) == "rated 500 h; new heads as those of lot B"
    plain = both_in(tmp_path, "")
    (pooled,) = kinds(hl.quarterly_review(plain), plain.shop)
    assert rated_words(pooled) == "rated 500 h"
    alone = made(
        tmp_path, [*heads_of("B", "2024-06-03", SHORT), *heads_of("B", "2025-10-13", IN)], "", COSTS
    )
    (only,) = kinds(hl.quarterly_review(alone), alone.shop)

    def failed(one):
        (row,) = [row for row in one.answer(one.choices()).policies if row.policy.swap_at == np.inf]
        return (
            row.failed_builds_per_quarter.expected / one.positions(one.choices()).hours_per_quarter
        )

    assert failed(kind) == pytest.approx(failed(only), rel=0.1)
    assert failed(kind) > 1.5 * failed(pooled)
    values = past_rating_values(proposal_study(hl.quarterly_review(case), case.shop))
    assert json.loads(json.dumps(values["kinds"]))[0]["new_heads_as"] == {"lot B": 1.0}


def test_a_step_past_the_rating_is_weighed_for_the_heads_that_pass_it(tmp_path):
    """Long-lived heads near the rating, short-lived ones bought now: the step is the former's."""
    heads = [
        *heads_of("A", "2023-01-02", LONG),
        *heads_of("B", "2024-06-03", SHORT),
        *heads_of("A", "2025-08-04", IN),
        *heads_of("B", "2025-12-25", IN),
    ]
    case = made(tmp_path, heads, more=COSTS)
    (kind,) = kinds(hl.quarterly_review(case), case.shop)
    lots = of_lots(case)
    own, new = as_survival([lots["A"]]), as_survival([lots["B"]])
    at = np.array([RATED])

    def share(life):
        return float(life.weights @ life.reliability(at)[:, 0])

    assert share(kind.passing) == pytest.approx(share(own), abs=1e-9)
    assert share(kind.desk.survival) == pytest.approx(share(new), abs=1e-9)
    mixed = as_survival([OneOfLots([lots["A"], lots["B"]], [0.25, 0.75])])
    assert share(mixed) == pytest.approx(0.25 * share(own) + 0.75 * share(new), abs=1e-9)
    assert mixed.weights.sum() == pytest.approx(1.0, abs=1e-12)
    # Nobody near the rating: as of a new head.
    young = made(tmp_path, two_lots(), more=COSTS)
    (kind,) = kinds(hl.quarterly_review(young), young.shop)
    assert kind.passing is kind.desk.survival


def test_the_failures_expected_of_a_step_are_those_of_the_lot_that_passes(tmp_path):
    """Short-lived heads pass the rating while the long-lived lot is bought: theirs are counted."""
    heads = [
        *heads_of("B", "2023-01-02", SHORT),
        *heads_of("A", "2024-06-03", LONG),
        *heads_of("B", "2025-10-13", IN),
        *heads_of("A", "2025-12-25", IN),
    ]
    case = made(tmp_path, heads, more=COSTS)
    (kind,) = kinds(hl.quarterly_review(case), case.shop)
    step = kind.answer(kind.choices()).next_step
    assert kind.bought_now["lot A"] > 0.5 and step.heads == len(IN)

    def failing(life):
        there, later = life.reliability(np.array([RATED, step.looked_at])).T
        return step.heads * float(life.weights @ (1.0 - later / np.maximum(there, 1e-300)))

    own = as_survival([of_lots(case)["B"]])
    assert step.expected_failures == pytest.approx(failing(own), rel=1e-9)
    assert failing(own) > 1.3 * failing(kind.desk.survival)


def test_what_would_be_learned_is_told_of_the_lot_that_is_bought_now(tmp_path):
    # Lot B has two failures and four heads in; lot A, of which none is left, twenty-five failures.
    heads = [
        *heads_of("A", "2023-01-02", LONG),
        *heads_of("B", "2025-06-02", [300.0, 520.0, None, None, None, None]),
    ]
    case = made(tmp_path, heads, more=COSTS)
    study = proposal_study(hl.quarterly_review(case), case.shop)
    (one,) = study.learned
    assert one.part.group.part == "lot B"
    assert one.chances is not None and one.chances["settled"].between(0, 1).all()
    told = past_rating_values(study)["learning"]
    assert {row[0] for row in told["rows"]} == {"A, model, lot B, bought now"}
    assert "by its own heads alone" in told["sentences"][-1]
    # One life for all lots, where none are told apart, as before.
    together = made(tmp_path, heads, groups="", more=COSTS)
    whole = proposal_study(hl.quarterly_review(together), together.shop)
    assert [(learned.part, learned.kind.name) for learned in whole.learned] == [(None, "A, model")]
    assert "own heads" not in " ".join(past_rating_values(whole)["learning"]["sentences"])
    # Every head in place is of lot B.
    places = one.kind.served(study.answers[0].choices)
    assert one.kind.speak_of(one.part).sum() == 4 == len(places.ages)
