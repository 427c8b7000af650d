"""The page: complete, offline, escaped, the same twice; whole or absent on disk."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from urllib.parse import unquote
from xml.etree import ElementTree

import pandas as pd
import pytest
from tests.show.conftest import SETTINGS

import headlife as hl
from headlife.decisions.two_ways import read_both_ways
from headlife.show import page
from headlife.show.markup import Html, escape, scripts, table, typeset
from headlife.show.page import closing
from headlife.show.review import rating
from headlife.show.review.first_screen import first_screen
from headlife.show.review.page import review_page
from headlife.show.review.values import review_values
from headlife.show.words.days import day
from headlife.show.words.rating import rating_sentence
from headlife.show.words.stock import stock_sentence

OURS = scripts("fold")


def whole_page(records, review):
    """The page, without a kernel or a command."""
    case = hl.Case(records, records.shop)
    return review_page(case, review, read_both_ways(review, case)).html()


class Reader(HTMLParser):
    """Collects tags, what they link to, and the text."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.links, self.images, self.text = [], [], [], ""
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.tags.append(tag)
        self.links += [given[name] for name in ("src", "href", "srcset") if name in given]
        if tag == "img":
            self.images.append(given.get("alt", ""))

    def handle_data(self, data):
        self.text += data


@pytest.fixture(scope="module")
def demo_page(demo):
    return whole_page(*demo)


def test_a_row_that_begins_with_a_number_says_of_what_on_a_phone():
    made = table(["Rows", "What"], [["7, 44", "overlap"], ["Badger", "2"]], caption="Doubts")
    assert '<th scope="row" role="rowheader" data-head="Rows">7, 44</th>' in made.markup
    assert '<th scope="row" role="rowheader">Badger</th>' in made.markup


def test_nothing_points_outside_and_nothing_runs(demo_page):
    read = Reader(demo_page)
    assert "iframe" not in read.tags and "link" not in read.tags
    # The one script is ours, whole and unchanged, and the policy names it by its hash.
    assert re.findall(r"<script.*?</script>", demo_page, re.S) == [f"<script>{OURS}</script>"]
    sha = base64.b64encode(hashlib.sha256(OURS.encode()).digest()).decode()
    assert f"script-src 'sha256-{sha}'" in demo_page
    pictures = [link for link in read.links if link.startswith("data:image/svg+xml,")]
    inside = [link for link in read.links if link.startswith("#")]
    assert len(pictures) + len(inside) == len(read.links)
    assert not re.search(r"url\(|@import|https?://", re.sub(r"data:image[^\"]*", "", demo_page))
    for picture in map(unquote, pictures):
        ElementTree.fromstring(picture.partition(",")[2])  # a browser shows nothing of a broken one
        own = re.sub(
            r"url\(#\w+\)|href=\"#\w+\"|xmlns(:xlink)?=\"http://www.w3.org/[^\"]*\"", "", picture
        )
        assert not re.search(r"url\(|href|https?://|<script|@import", own)
    assert page.missing_parts(demo_page) == 0


def test_every_figure_has_words_for_those_who_cannot_see_it(demo_page, demo):
    _, review = demo
    images = Reader(demo_page).images
    assert len(images) >= 2 * len(review.strata) + len(review.stock) + 1
    assert all(len(alt) > 40 for alt in images)


def test_first_screen_answers_the_three_questions(demo):
    _, review = demo
    read = Reader(str(first_screen(review))).text.replace("\xa0", " ")
    for stratum in review.strata:
        assert stratum.head_type in read and stratum.verdict.verdict in read
        assert rating_sentence(stratum.verdict) in read
    for answer in review.stock:
        assert stock_sentence(answer) in read


def test_stamp_names_inputs_day_seed_and_version(demo):
    _, review = demo
    read = Reader(str(closing(review))).text
    for part in (
        review.records_sha256,
        review.shop_sha256,
        day(review.as_of),
        str(review.seed),
        review.version,
    ):
        assert part in read


def test_same_review_same_bytes(demo, demo_page):
    assert whole_page(*demo) == demo_page


HOSTILE = "<script>alert(1)</script>\"'&$x^$"


def test_hostile_names_are_shown_and_do_nothing(small):
    name = HOSTILE.replace('"', '""')
    records, review = small(
        [
            f'"{name}",A,model,"{name}",left,2026-01-05,0,2026-03-02,300,worn',
            "H2,A,model,P2,left,2026-01-05,0,2026-03-02,300,",
            f'"{name}2",A,model,"{name}",left,2026-03-02,0,2026-06-01,450,',
        ],
        SETTINGS.replace("Small shop", "<img src=x onerror=alert(1)>"),
    )
    read = Reader(whole_page(records, review))
    assert list(read.tags).count("script") == 1
    assert all(link.startswith(("data:", "#")) for link in read.links)
    for link in read.links:
        if link.startswith("data:"):
            ElementTree.fromstring(unquote(link).partition(",")[2])
    assert HOSTILE in read.text and "<img src=x onerror=alert(1)>" in read.text


@pytest.mark.parametrize(
    "rows",
    [
        ["H1,A,model,P1,left,2026-01-05,0,2026-03-02,300,"],
        ["H1,A,model,P1,left,2026-01-05,0,2026-03-02,300,worn"],
        ["H1,A,model,P1,left,2026-01-05,0,2026-01-05,0,"],
        [f"H{n},A,model,P{n},left,2026-01-05,0,2026-03-02,{300 + n},worn" for n in range(8)],
        [f"H{n},A,model,P{n},left,2026-01-05,0,2026-03-02,400,worn" for n in range(8)],
        [f"H{n},A,model,P{n},left,2026-01-05,0,2026-03-02,500,swap" for n in range(8)],
        ["H1,A,model,P1,left,2026-01-05,400,2026-03-02,450,"],
        # Once lifelines' Kaplan-Meier stopped the whole page here.
        [
            "H1,A,model,P1,left,2026-01-05,40,2026-02-02,210,worn",
            "H2,A,model,P2,left,2026-01-05,600,2026-03-02,900,worn",
            "H3,A,model,P3,left,2026-01-05,500,2026-03-09,1100,swap",
            "H4,A,model,P4,left,2026-01-05,450,2026-03-30,1300,worn",
            "H5,A,model,P5,left,2026-01-05,700,2026-03-30,1250,",
        ],
    ],
    ids=[
        "one head",
        "one failure",
        "put in today",
        "all failed",
        "all at once",
        "no failure",
        "late entry only",
        "used heads, the first failure when it alone was at risk",
    ],
)
def test_thin_records_still_make_a_page(small, rows):
    records, review = small(rows)
    read = Reader(whole_page(records, review))
    assert "Before you act on this page" in read.text
    assert "nan" not in re.sub(r"[A-Za-z]*nan[a-z]+", "", read.text)
    json.dumps(review_values(review), allow_nan=False)


def test_a_figure_that_fails_costs_that_figure_with_a_sentence_in_its_place(
    demo, demo_page, monkeypatch
):
    records, review = demo
    broken = review.strata[0].name

    def draw(stratum):
        if stratum.name == broken:
            raise ZeroDivisionError("/home/someone/secret.py")
        return Html("<figure>drawn</figure>")

    monkeypatch.setattr(rating, "_survival", draw)
    text = whole_page(records, review)
    read = Reader(text).text
    assert page.missing_parts(text) == 1
    assert f"could not be made (ZeroDivisionError): heads still running, {broken}." in read
    assert "secret.py" not in text
    assert text.count("<figure>drawn</figure>") == len(review.strata) - 1
    # Everything else is as it was.
    for part in (first_screen(review, read_both_ways(review, records)), closing(review)):
        assert part.markup in text


def test_table_escapes_text_and_takes_markup_as_it_is():
    made = str(table(["<a>", "c"], [["<b>", Html("<i>x</i>")]], caption="'\"&"))
    assert "&lt;a&gt;" in made and "&lt;b&gt;" in made and "<i>x</i>" in made
    assert escape("'\"&") in made
    assert "nothing to list" in str(table(["a"], [], caption="empty"))


def test_numbers_stay_with_their_units():
    assert typeset("90 % of 1,200 h & 3 heads") == "90&nbsp;% of 1,200&nbsp;h &amp; 3&nbsp;heads"


def test_a_long_list_of_heads_ends_and_says_where_the_others_are(demo):
    from dataclasses import replace

    from headlife.show.review.watched import MOST_WATCHED, watch_table

    _, review = demo
    assert "more that are likelier" not in str(watch_table(review))
    many = pd.concat([review.watch] * 10, ignore_index=True)
    said = str(watch_table(replace(review, watch=many)))
    assert said.count('<th scope="row"') == MOST_WATCHED
    assert f"And {len(many) - MOST_WATCHED} more that are likelier to finish" in said


def test_a_head_of_a_kind_that_has_not_run_has_no_range_of_its_chance(demo):
    from dataclasses import replace

    from headlife.show.review.watched import watched

    _, review = demo
    new = review.watch.head(1).assign(probability=float("nan"))
    assert watched(replace(review, watch=new)).rows[0][1] == "unknown"


@pytest.mark.parametrize("ending", [", model", ", support: trend of positions"])
def test_a_long_title_keeps_its_end_and_stays_inside_the_figure(ending):
    """The fault: the panels of both roles had one title, cut at the edge of the figure."""
    from headlife.show.figures import style

    title = f"High-temperature carbon-filled extrusion head, second generation{ending}"
    with style.headlife_style():
        figure = style.laid_out(
            style.Drawn((lambda ax: ax.set(title=title, ylabel="Heads [-]"),), (1.0,), style.PANEL),
            style.PANEL,
        )
        text = figure.axes[0]._left_title
        box = text.get_window_extent()
        assert text.get_text().endswith(ending[-20:]) and "…" in text.get_text()
        assert box.x0 >= 0 and box.x1 <= figure.bbox.x1
