"""The what-if of a notebook as a person uses it: JupyterLab in a real browser, sliders moved.

What the sliders answer is judged in `test_what_if_page.py`; here only that a notebook shows them.
"""

from __future__ import annotations

import pytest
from tests.browser.lab import errors_shown, open_notebook, run_all

pytestmark = pytest.mark.browser

PATIENCE = 240_000  # [ms] for an answer


@pytest.fixture(scope="module")
def page(browser, lab):
    opened = browser.new_page(viewport={"width": 1280, "height": 900})
    open_notebook(opened, lab, "run_past_rating.ipynb")
    run_all(opened)
    opened.frame_locator("iframe[srcdoc]").locator("#what-if-panel").wait_for(timeout=PATIENCE)
    yield opened
    opened.close()


@pytest.fixture
def tried(page):
    return page.frame_locator("iframe[srcdoc]")


def test_a_moved_slider_is_answered_beside_the_list_of_files(page, tried, keep_picture):
    assert errors_shown(page) == [] and page.locator(".jp-FileBrowser").is_visible()
    age = tried.locator("#try-age")
    assert age.input_value() == "1500"  # a quarter past 1,200 h, where the page starts
    said = tried.locator("#what-if-proposal").inner_text()
    assert "per print hour" in said
    age.scroll_into_view_if_needed()
    keep_picture(page, "lab-whatif")
    age.press("ArrowRight")
    tried.locator("#what-if-proposal", has_not_text=said).wait_for(timeout=PATIENCE)
    keep_picture(page, "lab-whatif-moved")


def test_what_the_sliders_show_fits_the_cell(tried):
    body = tried.locator("body")
    wide, tall = body.evaluate(
        """one => [document.documentElement.scrollWidth - innerWidth,
                   document.documentElement.scrollHeight - innerHeight]"""
    )
    assert wide <= 0 and tall <= 0


def test_every_kind_of_head_is_answered_and_the_careful_one_refused_past_its_rating(tried):
    tried.locator("#what-if-kind").select_option("Fibre, model")
    proposal = tried.locator("#what-if-proposal")
    proposal.filter(has_text="Fibre, model").wait_for(timeout=PATIENCE)
    for _ in range(3):
        tried.locator("#try-age").press("ArrowRight")
    tried.locator("#what-if-verdict", has_text="not past the rating").wait_for(timeout=PATIENCE)
