"""The review notebook as a person uses it: JupyterLab in a real browser, run all cells."""

from __future__ import annotations

import pytest
from tests.browser.lab import errors_shown, open_notebook, run_all

pytestmark = pytest.mark.browser


def test_run_all_ends_without_an_error(browser, lab, keep_picture):
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    open_notebook(page, lab, "quarterly_review.ipynb")
    run_all(page)
    keep_picture(page, "lab-review")
    assert errors_shown(page) == []
    shown = page.locator(".jp-OutputArea").all_inner_texts()
    assert any("Does the rating hold?" in text for text in shown)
    images = page.locator(".jp-OutputArea figure img")
    assert images.count() > 4
    for at in range(images.count()):
        assert images.nth(at).evaluate("image => image.complete && image.naturalWidth > 0")
    page.close()
