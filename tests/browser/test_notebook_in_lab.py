"""The review notebook as a person uses it: JupyterLab in a real browser, run all cells."""

from __future__ import annotations

import pytest
from tests.browser.lab import errors_shown, open_notebook, run_all

pytestmark = pytest.mark.browser


# Tables wider than their place, and cells that run over into the next one.
CUT = """() => [...document.querySelectorAll('.jp-OutputArea .hl :is(.scroll, th, td)')]
  .filter(one => one.scrollWidth > one.clientWidth + 1).map(one => one.innerText.slice(0, 60))"""


@pytest.mark.parametrize("name", ["run_past_rating", "spares_budget"])
def test_tables_fit_beside_the_file_list(browser, lab, name):
    """The fault: JupyterLab's own columns broke words, and a verdict lay over the next number."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    open_notebook(page, lab, f"{name}.ipynb")
    run_all(page)
    assert page.locator(".jp-OutputArea .hl table").count() > 2
    assert page.evaluate(CUT) == [] and errors_shown(page) == []
    page.close()


def test_run_all_ends_without_an_error(browser, lab, keep_picture):
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    open_notebook(page, lab, "quarterly_review.ipynb")
    run_all(page)
    keep_picture(page, "lab-review")
    assert errors_shown(page) == [] and page.evaluate(CUT) == []
    shown = page.locator(".jp-OutputArea").all_inner_texts()
    assert any("Does the rating hold?" in text for text in shown)
    images = page.locator(".jp-OutputArea figure img")
    assert images.count() > 4
    for at in range(images.count()):
        assert images.nth(at).evaluate("image => image.complete && image.naturalWidth > 0")
    page.close()
