from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path

import pytest
from matplotlib.figure import Figure

import headlife as hl
from headlife import cli
from headlife.show.backtest import section
from headlife.show.backtest.values import past_values
from headlife.show.figures import budget as budget_figures
from headlife.show.figures import past_forecasts as past_figures
from headlife.show.figures import stock_risk
from headlife.show.files import Outputs
from headlife.show.spares import budget, stock
from headlife.show.spares.page import first_screen
from headlife.show.spares.values import spares_values
from headlife.show.spares.workbook import budget_workbook
from headlife.show.words import budget as budget_words
from headlife.show.words import past_forecasts
from headlife.show.words import stock as words
from headlife.show.words.numbers import money, span_of_heads
from headlife.show.words.stock import note_sentence

DEMO = Path(__file__).parents[2] / "data_demo"
RECORDS, SHOP = str(DEMO / "removals.csv"), str(DEMO / "shop.toml")


@pytest.fixture(scope="module")
def fast_shop(tmp_path_factory):
    """The demo shop with fewer draws; two site names that mean something to a spreadsheet."""
    folder = tmp_path_factory.mktemp("shop")
    text = (DEMO / "shop.toml").read_text(encoding="utf-8")
    (folder / "shop.toml").write_text(
        text.replace("[review]", "[review]\ndraws = 2000", 1), encoding="utf-8"
    )
    rows = (DEMO / "removals.csv").read_text(encoding="utf-8").replace("Mill Yard", "=Mill<b>")
    (folder / "removals.csv").write_text(rows, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def records(fast_shop):
    return hl.read_records(fast_shop / "removals.csv", hl.read_shop(fast_shop / "shop.toml"))


@pytest.fixture(scope="module")
def study(records):
    return hl.spares_study(records, records.shop)


@pytest.fixture(scope="module")
def past(records):
    return hl.backtest(records, records.shop, draws=500)


@pytest.fixture
def ax():
    return Figure().subplots()


def test_the_stock_is_that_of_the_quarterly_review(study, records):
    review = hl.quarterly_review(records, records.shop)
    for ours, theirs in zip(study.stock, review.stock, strict=True):
        assert ours.plan.stock_level == theirs.plan.stock_level
        assert ours.demand.pmf.tobytes() == theirs.demand.pmf.tobytes()
        assert note_sentence(ours) == note_sentence(theirs)


def test_answers_survive_json_and_add_up(study, past):
    answers = json.loads(json.dumps(spares_values(study, past), allow_nan=False))
    assert [one["head_type"] for one in answers["stock"]] == ["Standard", "Fibre"]
    for one in answers["stock"]:
        held = one["on_hand"] + one["on_order"]
        assert one["order_now"] == max(0, one["stock_level"] - held)
        assert f"order {one['order_now']} now" in one["sentence"] or one["order_now"] == 0
    year = [
        line
        for line in answers["budget"]["lines"]
        if (line["period"], line["head_type"], line["site"], line["kind"])
        == ("year", "all", "all", "all")
    ]
    amount = {line["item"]: line["mean"] for line in year}
    parts = ("head cost", "labour", "calibration", "standstill", "spoiled build cost")
    assert sum(amount[part] for part in parts) == pytest.approx(amount["total"])


def test_sentences_name_the_numbers(study, past):
    total = study.budget.line("total")
    assert money(total.median) in budget_words.budget_sentence(study.budget)
    assert "credits" in budget_words.budget_sentence(study.budget)
    for answer in study.stock:
        assert f"down to {answer.reorder_point}." in words.order_sentence(answer)
    for one in study.pooling:
        assert f"one shared stock needs {one.shared_level};" in budget_words.pooling_sentence(study)
    last = past.last
    said = past_forecasts.last_quarter_sentence(last)
    assert last["quarter"].iloc[0] in said
    for row in last.itertuples():
        assert f"it was {row.happened}" in said
        assert span_of_heads(row.low_80, row.high_80) in said
    assert past_forecasts.last_quarter_sentence(last.iloc[:0]) == ""


def test_the_risk_figure_draws_the_table(study, ax):
    answer = study.stock[0]
    level, least = answer.plan.stock_level, answer.balanced_level
    bars = stock_risk.risk_bars(answer.plan.table, level, least)
    assert level in set(bars["stock_level"])
    stock_risk.draw_cost(ax, bars, level, least, currency="credits")
    carrying = bars["carrying_cost"].tolist()
    heights = [patch.get_height() for patch in ax.patches]
    assert heights[: len(bars)] == pytest.approx(carrying)
    assert heights[len(bars) :] == pytest.approx(bars["waiting_cost"].tolist())
    risk = stock_risk.draw_risk(ax.figure.add_subplot(), bars, level)
    assert risk.lines[0].get_ydata() == pytest.approx((1 - answer.plan.table.set_index(
        "stock_level"
    ).loc[bars["stock_level"], "service"]).to_numpy())  # fmt: skip
    assert "[credits]" in ax.get_ylabel()
    assert "%" in risk.get_ylabel()


def test_the_risk_figure_without_costs_draws_waiting(study, ax):
    table = study.stock[0].plan.table.drop(columns=["carrying_cost", "waiting_cost", "total_cost"])
    bars = stock_risk.risk_bars(table, 1, None)
    stock_risk.draw_cost(ax, bars, 1, None, currency="credits")
    assert "[h]" in ax.get_ylabel()
    assert [p.get_height() for p in ax.patches] == pytest.approx(bars["idle_hours"].tolist())


def test_the_weekly_figure_marks_what_is_beyond_the_data(study, ax):
    weekly = study.weekly[study.weekly["head_type"] == "Standard"]
    budget_figures.draw_weekly(ax, weekly, 20)
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert "beyond the data" in labels
    span = next(p for p in ax.patches if p.get_label() == "beyond the data")
    assert span.get_x() == 20
    planned = next(line for line in ax.lines if line.get_label() == "planned, mean")
    assert planned.get_ydata() == pytest.approx(weekly["planned"].cumsum().to_numpy())


def test_the_budget_figure_draws_means_and_band(study, ax):
    bars = budget_figures.budget_bars(study.budget.lines, "heads")
    assert bars["period"].tolist() == [one.name for one in study.budget.quarters]
    budget_figures.draw_budget(ax, bars, unit="heads")
    heights = [patch.get_height() for patch in ax.patches]
    assert heights == pytest.approx([*bars["planned"], *bars["unplanned"]])


def test_the_backtest_figure_draws_intervals_with_both_ends(past, ax):
    quarters = past.quarters[past.quarters["head_type"] == "Standard"]
    past_figures.draw_backtest(ax, quarters)
    wide = [(p.get_y(), p.get_y() + p.get_height()) for p in ax.patches[: len(quarters)]]
    assert wide == [
        (low - 0.5, high + 0.5)
        for low, high in zip(quarters["low_95"], quarters["high_95"], strict=True)
    ]
    drawn = sum(len(line.get_xdata()) for line in ax.lines)
    assert drawn == len(quarters)


def test_the_coverage_figure_draws_the_running_share(past, ax):
    past_figures.draw_coverage(ax, past.coverage, 0.80)
    share = past.coverage[past.coverage["interval"] == 0.80]["share"].to_numpy()
    assert any(
        line.get_label() == "80 % range" and line.get_ydata() == pytest.approx(share)
        for line in ax.lines
    )


def test_the_page_escapes_what_users_wrote(study, past):
    for part in (
        first_screen(study, past),
        budget.budget_parts_table(study.budget),
        stock.level_table(study.stock, "credits"),
        budget.budget_table(study.budget),
        section.backtest_table(past),
    ):
        assert "<b>" not in part.markup.replace("<b>Mill", "<b>")
        assert "=Mill<b>" not in part.markup


def test_the_workbook_opens_and_holds_numbers_and_text(study):
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(budget_workbook(study)))
    # The summary is on top, and the longest table is not.
    assert book.sheetnames == [
        "Summary",
        "Orders",
        "Budget",
        "Year beside",
        "Order now",
        "Stock levels",
        "Week by week",
        "By type and site",
        "Assumptions",
    ]
    order = {row[0].value: row[1].value for row in book["Order now"].iter_rows(min_row=5)}
    assert order == {answer.head_type: answer.plan.order_now for answer in study.stock}
    total = next(
        row
        for row in book["By type and site"].iter_rows(min_row=5, values_only=True)
        if row[:5] == ("year", "all", "all", "total", "all")
    )
    assert total[6] == pytest.approx(study.budget.line("total").median)
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    named = [cell for cell in cells if cell.value == "=Mill<b>"]
    assert named
    # Nothing a user wrote is a formula.
    assert all(cell.data_type != "f" for cell in cells)


def test_a_sheet_is_what_a_buyer_expects(study):
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(budget_workbook(study)))
    for sheet in book:
        assert sheet.freeze_panes == "A5"
        assert sheet.auto_filter.ref.startswith("A4:")
        assert sheet.print_area and sheet.print_title_rows == "$4:$4"
        assert sheet.page_setup.orientation == "landscape" and sheet.page_setup.fitToHeight == 0
        assert all(one.width for one in sheet.column_dimensions.values())
    assert len(book["Summary"]._charts) == 2 and len(book["Week by week"]._charts) == 1
    orders = list(book["Orders"].iter_rows(min_row=5))
    assert all(row[9].is_date and row[9].number_format == "yyyy-mm-dd" for row in orders)
    assert study.budget.currency in orders[0][11].number_format
    assert [row[4].value for row in orders] == [one.heads for one in study.purchases]
    paid = {row[0].value: row[8].value for row in book["Summary"].iter_rows(min_row=5)}
    arriving = [one for one in study.purchases if one.arrives <= study.budget.quarters[-1].last]
    assert paid["Year"] == pytest.approx(sum(one.cash for one in arriving))
    said = {row[0].value: row[1].value for row in book["Assumptions"].iter_rows(min_row=5)}
    assert said["Lead time [weeks]"] == study.spares.lead_time_weeks


def test_the_same_study_gives_the_same_workbook(study):
    one, two = budget_workbook(study), budget_workbook(study)
    assert one == two
    with zipfile.ZipFile(io.BytesIO(one)) as parts:
        assert {part.date_time for part in parts.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_a_workbook_that_cannot_be_written_is_named(tmp_path):
    with pytest.raises(hl.errors.HeadlifeError, match="--xlsx .*the folder .* does not exist"):
        Outputs().claim(tmp_path / "nowhere" / "budget.xlsx", "--xlsx")
    assert list(tmp_path.iterdir()) == []


def test_command_spares_prints_and_writes_the_workbook(fast_shop, tmp_path, capsys):
    book = tmp_path / "budget.xlsx"
    files = [str(fast_shop / "removals.csv"), "--shop", str(fast_shop / "shop.toml")]
    assert cli.main(["spares", *files, "--xlsx", str(book), "--json"]) == 0
    answers = json.loads(capsys.readouterr().out)
    assert answers["budget"]["currency"] == "credits"
    assert book.read_bytes()[:2] == b"PK"
    assert cli.main(["spares", *files]) == 0
    shown = capsys.readouterr().out
    assert "What to hold and to order" in shown
    assert answers["budget"]["sentence"].split(",")[0] in " ".join(shown.split())


def test_command_backtest_prints_every_quarter(fast_shop, past, capsys):
    answers = json.loads(json.dumps(past_values(past), allow_nan=False))
    assert {row["quarter"] for row in answers["quarters"]} >= {"2025 Q1", "2026 Q3"}
    files = [str(fast_shop / "removals.csv"), "--shop", str(fast_shop / "shop.toml")]
    assert cli.main(["backtest", *files]) == 0
    shown = capsys.readouterr().out
    assert all(row["quarter"] in shown for row in answers["quarters"])


@pytest.mark.parametrize("command", ["spares", "backtest"])
def test_a_mistake_is_one_sentence_and_exit_code_2(command, tmp_path, capsys):
    missing = str(tmp_path / "none.csv")
    assert cli.main([command, missing, "--shop", SHOP]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "none.csv does not exist" in said.err
    assert cli.main([command, RECORDS, "--shop", SHOP, "--as-of", "soon"]) == 2
    assert "is not a date" in capsys.readouterr().err


def test_no_workbook_is_left_behind_on_a_mistake(tmp_path):
    book = tmp_path / "budget.xlsx"
    (tmp_path / "removals.csv").write_text("head\n", encoding="utf-8")
    bad = str(tmp_path / "removals.csv")
    assert cli.main(["spares", bad, "--shop", SHOP, "--xlsx", str(book)]) == 2
    assert not book.exists()


@pytest.mark.parametrize(
    "rows",
    [
        ["H1,A,model,P1,left,2025-01-01,0,2025-06-01,400,worn"],
        ["H1,A,model,P1,left,2025-01-01,0,2025-01-01,0,"],
        ["H1,A,model,P1,left,2025-01-01,0,2025-12-01,0,"],
        ["H1,A,model,P1,left,2025-01-01,0,2025-12-01,700,"],
    ],
    ids=["nothing in service", "not run yet", "never used", "one head, no failure"],
)
def test_the_smallest_shops_are_answered(rows, tmp_path, capsys):
    (tmp_path / "shop.toml").write_text(
        'name = "Tiny"\n[reasons.failures]\n"worn" = "wear"\n[head_types."A"]\nrated_hours = 500\n'
        "[spares]\nlead_time_weeks = 4\n[review]\ndraws = 500\n",
        encoding="utf-8",
    )
    header = "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason"
    table = tmp_path / "log.csv"
    table.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    files = [str(table), "--shop", str(tmp_path / "shop.toml")]
    assert cli.main(["spares", *files, "--xlsx", str(tmp_path / "b.xlsx")]) == 0
    said = capsys.readouterr().out
    assert "[costs] labour_per_hour" in " ".join(said.split())
    records = hl.read_records(table, hl.read_shop(tmp_path / "shop.toml"))
    study, past = hl.spares_study(records, records.shop), hl.backtest(records, records.shop)
    for part in (
        first_screen(study, past),
        stock.risk_figures(study.stock, "credits"),
        budget.weekly_figures(study),
        budget.budget_figures(study.budget),
        section.backtest_figures(past),
        budget.budget_table(study.budget),
    ):
        assert "nan" not in part.markup.split("base64")[0]
