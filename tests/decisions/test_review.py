from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from tests.written_case import case_of

import headlife as hl
from headlife.errors import HeadlifeError
from headlife.show.words.rating import stratum_note
from headlife.show.words.stock import note_sentence

DEMO = Path(__file__).parents[2] / "data_demo"

SETTINGS = """
name = "Test workshop"
[reasons.failures]
"worn out" = "wear"
"dropped" = "damage"
[reasons.suspensions]
"swap at rating" = "planned swap"
"material change" = "material change"
[head_types."Plain"]
rated_hours = 1000
on_hand = 1
[head_types."Hard"]
rated_hours = 600
[spares]
lead_time_weeks = 6
review_weeks = 13
[review]
draws = 2000
seed = 7
"""
FAILED = "{head},{type},{role},{printer},left,2025-01-01,0,2025-12-01,{hours},{reason}"


def row(head, hours, reason="", head_type="Plain", role="model", printer=None):
    return FAILED.format(
        head=head,
        hours=hours,
        reason=reason,
        type=head_type,
        role=role,
        printer=printer or f"P-{head}",
    )


@pytest.fixture
def review(tmp_path):
    def make(*rows, settings=SETTINGS, **options):
        case = case_of(tmp_path, settings, rows)
        return hl.quarterly_review(case.records, case.shop, **options)

    return make


RUNNING = [row(f"R{number}", 100 * number + 50) for number in range(6)]


def test_every_question_has_an_answer(review):
    steps = []
    answer = review(
        *RUNNING,
        row("F1", 800, "worn out"),
        row("F2", 300, "dropped"),
        row("F3", 500, "worn out", role="support"),
        progress=lambda *step: steps.append(step),
    )
    assert [(s.head_type, s.role) for s in answer.strata] == [
        ("Plain", "model"),
        ("Plain", "support"),
    ]
    model = answer.strata[0]
    assert model.failures == {"wear": 1, "damage": 1}
    assert (model.heads, model.in_service) == (8, 6)
    assert model.life is model.modes["wear"]
    assert [s.head_type for s in answer.stock] == ["Plain"]
    assert answer.stock[0].horizon_weeks == 19
    assert answer.stock[0].positions == 6
    assert len(answer.watch) == 6
    assert answer.watch["probability"].is_monotonic_increasing
    assert str(answer.as_of.date()) == "2025-12-01"
    assert answer.rows_read == answer.rows_accepted == 9
    assert {step for step, _, _ in steps} == {
        "joining installations into lives",
        "judging ratings",
        "judging past quarters",
        "simulating demand",
        "listing heads to watch",
        "forecasting past quarters",
    }
    assert answer.last_quarter["quarter"].tolist() == ["2025 Q3"]
    assert answer.last_quarter["happened"].tolist() == [0]
    assert all(done <= total for _, done, total in steps)


def test_same_records_same_answers(review):
    rows = [*RUNNING, row("F1", 800, "worn out"), row("F2", 300, "dropped")]
    one, two = review(*rows), review(*rows)
    assert one.stock[0].demand.pmf.tobytes() == two.stock[0].demand.pmf.tobytes()
    assert one.watch.equals(two.watch)
    assert one.strata[0].verdict == two.strata[0].verdict


def test_a_new_head_type_leaves_other_answers_alone(review):
    """Random numbers are each one's own; print hours, which all printers tell of, are stated."""
    rows = [*RUNNING, row("F1", 800, "worn out")]
    also = [row("H1", 500, "worn out", "Hard"), row("H2", 90, "", "Hard")]

    def stated(*told):
        names = [line.split(",")[3] for line in told]
        return f"{SETTINGS}[usage]\n" + "".join(f'"{name}" = 20\n' for name in names)

    alone = review(*rows, settings=stated(*rows))
    more = review(*rows, *also, settings=stated(*rows, *also))
    assert [s.head_type for s in more.stock] == ["Plain", "Hard"]
    assert alone.stock[0].demand.pmf.tobytes() == more.stock[0].demand.pmf.tobytes()
    assert alone.strata[0].verdict == more.strata[0].verdict


def test_renaming_printers_changes_nothing(review):
    one = review(*RUNNING, row("F1", 800, "worn out"))
    renamed = [line.replace("P-R", "Z") for line in [*RUNNING, row("F1", 800, "worn out")]]
    two = review(*renamed)
    assert one.stock[0].demand.pmf.tobytes() == two.stock[0].demand.pmf.tobytes()
    assert one.strata[0].verdict == two.strata[0].verdict


def test_both_roles_draw_on_one_stock(review):
    rows = [
        *RUNNING,
        *(row(f"S{number}", 80 * number + 20, role="support") for number in range(5)),
        row("F1", 800, "worn out"),
        row("F2", 700, "worn out", role="support"),
    ]
    answer = review(*rows)
    assert answer.stock[0].positions == 11
    alone = review(*(line for line in rows if ",model," in line))
    assert answer.stock[0].demand.mean > alone.stock[0].demand.mean


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (RUNNING, "No head has failed yet, and the oldest has run"),
        ([*RUNNING, row("F1", 800, "worn out")], "One head has failed by wear"),
        ([row("ONE", 700)], "No head has failed yet, and the oldest has run"),
        ([row("ONE", 700, "worn out")], "One head has failed by wear"),
        (
            [row("A", 300, "worn out"), row("B", 800, "worn out")],
            "2 heads have failed by wear",
        ),
    ],
)
def test_short_records_are_answered_wide_and_say_so(review, rows, words):
    answer = review(*rows)
    stratum = answer.strata[0]
    assert words in stratum_note(stratum)
    low, high = stratum.verdict.bounds
    assert 0 <= low < high <= 1
    assert high - low > 0.05
    assert np.isfinite(stratum.verdict.probability)
    assert answer.stock[0].demand.pmf.sum() == pytest.approx(1.0)


def test_everything_failed_and_nothing_in_service(review):
    answer = review(*(row(f"F{n}", 200 + 40 * n, "worn out") for n in range(12)))
    assert answer.strata[0].verdict.verdict == "falls short"
    assert stratum_note(answer.strata[0]) == ""
    assert answer.watch.empty
    assert answer.stock[0].demand.quantile(0.999) == 0
    assert answer.stock[0].plan.order_now == 0


def test_heads_that_have_not_run_are_named_and_left_out(review):
    new = "N1,Hard,model,P9,left,2025-12-01,0,2025-12-01,0,"
    answer = review(*RUNNING, new)
    hard = answer.strata[1]
    assert (hard.life, hard.verdict, hard.in_service) == (None, None, 1)
    assert "not run yet" in stratum_note(hard)
    assert note_sentence(answer.stock[1]) == "1 position whose head has not run yet is left out."
    assert answer.watch.set_index("head")["probability"].isna()["N1"]
    assert len(answer.watch) == 7


def test_rows_that_cannot_be_read_stop_the_review_unless_the_settings_say_otherwise(review):
    bad = row("BAD", "many")
    with pytest.raises(HeadlifeError, match="many"):
        review(*RUNNING, bad)
    lenient = SETTINGS.replace("seed = 7", 'seed = 7\nset_aside = "continue"')
    answer = review(*RUNNING, bad, settings=lenient)
    assert (answer.rows_read, answer.rows_accepted, len(answer.set_aside)) == (7, 6, 1)


def test_the_review_of_a_past_day_knows_nothing_later(review):
    rows = [*RUNNING, row("F1", 800, "worn out")]
    past = review(*rows, as_of="2025-06-30")
    assert str(past.as_of.date()) == "2025-06-30"
    assert past.strata[0].failures == {"wear": 0}
    assert past.strata[0].in_service == 7


def test_every_head_of_the_demo_shop_is_answered():
    shop = hl.read_shop(DEMO / "shop.toml")
    answer = hl.quarterly_review(hl.read_records(DEMO / "removals.csv", shop), shop)
    assert len(answer.watch) == len(answer.in_service) == 22
    assert all(stock.plan.service >= 0.95 for stock in answer.stock)
    heads = sum(stratum.in_service for stratum in answer.strata)
    assert heads == sum(stock.positions for stock in answer.stock) == 22
