"""The figures kept of the studies: whole, dated, and each with a command that exists."""

from __future__ import annotations

import datetime
import importlib
import shlex

import pytest

from studies.changing_shops.__main__ import ROWS
from studies.changing_shops.measured import COLUMNS, measured
from validation.tables import changing_shops_html

FIGURES = measured()


def test_every_figure_is_whole_and_dated():
    assert list(FIGURES.columns) == list(COLUMNS)
    assert not FIGURES.isna().to_numpy().any()
    assert all(type(day) is datetime.date for day in FIGURES["day"])
    assert (FIGURES["over"] >= 500).all()
    # Seeds that numbers were chosen with: 1 everywhere, 5, 6, 8, 9, 16, 17, 31, 43 and 51.
    assert not set(FIGURES["seed"]) & {1, 5, 6, 8, 9, 16, 17, 31, 43, 51}


@pytest.mark.parametrize("command", sorted(set(FIGURES["command"])))
def test_its_command_exists(command):
    words = shlex.split(command)
    assert words[:2] == ["python", "-m"]
    module = importlib.import_module(words[2])
    if "--rows" in words:
        assert words[words.index("--rows") + 1] in ROWS
    else:
        assert callable(module.main)
    if "--cases" in words:
        cases = {case.name for case in module.EVERY}
        assert set(words[words.index("--cases") + 1]) <= cases


def test_the_notebook_shows_them_all():
    page = str(changing_shops_html())
    for row in FIGURES.itertuples():
        assert str(row.now) in page and row.asked in page
    assert "does not count again" in page
