"""A list of actions given back: filled in, saved again elsewhere, of another shop, edited."""

from __future__ import annotations

import csv
import datetime
import io

import openpyxl
import pytest

from headlife.errors import RecordsError
from headlife.records.action_list import ListedAction, read_action_list, reference

DAY = datetime.date(2026, 9, 30)
HEADINGS = ["No.", "What", "Owner", "Decision", "Decided on", "Reference"]


def action(shop="Small shop", head="H1"):
    return ListedAction(shop, DAY, "swap", (head, "P1", "left"), DAY, 1, 0, 0)


def line(number, what, one=None, changed=None, owner=""):
    return [number, what, owner, "", "", changed or (reference(one, what) if one else "")]


def written(tmp_path, rows, delimiter=","):
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter).writerows([HEADINGS, *rows])
    path = tmp_path / "todo.csv"
    path.write_text(text.getvalue(), encoding="utf-8-sig")
    return path


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_what_people_filled_in_comes_back_with_what_it_was_about(tmp_path, delimiter):
    rows = [line(1, "Swap H1 in P1 left", action(), owner="Ida")]
    back = read_action_list(written(tmp_path, rows, delimiter), "Small shop", DAY)
    (one,) = back.rows
    assert back.problems == ()
    assert (one.owner, one.action) == ("Ida", action())


@pytest.mark.parametrize("head", ["=1+1", "a;b", 'q"q', "ü|é", "[1, 2]", "日本", "x" * 300])
def test_any_name_comes_back_as_it_was(tmp_path, head):
    rows = [line(1, f"Swap {head}", action(head=head))]
    back = read_action_list(written(tmp_path, rows), "Small shop", DAY)
    assert back.problems == ()
    assert back.rows[0].action.about[0] == head


def test_rows_of_another_shop_or_changed_are_named_and_the_rest_is_answered(tmp_path):
    good = line(1, "Swap H1", action())
    other = line(2, "Swap H2", action("Elsewhere", "H2"))
    slip = line(3, "Swap H3", changed=reference(action(head="H3"), "Swap H3").replace("H3", "H4"))
    own = line(4, "Call the vendor")
    renamed = [5, "Swap the old one", "", "", "", reference(action(head="H5"), "Swap H5")]
    later = ListedAction("Small shop", datetime.date(2027, 1, 1), "swap", ("H6", "P", "l"), DAY)
    back = read_action_list(
        written(tmp_path, [good, other, slip, own, renamed, line(6, "Swap H6", later)]),
        "Small shop",
        DAY,
    )
    assert [one.action.about[0] for one in back.rows] == ["H1", "H5"]
    assert [said.split(": ", 1)[0] for said in back.problems] == [
        f"todo.csv, row {number}" for number in (3, 4, 5, 6, 7)
    ]
    for said, word in zip(
        back.problems,
        ("another shop", "changed by hand", "no reference", "not what", "after"),
        strict=True,
    ):
        assert word in said


def test_a_workbook_saved_by_a_spreadsheet_is_read(tmp_path):
    book = openpyxl.Workbook()
    for row in [HEADINGS, line(1, "Swap H1", action(), owner="Ida")]:
        book.active.append(row)
    book.active["E2"] = datetime.datetime(2026, 10, 5)
    book.save(tmp_path / "todo.xlsx")
    back = read_action_list(tmp_path / "todo.xlsx", "Small shop", DAY)
    assert back.rows[0].decided.startswith("2026-10-05")
    assert back.problems == ()


def test_a_file_that_is_no_such_list_is_refused_with_what_to_do(tmp_path):
    (tmp_path / "log.csv").write_text("head,What\nH1,x\n")
    with pytest.raises(RecordsError, match="no column 'Reference'"):
        read_action_list(tmp_path / "log.csv", "Small shop", DAY)
