"""Starting from nothing: a workbook to keep the log in, and the demo's files to play with."""

from __future__ import annotations

import tomllib
from datetime import datetime
from pathlib import Path

import pytest
from data_demo import generate
from openpyxl import load_workbook

import headlife as hl
from headlife.cli import main
from headlife.commands.demo import demo_folder

DEMO = Path(generate.__file__).parent
ROOT = DEMO.parent
OWN = """
name = "New shop"
[intake]
INTAKE
[columns]
head = "Kopf-Nr."
date_in = "Einbau am"
[roles]
"Bauteil" = "model"
"St\u00fctz" = "support"
[printers."Otter"]
[reasons.failures]
"verschlissen" = "wear"
[reasons.suspensions]
"getauscht" = "planned swap"
[head_types.Standard]
rated_hours = 1200
[spares]
lead_time_weeks = 6
"""
ENTRY = {
    "head": "S1",
    "head_type": "Standard",
    "role": "Bauteil",
    "printer": "Otter",
    "position": "left",
    "date_in": datetime(2026, 1, 7),
    "hours_in": 0,
    "date_out": datetime(2026, 5, 4),
    "hours_out": 512.4,
    "reason": "verschlissen",
}


@pytest.fixture
def shop(tmp_path):
    def make(intake=""):
        path = tmp_path / "shop.toml"
        path.write_text(OWN.replace("INTAKE", intake), encoding="utf-8")
        return path

    return make


def log_of(shop, tmp_path):
    out = tmp_path / "log.xlsx"
    assert main(["log", "--shop", str(shop), "--out", str(out)]) == 0
    return out


def keep(out: Path, shop, entry: dict) -> None:
    """Write a row as a person does: below the last one, in the columns of the headings."""
    names = {own: name for name, own in shop.columns.items()}
    book = load_workbook(out)
    sheet = book["Log"]
    row = sheet.max_row + 1
    for cell in sheet[1]:
        name = names.get(cell.value, cell.value)
        if name in entry:
            sheet.cell(row=row, column=cell.column).value = entry[name]
    book.save(out)


def test_a_log_kept_in_the_workbook_reads_back_by_the_same_settings(shop, tmp_path):
    path = shop()
    out = log_of(path, tmp_path)
    settings = hl.read_shop(path)
    keep(out, settings, ENTRY)
    still_in = ENTRY | {"head": "S2", "date_in": datetime(2026, 5, 4), "reason": None}
    keep(out, settings, still_in | {"date_out": datetime(2026, 6, 30), "hours_out": 200.0})
    records = hl.read_records(out, settings)
    assert records.set_aside.empty
    assert records.no_records["why"].tolist() == ["the example row"]
    lives = hl.lives(records).set_index("head")
    assert lives["exit_hours"].to_dict() == {"S1": 512.4, "S2": 200.0}
    assert lives["in_service"].to_dict() == {"S1": False, "S2": True}


def test_by_the_printers_meter_where_the_shop_has_one(shop, tmp_path):
    path = shop('hours = "printer"')
    out = log_of(path, tmp_path)
    settings = hl.read_shop(path)
    meter = {"printer_hours_in": 2000, "printer_hours_out": 2512.4}
    keep(out, settings, ENTRY | meter)
    records = hl.read_records(out, settings)
    assert hl.lives(records)["exit_hours"].tolist() == pytest.approx([512.4])


def test_lists_of_the_settings_protected_headings_and_one_example(shop, tmp_path):
    book = load_workbook(log_of(shop(), tmp_path))
    sheet = book["Log"]
    names = {cell.value: cell.column_letter for cell in sheet[1]}
    assert {"Kopf-Nr.", "Einbau am", "role", "reason"} <= set(names)
    lists = {
        str(rule.sqref).split(":")[0].rstrip("0123456789"): [
            cell.value for (cell,) in book["Lists"][rule.formula1.split("!")[1].replace("$", "")]
        ]
        for rule in sheet.data_validations.dataValidation
        if rule.type == "list" and ":" in rule.formula1 and rule.formula1[-1] != "1"
    }
    assert lists[names["role"]] == ["Bauteil", "St\u00fctz"]
    assert lists[names["reason"]] == ["getauscht", "verschlissen"]
    assert sheet.protection.sheet
    assert all(cell.protection.locked for cell in sheet[1])
    assert not any(cell.protection.locked for cell in sheet[2])
    assert not any(sheet.column_dimensions[letter].protection.locked for letter in names.values())
    assert sheet.max_row == 2
    assert book["Lists"].sheet_state == "hidden"


def test_the_same_settings_give_the_same_bytes(shop, tmp_path):
    from headlife.show.log_book import log_workbook

    settings = hl.read_shop(shop())
    assert log_workbook(settings) == log_workbook(settings)


def test_a_log_of_another_layout_is_not_begun(shop, tmp_path, capsys):
    path = shop('sheets = "all"')
    assert main(["log", "--shop", str(path), "--out", str(tmp_path / "log.xlsx")]) == 2
    assert "another layout" in capsys.readouterr().err


def test_neither_log_nor_demo_overwrites_a_file(shop, tmp_path, capsys):
    out = log_of(shop(), tmp_path)
    before = out.read_bytes()
    assert main(["log", "--shop", str(tmp_path / "shop.toml"), "--out", str(out)]) == 2
    assert out.read_bytes() == before
    folder = tmp_path / "play"
    assert main(["demo", str(folder)]) == 0
    (folder / "shop.toml").write_text("mine")
    assert main(["demo", str(folder)]) == 2
    assert "shop.toml exists already" in capsys.readouterr().err
    assert (folder / "shop.toml").read_text() == "mine"


def test_a_demo_that_was_stopped_is_completed(tmp_path):
    """What was there of it already was refused, so that nothing could be played with."""
    folder = tmp_path / "play"
    assert main(["demo", str(folder)]) == 0
    whole = {one.name: one.read_bytes() for one in folder.iterdir()}
    for name in ("removals_messy.xlsx", "builds.csv"):
        (folder / name).unlink()
    assert main(["demo", str(folder)]) == 0
    assert {one.name: one.read_bytes() for one in folder.iterdir()} == whole


def test_the_demo_can_be_played_with(tmp_path, capsys):
    assert main(["demo", str(tmp_path / "new" / "folder")]) == 0
    said = capsys.readouterr().out
    assert "python -m headlife" in said
    for name in ("removals.csv", "shop.toml", "lifetimes.csv"):
        copy = tmp_path / "new" / "folder" / name
        assert copy.read_bytes() == (DEMO / name).read_bytes()


def test_the_wheel_brings_the_demos_files():
    wheel = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    included = wheel["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    from headlife.commands.demo import _FILES

    assert {f"data_demo/{name}": f"headlife/demo/{name}" for name in _FILES}.items() <= (
        included.items()
    )
    assert demo_folder() == DEMO
