"""The commands check and settings, as their user runs them."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from data_demo import generate
from openpyxl import Workbook, load_workbook

import headlife as hl
from headlife.cli import main
from headlife.show.csv_text import harmless

DEMO = Path(generate.__file__).parent


@pytest.fixture
def log(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes((DEMO / "removals.csv").read_bytes())
    return path


def check(log, *options):
    return main(["check", str(log), "--shop", str(DEMO / "shop.toml"), *options])


def test_a_clean_log(log, capsys):
    assert check(log, "--today", "2026-10-01") == 0
    shown = capsys.readouterr().out
    assert "241 rows read, 241 accepted" in shown
    assert "Nothing to mend" in shown
    assert "rating 1,200" in shown
    with (log.parent / "log.check.csv").open(encoding="utf-8-sig") as stream:
        assert len(list(csv.reader(stream))) == 1


def test_findings_go_to_screen_json_and_both_files(log, capsys):
    lines = log.read_text().splitlines()
    lines[3] = lines[3].replace("2023", "20x3", 1)
    cells = lines[5].split(",")
    cells[0], cells[6] = "=cmd|' /C calc'!A0", "-4"
    lines[5] = ",".join(cells)
    log.write_text("\n".join(lines))
    assert check(log, "--today", "2026-10-01", "--json") == 2
    answers = json.loads(capsys.readouterr().out)
    assert answers["rows_read"] == 241
    assert answers["rows_accepted"] + answers["rows_set_aside"] == 241
    assert {one["rows"] for one in answers["findings"]} >= {"4", "6"}
    with (log.parent / "log.check.csv").open(encoding="utf-8-sig", newline="") as stream:
        table = list(csv.reader(stream))
    sheet = load_workbook(log.parent / "log.check.xlsx").active
    assert len(table) == sheet.max_row == len(answers["findings"]) + 1
    for row in (*table, *sheet.iter_rows(values_only=True)):
        for cell in row:
            assert not str(cell or "").startswith(("+", "-", "@", "\t"))
    assert not any(cell.startswith("=") for row in table for cell in row)
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    assert check(log, "--no-files") == 2
    assert "20x3" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "|x", " =1", "%x", "\r=1", "\n=1"]
)
def test_what_looks_like_a_formula_is_written_as_text(text):
    assert harmless(text)[0] in "'<"
    assert "\t" not in harmless(text)


def test_harmless_text_is_left_alone_and_signs_are_named():
    assert harmless("row 12, head 'S1' is blank") == "row 12, head 'S1' is blank"
    assert harmless("a\u202eb\x00") == "a<U+202E>b<U+0000>"


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (["--today", "soon"], "--today 'soon' is not a date"),
        (["--shop", "nowhere.toml"], "settings file 'nowhere.toml' does not exist"),
    ],
)
def test_mistakes_are_named(log, options, sentence, capsys):
    assert check(log, *options) == 2
    assert sentence in capsys.readouterr().err
    assert not (log.parent / "log.check.csv").exists()


def test_settings_are_drafted_and_never_overwritten(log, capsys):
    out = log.parent / "draft.toml"
    assert main(["settings", str(log), "--out", str(out)]) == 0
    assert '"material change" = "material change"  # TO DO: is it so?' in out.read_text()
    assert "Left to state, in order" in out.read_text()
    assert main(["settings", str(log), "--out", str(out)]) == 2
    assert "exists already" in capsys.readouterr().err
    assert main(["settings", str(log)]) == 0
    assert capsys.readouterr().out == out.read_text()


MESSY = DEMO / "removals_messy.xlsx", DEMO / "shop_messy.toml"


@pytest.fixture
def messy(tmp_path):
    path = tmp_path / "log.xlsx"
    path.write_bytes(MESSY[0].read_bytes())
    return path


def test_the_page_and_the_marked_copy(messy, capsys):
    page = messy.parent / "check.html"
    assert main(["check", str(messy), "--shop", str(MESSY[1]), "--out", str(page)]) == 2
    text = page.read_text(encoding="utf-8")
    for words in ("What keeps rows from being used?", "219", "role", "&#x27;both&#x27;"):
        assert words in text
    assert "\u202e" not in text
    assert text.count("<script") == 1  # our own
    marked = load_workbook(messy.with_name("log.marked.xlsx"))
    sheet = marked["Log 2023-26"]
    assert "not a date of the calendar" in sheet["F40"].comment.text
    assert sheet["F40"].fill.fgColor.rgb == "FFF8CBAD"
    assert marked.sheetnames == load_workbook(messy).sheetnames
    assert "Written: " in capsys.readouterr().out


def test_causes_are_given_to_programs_too(messy, capsys):
    assert main(["check", str(messy), "--shop", str(MESSY[1]), "--no-files", "--json"]) == 2
    answers = json.loads(capsys.readouterr().out)
    assert sum(len(one["rows"]) for one in answers["causes"]) == answers["rows_set_aside"] == 22
    assert not messy.with_name("log.marked.xlsx").exists()


def test_a_review_goes_on_without_the_rows_that_check_sets_aside(capsys):
    """`--set-aside continue` means what `check` says; unknown reasons and types do not stop it."""
    case = hl.read_case(*MESSY, set_aside="continue")
    assert hl.quarterly_review(case).rows_accepted == 219


def test_lines_that_nobody_confirmed_are_told(log, capsys):
    shop = log.with_name("shop.toml")
    text = (DEMO / "shop.toml").read_text(encoding="utf-8")
    shop.write_text(text.replace('= "damage"', '= "damage"  # TO DO: is it so?'), encoding="utf-8")
    main(["check", str(log), "--shop", str(shop), "--no-files"])
    assert "2 lines of the settings still marked TO DO" in " ".join(capsys.readouterr().out.split())


@pytest.fixture
def two_sheets(tmp_path):
    """The demo's log, its last 41 rows on a hidden sheet."""
    with (DEMO / "removals.csv").open(newline="") as stream:
        header, *rows = list(csv.reader(stream))
    book = Workbook()
    for sheet, part in ((book.active, rows[:200]), (book.create_sheet("Archive"), rows[200:])):
        for row in (header, *part):
            sheet.append([cell or None for cell in row])
    book.active.title = "Log"
    book["Archive"].sheet_state = "hidden"
    book.save(tmp_path / "log.xlsx")
    return tmp_path / "log.xlsx"


@pytest.mark.parametrize(
    "command",
    [["review"], ["due"], ["spares", "--json"], ["evidence", "--site", "Hall", "--exact"]],
)
def test_every_command_says_which_sheets_like_the_log_it_does_not_read(two_sheets, command, capsys):
    """A hidden second sheet beside a visible log was passed over without a word."""
    main([command[0], str(two_sheets), "--shop", str(DEMO / "shop.toml"), *command[1:]])
    told = capsys.readouterr()
    assert told.err.count("Sheet 'Archive' of log.xlsx, which is hidden,") == 1
    assert "(41 rows) and is not read; where its rows belong to the log, state" in told.err
    if command == ["review"]:
        assert "200 rows read from log.xlsx, all used, 1 sheet that looks like the log" in told.out


def test_check_names_a_sheet_that_is_not_read_once(two_sheets, capsys):
    assert check(two_sheets, "--today", "2026-10-01") == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert shown.count("Sheet 'Archive' of log.xlsx, which is hidden,") == 1
    assert "Nothing to mend" not in shown
    assert check(two_sheets, "--today", "2026-10-01", "--no-files", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["check"] for one in told["findings"]] == ["sheet not read"]
    assert told["sheets_not_read"] == [told["findings"][0]["sentence"]]


@pytest.mark.parametrize(("day", "said"), [("2026-12-31", 0), ("2027-01-01", 1)])
def test_a_log_that_ends_more_than_a_quarter_before_the_day_is_said(day, said, capsys):
    main(["due", *map(str, (DEMO / "removals.csv", "--shop", DEMO / "shop.toml", "--as-of", day))])
    told = capsys.readouterr().err
    assert told.count("is of 2026-09-30, 93 days before 2027-01-01: what happened since") == said
