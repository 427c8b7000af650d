"""The validation notebook runs from top to bottom and shows what the tests hold."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from scipy import stats

from headlife.show.markup import escape
from headlife.show.notebook.runner import execute
from validation import answers, cases
from validation import tables as validation

NOTEBOOK = Path(__file__).parents[2] / "notebooks" / "validation.ipynb"


@pytest.fixture(scope="module")
def table():
    return validation.published()


def test_every_value_is_in_the_table_and_agrees(table):
    assert table["agrees"].all()
    values = sum(len(cases.load(name).expected) for name in cases.names())
    assert len(table) == values - len(answers.NOT_ANSWERED)
    assert validation.published_summary(table)["values"].sum() == len(table)


def test_every_source_is_on_the_page(table):
    page = str(validation.published_html(table))
    for name in cases.names():
        case = cases.load(name)
        assert escape(case.title) in page
    assert "common practice, no source" in page
    assert ">NO<" not in page


def test_other_libraries_stand_beside_ours():
    fits = validation.library_fits()
    for kind in ("shape", "scale"):
        for library in ("lifelines", "reliability", "SurPyval"):
            both = fits[kind][["headlife", library]].dropna()
            assert len(both) >= 3
            # SurPyval and reliability stop their search early: 3 to 4 digits
            assert both[library].tolist() == pytest.approx(both["headlife"].tolist(), rel=5e-4)


def test_the_band_of_a_simulated_share_holds_it_95_percent_of_the_time():
    low, high = validation.binomial_band(0.95, 800)
    held = stats.binom(800, 0.95).cdf(800 * high) - stats.binom(800, 0.95).cdf(800 * low - 1)
    assert 0.95 <= held < 0.97


@pytest.mark.slow
def test_the_notebook_runs_and_is_stored_without_outputs():
    stored = nbformat.read(NOTEBOOK, as_version=4)
    assert not any(cell.get("outputs") for cell in stored.cells)
    run = execute(NOTEBOOK, {"records": 40, "shops": 2})
    shown = [
        output.data.get("text/html", "")
        for cell in run.cells
        for output in cell.get("outputs", [])
        if "data" in output
    ]
    page = "".join(shown)
    assert "1,703 bearing cages" in page
    assert "40 simulated records" in page
    assert "2 simulated shops of each kind" in page
