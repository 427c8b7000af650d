"""Inputs that are no files, and days that are none: one sentence each, and an end, at once."""

from __future__ import annotations

import os
import shutil

import pytest
from tests.show.conftest import DEMO

from headlife.cli import main

SHOP = ["--shop", "shop.toml"]
READS = [
    ["review", "INPUT", *SHOP],
    ["review", "removals.csv", "--shop", "INPUT"],
    ["spares", "INPUT", *SHOP],
    ["due", "INPUT", *SHOP],
    ["plan", "INPUT", *SHOP],
    ["plan", "removals.csv", *SHOP, "--builds", "INPUT"],
    ["replace", "INPUT", *SHOP],
    ["backtest", "INPUT", *SHOP],
    ["check", "INPUT", *SHOP],
    ["settings", "INPUT"],
    ["rating", "INPUT", "--rated-hours", "800"],
    ["evidence", "INPUT", *SHOP],
    ["evidence", "removals.csv", "--shop", "INPUT"],
    ["pool", "INPUT"],
]


@pytest.fixture
def here(tmp_path, monkeypatch):
    for name in ("removals.csv", "shop.toml", "lifetimes.csv"):
        shutil.copy(DEMO / name, tmp_path)
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    (tmp_path / "link.csv").symlink_to("gone.csv")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("asked", READS, ids=" ".join)
@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("pipe", "is a device or a pipe"),
        ("/dev/zero", "is a device or a pipe"),
        ("nowhere", "does not exist"),
        # It was proposed itself as the file that may be meant.
        ("link.csv", "it is a link, and what it leads to is not there: gone.csv"),
        ("loop", "cannot be read"),
        ("x" * 300, "cannot be read (File name too long)"),
        ("removals.csv/log.csv", "cannot be read (Not a directory)"),
    ],
)
def test_what_is_no_file_is_named_before_anything_reads_it(here, capsys, asked, name, says):
    assert main([name if word == "INPUT" else word for word in asked]) == 2
    said = capsys.readouterr()
    assert said.out == "" and says in said.err and said.err.count("\n") == 1


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("Removals.csv", "did you mean 'removals.csv'?"),
        ("removal.csv", "did you mean 'removals.csv'?"),
        ("logs\\\\2024.csv".replace("\\\\", "\\"), "write / in place of"),
        ("C:\\\\logs\\\\2024.csv".replace("\\\\", "\\"), "is one of Windows: write it with /"),
    ],
)
def test_a_file_that_is_not_there_is_told_from_one_that_may_be_meant(here, capsys, name, says):
    (here / "logs").mkdir()
    (here / "logs" / "2024.csv").write_text("head\n")
    assert main(["review", name, *SHOP]) == 2
    said = capsys.readouterr().err
    assert says in said and said.count("\n") == 1


@pytest.mark.parametrize("command", ["review", "settings", "evidence"])
def test_a_folder_that_nobody_may_look_into_is_no_traceback(here, capsys, monkeypatch, command):
    """A log may be read where what lies beside it may not be seen; `settings` broke there."""

    def closed(folder):
        raise PermissionError(13, "Permission denied", str(folder))

    monkeypatch.setattr("pathlib.Path.iterdir", closed)
    shop = [] if command == "settings" else SHOP
    assert main([command, "removals.csv", *shop]) == 0
    assert main([command, "gone.csv", *shop]) == 2
    assert "gone.csv does not exist; check its name and folder" in capsys.readouterr().err
    if command == "evidence":
        assert main([command, ".", *shop]) == 2
        assert "cannot be looked into (Permission denied)" in capsys.readouterr().err


@pytest.mark.parametrize("day", ["2500-01-01", "9999-12-31", "0001-01-01"])
@pytest.mark.parametrize("command", ["review", "spares", "backtest", "evidence", "due", "plan"])
def test_days_far_from_any_record_are_refused(here, capsys, command, day):
    assert main([command, "removals.csv", *SHOP, "--as-of", day]) == 2
    assert f"--as-of {day} is in no year that records are of" in capsys.readouterr().err


@pytest.mark.parametrize("day", ["2026-W40", "2026-W40-3", "20260930", "soon", "2026-02-30"])
def test_what_is_no_day_is_refused(here, capsys, day):
    assert main(["review", "removals.csv", *SHOP, "--as-of", day]) == 2
    assert "write year-month-day" in capsys.readouterr().err
    assert main(["check", "removals.csv", *SHOP, "--today", day]) == 2
    assert "write year-month-day" in capsys.readouterr().err


def test_a_day_that_is_left_empty_is_named(here, capsys):
    assert main(["review", "removals.csv", *SHOP, "--as-of", ""]) == 2
    assert "as-of is empty; write it" in capsys.readouterr().err
    assert main(["check", "removals.csv", *SHOP, "--today", ""]) == 2
    assert "today is empty; write it" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (["rating", "lifetimes.csv", "--rated-hours", "1e300"], "at most 10,000,000; got 1e+300"),
        (["rating", "lifetimes.csv", "--rated-hours", "1e-300"], "above 0 and at most"),
        (["rating", "lifetimes.csv", "--rated-hours", "nan"], "above 0 and at most"),
        (["replace", "removals.csv", *SHOP, "--lead", "1e9"], "--lead is at most 520 weeks"),
        (["replace", "removals.csv", *SHOP, "--build", "1e9"], "--build is at most 10,000,000"),
        (["due", "removals.csv", *SHOP, "--calendar", "due.xlsx"], "name it due.ics"),
        (["pool", "removals.csv", "--picture", "sites.png"], "name it sites.svg"),
        (["log", *SHOP, "--out", "log.csv"], "name it log.xlsx"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else None,
)
def test_numbers_no_shop_has_and_names_of_other_kinds_are_refused(here, asked, says, capsys):
    """A rating of 1e300 h was answered, with a warning of an overflow."""
    before = sorted(here.iterdir())
    assert main(asked) == 2
    told = capsys.readouterr()
    assert says in told.err
    assert not told.out
    assert told.err.count("\n") == 1
    assert sorted(here.iterdir()) == before
