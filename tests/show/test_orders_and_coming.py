"""What the records do not show, orders and printers that will come: told wherever it is counted."""

from __future__ import annotations

import argparse
import io
import json
import os

import pytest
from tests.show.conftest import DEMO

import headlife as hl
from headlife import cli
from headlife.commands import workers
from headlife.errors import HeadlifeError
from headlife.show.review.first_screen import first_screen
from headlife.show.spares import budget
from headlife.show.spares.page import first_screen as spares_screen
from headlife.show.spares.workbook import budget_workbook
from headlife.show.words import actions as to_do
from headlife.show.words.budget import coming_sentence
from headlife.show.words.stock import ahead_sentence, note_sentence

RECORDS = str(DEMO / "removals.csv")
SEPARATE = {
    "on_hand = 2\non_order = 0": 'on_hand_by_site = { "Mill Yard" = 1, "Harbour Hall" = 1 }\n'
    'orders."=117<i>" = { heads = 2, site = "Mill Yard", due = 2026-10-20 }',
    "on_hand = 1\non_order = 1": 'on_hand_by_site = { "Mill Yard" = 1, "Harbour Hall" = 0 }\n'
    "orders.later = { heads = 1 }",
    "[spares]": '[spares]\nsites = "separate"',
    "[review]": "[review]\ndraws = 1000",
}
LINNET = """
[new_printers."Linnet<b>"]
begins = 2026-11-02
weekly_hours = 40
model = "Fibre"
support = "Standard"
site = "Harbour Hall"
"""


def written(folder, **changes):
    """Write the demo's settings with two stocks, orders and a new printer; change some words."""
    text = (DEMO / "shop.toml").read_text(encoding="utf-8")
    for one, other in SEPARATE.items():
        assert one in text
        text = text.replace(one, other, 1)
    text = text.replace("heads = 1 }", 'heads = 1, site = "Harbour Hall" }') + LINNET
    for one, other in changes.items():
        assert one in text
        text = text.replace(one, other)
    (folder / "shop.toml").write_text(text, encoding="utf-8")
    return str(folder / "shop.toml")


@pytest.fixture(scope="module")
def shop_file(tmp_path_factory):
    return written(tmp_path_factory.mktemp("two_sites"))


@pytest.fixture(scope="module")
def study(shop_file):
    shop = hl.read_shop(shop_file)
    return hl.spares_study(hl.read_records(RECORDS, shop), shop)


@pytest.fixture(scope="module")
def past(study, shop_file):
    shop = hl.read_shop(shop_file)
    return hl.backtest(hl.read_records(RECORDS, shop), shop, last_only=True, draws=200)


def test_the_page_says_what_is_ordered_and_what_will_come(study, past):
    shown = spares_screen(study, past).markup.replace("&nbsp;", " ")
    assert "2 (=117&lt;i&gt;), due on 20 October 2026" in shown
    assert "1 (later), no day stated, counted one lead time from now" in shown
    assert "The new printer Linnet&lt;b&gt; (support, 40 h a week) is counted" in shown
    assert "New printers in these numbers: Linnet&lt;b&gt; from 2 November 2026 on" in shown
    assert "Linnet<b>" not in shown
    assert "Harbour Hall" in budget.budget_parts_table(study.budget).markup


def test_stocks_apart_hold_each_order_once(study):
    ordered = {(a.head_type, a.site): a.plan.on_order for a in study.stock}
    assert ordered == {
        ("Standard", "Harbour Hall"): 0,
        ("Standard", "Mill Yard"): 2,
        ("Fibre", "Harbour Hall"): 1,
        ("Fibre", "Mill Yard"): 0,
    }


def test_the_review_says_it_on_its_cards(shop_file, study):
    shop = hl.read_shop(shop_file)
    review = hl.quarterly_review(hl.read_records(RECORDS, shop), shop)
    shown = first_screen(review).markup.replace("&nbsp;", " ")
    assert "2 (=117&lt;i&gt;), due on 20 October 2026" in shown
    assert "The new printer Linnet&lt;b&gt; (model, 40 h a week) is counted" in shown
    assert [ahead_sentence(a) for a in review.stock] == [ahead_sentence(a) for a in study.stock]
    # It is no head in service: nothing to watch, nothing to judge.
    assert "Linnet<b>" not in set(review.watch["printer"])
    assert "Linnet<b>" not in set(review.in_service["printer"])


def test_the_demo_itself_has_nothing_of_the_kind_to_tell():
    shop = hl.read_shop(DEMO / "shop.toml")
    review = hl.quarterly_review(hl.read_records(RECORDS, shop), shop)
    assert [ahead_sentence(answer) for answer in review.stock] == ["", ""]


def test_a_head_type_that_only_a_new_printer_has_is_told(tmp_path):
    glass = '[head_types."Glass"]\nrated_hours = 900\n[spares]'
    shop = hl.read_shop(
        written(tmp_path, **{"[spares]": glass, 'model = "Fibre"': 'model = "Glass"'})
    )
    records = hl.read_records(RECORDS, shop)
    review = hl.quarterly_review(records, shop)
    said = "Its model head is left out: no Glass head has run in that role yet."
    (answer,) = [answer for answer in review.stock if answer.head_type == "Glass"]
    assert note_sentence(answer).endswith(
        f"{said} 1 position whose head has not run yet is left out."
    )
    assert said in first_screen(review).markup
    study = hl.spares_study(records, shop)
    assert said in note_sentence(study.stock[-1])
    assert "Glass as model (left out: none has run yet)" in coming_sentence(study)


def test_the_workbook_says_it_as_text(study):
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(budget_workbook(study)))
    assert coming_sentence(study) in book["Summary"]["A2"].value
    words = [row[9].value for row in book["Order now"].iter_rows(min_row=5)]
    assert any("On order: 2 (=117<i>), due on 20 October 2026." in one for one in words)


def test_printers_that_come_after_the_year_are_told_as_not_counted(tmp_path):
    shop = hl.read_shop(written(tmp_path, **{"begins = 2026-11-02": "begins = 2027-12-01"}))
    study = hl.spares_study(hl.read_records(RECORDS, shop), shop)
    said = coming_sentence(study)
    assert said == "Linnet<b> comes on 1 December 2027, after this year."
    assert "after these 19 weeks, and adds nothing yet" in note_sentence(study.stock[0])


def test_command_spares_prints_what_will_come(shop_file, capsys):
    assert cli.main(["spares", RECORDS, "--shop", shop_file]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "New printers in these numbers: Linnet<b> from 2 November 2026 on (40 h a week" in shown
    assert cli.main(["spares", RECORDS, "--shop", shop_file, "--json"]) == 0
    answers = json.loads(capsys.readouterr().out)["new_printers"]
    assert [(one["role"], one["begins"]) for one in answers["heads"]] == [
        ("model", "2026-11-02"),
        ("support", "2026-11-02"),
    ]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({'heads = 1, site = "Harbour Hall"': "heads = 1"}, "the order 'later' must name its site"),
        ({'"Mill Yard", due': '"Mil Yard", due'}, "'Mil Yard' (did you mean 'Mill Yard'?)"),
        ({"Linnet<b>": "otter"}, "removals.csv has rows of the printer 'Otter'"),
        ({"begins = 2026-11-02": "begins = 2026-09-29"}, "before the day looked at (2026-09-30)"),
        ({'"Fibre"\nsupport': '"Fiber"\nsupport'}, "did you mean 'Fibre'?"),
        ({"weekly_hours = 40": "weekly_hours = -40"}, "write print hours a week between 0"),
    ],
)
def test_a_mistake_is_one_sentence_and_exit_code_2(change, said, tmp_path, capsys):
    assert cli.main(["spares", RECORDS, "--shop", written(tmp_path, **change)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err
    assert "Traceback" not in told.err


def test_command_backtest_says_the_same_with_workers(shop_file, capsys):
    files = ["backtest", RECORDS, "--shop", shop_file, "--as-of", "2024-09-30", "--json"]
    assert cli.main(files) == 0
    alone = capsys.readouterr().out
    assert cli.main([*files, "--workers", "2"]) == 0
    assert capsys.readouterr().out == alone
    assert cli.main([*files, "--workers", "1"]) == 0
    assert capsys.readouterr().out == alone


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["--workers", "0"], "The number of workers is 1 or more; got 0."),
        (["--workers", "2", "--scheduler", "tcp://here:1"], "Name a cluster (--scheduler) or"),
        (["--scheduler", "nowhere"], "There is no Dask cluster at 'nowhere'"),
    ],
)
def test_workers_that_cannot_be_had_are_named(asked, said, shop_file, capsys):
    if "nowhere" in asked:
        pytest.importorskip("distributed")
    assert cli.main(["backtest", RECORDS, "--shop", shop_file, *asked]) == 2
    assert said in capsys.readouterr().err


def test_a_worker_that_is_stopped_is_told_in_a_sentence():
    asked = argparse.Namespace(workers=2, scheduler=None)
    with (
        pytest.raises(HeadlifeError, match="A worker was stopped.* fewer --workers"),
        workers.executor_asked_for(asked) as executor,
    ):
        executor.submit(os._exit, 1).result()


def test_a_shop_that_closed_a_site_hears_of_the_heads_there(tmp_path):
    # The log of the demo with a site that was closed two years ago.
    rows = (DEMO / "removals.csv").read_text(encoding="utf-8")
    last = (
        "S900,Standard,model,Old Oak,left,2024-01-08,0.0,2024-05-06,410.0,worn out,slate,,"
        "Old Kiln,\n"
    )
    log = tmp_path / "removals.csv"
    log.write_text(rows + last, encoding="utf-8")
    settings = written(tmp_path, **{'"Harbour Hall" = 1 }': '"Harbour Hall" = 1, "Old Kiln" = 2 }'})
    case = hl.read_case(log, shop=settings)
    review = hl.quarterly_review(case)
    said = [ahead_sentence(one) for one in review.stock if one.head_type == "Standard"]
    assert len(said) == 2
    assert all("Not counted: 2 on the shelf at Old Kiln, where no Standard" in one for one in said)
    orders = [one for one in hl.actions_of(review, case.shop).each if one.kind == "order"]
    assert any(
        "2 on the shelf at Old Kiln can be moved here first" in to_do.why(one, None)
        for one in orders
        if one.about[0] == "Standard"
    )
    slip = written(tmp_path, **{'"Harbour Hall" = 1 }': '"Harbour Hall" = 1, "Old Kilm" = 2 }'})
    with pytest.raises(HeadlifeError, match="did you mean 'Old Kiln'.*no record names"):
        hl.quarterly_review(hl.read_case(log, shop=slip))
