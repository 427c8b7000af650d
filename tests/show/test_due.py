"""What is due on paper: the calendar updates and never doubles, the table opens, the page reads."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import icalendar
import openpyxl
import pytest

import headlife as hl
from headlife.cli import main
from headlife.decisions.due import LEAVE, due_list
from headlife.show.due.calendar import due_calendar
from headlife.show.due.page import due_page
from headlife.show.due.values import due_rows, due_values

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def due():
    return due_list(hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml"))


def entries(data: bytes):
    return {str(one["uid"]): one for one in icalendar.Calendar.from_ical(data).walk("VEVENT")}


def test_every_head_with_something_to_do_has_one_whole_day_in_the_calendar(due):
    found = entries(due_calendar(due))
    assert len(found) == (due.heads["action"] != LEAVE).sum()
    for one in found.values():
        assert (one["dtend"].dt - one["dtstart"].dt).days == 1
        assert one["dtstart"].dt >= due.as_of.date()
        assert "interlock" in str(one["description"])


def test_a_later_calendar_updates_the_entries_of_an_earlier_one(due):
    """RFC 5545, sections 3.8.4.7 and 3.8.7.4: same UID, higher SEQUENCE replaces."""
    case = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml", as_of="2026-09-23")
    earlier, later = entries(due_calendar(due_list(case))), entries(due_calendar(due))
    both = earlier.keys() & later.keys()
    assert both
    for name in both:
        assert later[name]["sequence"] > earlier[name]["sequence"]
    assert due_calendar(due) == due_calendar(due)


def test_rows_are_typed_and_values_survive_json(due):
    rows = due_rows(due)
    assert len({len(row) for row in rows}) == 1 and len(rows) == len(due.heads) + 1
    past = rows[1]
    assert past[0] == "swap now" and past[rows[0].index("To rating [h]")] < 0
    assert past[rows[0].index("Rating reached")] is None
    values = json.loads(json.dumps(due_values(due), allow_nan=False))
    assert values["heads"][0]["why"].startswith("The settings say swap at 1,200 h")


def test_the_page_has_a_card_for_each_head_and_escapes_what_users_wrote(due):
    page = due_page(due).html()
    stay = len(due.of_action("leave"))
    assert page.count('<section class="card">') == len(due.heads) - stay
    assert page.count('<th scope="row"') == stay
    assert page.count("<script") == 1  # our own


def test_the_command_writes_each_file_from_the_same_list(tmp_path, capsys):
    names = {"--csv": "d.csv", "--xlsx": "d.xlsx", "--calendar": "d.ics", "--out": "d.html"}
    options = [part for option, name in names.items() for part in (option, str(tmp_path / name))]
    command = ["due", str(DEMO / "removals.csv"), "--shop", str(DEMO / "shop.toml")]
    assert main([*command, *options]) == 0
    said = capsys.readouterr().out
    assert "2 heads to be swapped now" in said
    table = list(csv.reader(io.StringIO((tmp_path / "d.csv").read_text("utf-8-sig"))))
    sheet = openpyxl.load_workbook(tmp_path / "d.xlsx").active
    assert sheet.max_row == len(table) == 23
    assert float(table[1][7]) == sheet.cell(row=2, column=8).value
    assert (tmp_path / "d.ics").read_bytes().startswith(b"BEGIN:VCALENDAR")
    assert "What is due" in (tmp_path / "d.html").read_text()


def test_a_file_is_never_written_over_the_records(tmp_path, capsys):
    log = tmp_path / "removals.csv"
    log.write_bytes((DEMO / "removals.csv").read_bytes())
    command = ["due", str(log), "--shop", str(DEMO / "shop.toml"), "--csv", str(log)]
    assert main(command) == 2
    assert "overwrite the input" in capsys.readouterr().err
    assert log.read_bytes() == (DEMO / "removals.csv").read_bytes()
