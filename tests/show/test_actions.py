"""The actions where people meet them: first on screen and page, quiet when there is none."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import openpyxl
import pytest
from tests.show.conftest import DEMO

import headlife as hl
from headlife.cli import main
from headlife.show.actions.section import action_list
from headlife.show.actions.table import action_file, action_rows
from headlife.show.words import actions as words

COMMAND = ["review", str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]


@pytest.fixture(scope="module")
def actions(demo):
    records, review = demo
    return hl.actions_of(review, records.shop)


def test_they_come_first_on_the_terminal_and_a_program_gets_the_same(capsys):
    assert main(COMMAND) == 0
    said = capsys.readouterr().out
    assert said.index("Swap S014 in Marten right") < said.index("Does the rating hold?")
    assert "interlock" in said
    assert main([*COMMAND, "--json"]) == 0
    values = json.loads(capsys.readouterr().out)
    assert values["actions"][0]["what"] == "Swap S014 in Marten right"
    assert values["actions"][2]["amount"] == 5 * 310.0


def test_nothing_to_do_is_no_section(actions):
    assert action_list(replace(actions, each=())).markup == ""


def test_more_than_a_screen_holds_are_counted(actions):
    many = replace(actions, each=actions.each * 3)
    more = len(many.each) - words.SHOWN
    assert f"And {more} more" in action_list(many).markup
    assert action_list(many).markup.count("<li>") == words.SHOWN


def test_names_of_users_are_escaped(actions):
    bad = replace(actions.each[0], about=("<script>", "<b>", "&"))
    assert "<script>" not in action_list(replace(actions, each=(bad,))).markup


def test_both_files_have_empty_columns_to_fill_in_and_typed_cells(actions, tmp_path):
    rows = action_rows(actions)
    empty = [rows[0].index(name) for name in ("Owner", "Decision", "Decided on")]
    assert all(row[at] is None for row in rows[1:] for at in empty)
    table = list(csv.reader(io.StringIO(action_file(actions, False).decode("utf-8-sig"))))
    assert len(table) == len(rows)
    (tmp_path / "todo.xlsx").write_bytes(action_file(actions, True))
    sheet = openpyxl.load_workbook(tmp_path / "todo.xlsx").active
    assert sheet.cell(2, rows[0].index("By") + 1).is_date
    assert sheet.cell(4, 6).value == 1550.0
    assert action_file(actions, True) == action_file(actions, True)


def test_the_file_given_back_is_told_and_cannot_be_overwritten(tmp_path, capsys):
    todo = tmp_path / "todo.csv"
    assert main([*COMMAND, "--as-of", "2026-06-30", "--actions-to", str(todo)]) == 0
    capsys.readouterr()
    assert main([*COMMAND, "--actions", str(todo), "--out", str(tmp_path / "r.html")]) == 0
    said = capsys.readouterr().out
    assert "What came of the actions given back" in said
    assert "swapped on 3 July 2026 at 830 h, 3" in said
    assert "What came of the actions of the last review?" in (tmp_path / "r.html").read_text()
    before = todo.read_bytes()
    assert main([*COMMAND, "--actions", str(todo), "--actions-to", str(todo)]) == 2
    assert "would overwrite the input" in capsys.readouterr().err
    assert todo.read_bytes() == before


def test_a_list_that_is_neither_kind_of_file_is_refused_before_anything_is_read(capsys):
    assert main([*COMMAND, "--actions-to", "todo.pdf"]) == 2
    assert ".xlsx or .csv" in capsys.readouterr().err
