"""Figures as files of their own: at a slide's size, with the data that stand in them."""

from __future__ import annotations

import csv
import io
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from headlife.show.csv_text import harmless
from headlife.show.figures import style
from headlife.show.figures.slides import files_of


def drawn_by(draw):
    with style.kept_drawings() as kept:
        style.as_svg(draw)
    (one,) = kept
    return {name.rpartition(".")[2]: content for name, content in files_of(one, 1)}


def test_svg_png_and_data_of_what_was_drawn():
    x, y = np.array([0.0, 500.0, 1000.0]), np.array([1.0, 0.9, 0.4])

    def draw(ax):
        ax.plot(x, y, label="fitted life")
        ax.axvline(800.0, label="rated")
        ax.set(title="A, model", xlabel="Hours [h]", ylabel="Running [%]")

    files = drawn_by(draw)
    ElementTree.fromstring(files["svg"])
    assert Image.open(io.BytesIO(files["png"])).size == pytest.approx((1920, 1080), abs=4)
    rows = list(csv.DictReader(io.StringIO(files["csv"].decode())))
    told = [(float(one["x"]), float(one["y"])) for one in rows if one["what"] == "fitted life"]
    assert np.allclose(told, np.column_stack([x, 100 * y]))  # in the unit of the axis
    (line,) = [one for one in rows if one["what"] == "rated"]
    assert (float(line["x"]), line["y"]) == (800.0, "")


def test_weibull_paper_is_written_as_shares():
    def draw(ax):
        ax.plot([100.0], [np.log(-np.log1p(-0.25))], label="failure")
        ax.set(ylabel="Heads failed [%], Weibull scale")

    (row,) = csv.DictReader(io.StringIO(drawn_by(draw)["csv"].decode()))
    assert float(row["y"]) == pytest.approx(25.0)


def test_a_name_is_no_formula_and_the_same_drawing_gives_the_same_bytes():
    def draw(ax):
        ax.plot([1.0], [2.0], label="=1+1")

    assert "'=1+1" in drawn_by(draw)["csv"].decode()
    assert drawn_by(draw) == drawn_by(draw)


@pytest.mark.parametrize("name", ["|calc", "%1", "Fibre;=1+1"])
def test_a_name_is_no_formula_by_the_rule_of_every_other_table(name):
    def draw(ax):
        ax.plot([1.0], [2.0], label=name)

    (row,) = csv.DictReader(io.StringIO(drawn_by(draw)["csv"].decode()))
    assert row["what"] == harmless(name) != name
