"""The review page in a real browser: from disk, without a network, on a desk, a phone and paper."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

DESK, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}


@pytest.fixture(scope="module")
def page_file(written):
    _, page = written("review")
    return page


@pytest.fixture
def opened(browser, page_file, keep_picture, request):
    """Open the page with the network off; give it with every request it made."""

    def open_at(size, **options):
        context = browser.new_context(viewport=size, offline=True, **options)
        request.addfinalizer(context.close)
        page, asked, wrong = context.new_page(), [], []
        page.on("request", lambda one: asked.append(one.url))
        page.on("console", lambda one: wrong.append(one.text))
        page.on("pageerror", lambda one: wrong.append(str(one)))
        page.goto(page_file.as_uri())
        keep_picture(page, f"review-{size['width']}", full_page=True)
        return page, asked, wrong

    return open_at


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_no_request_leaves_and_nothing_goes_wrong(opened, page_file, size):
    page, asked, wrong = opened(size)
    page.mouse.wheel(0, 20_000)
    outside = [url for url in asked if not url.startswith("data:")]
    assert outside == [page_file.as_uri()] and wrong == []


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_every_figure_is_seen_in_full(opened, size):
    page, _, _ = opened(size)
    figures = page.locator("figure img")
    assert figures.count() > 4
    for at in range(figures.count()):
        image = figures.nth(at)
        image.scroll_into_view_if_needed()
        assert image.evaluate("image => image.complete && image.naturalWidth > 0")
        box = image.bounding_box()
        assert box["width"] > 300 and box["x"] >= 0 and box["x"] + box["width"] <= size["width"]


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_nothing_scrolls_sideways(opened, size):
    page, _, _ = opened(size)
    assert page.evaluate("document.documentElement.scrollWidth") == size["width"]


def test_the_first_screen_of_a_desk_says_what_to_do_and_begins_with_the_rating(opened):
    page, _, _ = opened(DESK)
    actions = page.locator("section.todo ol > li")
    said = actions.all_inner_texts()
    # The demo's heads past their swap age come first, its two orders are among what follows.
    assert ["S014" in said[0], "S027" in said[1]] == [True, True]
    assert sum(one.startswith("Order") for one in said) == 2
    rating = page.locator(".card h3", has_text="Does the rating hold?")
    assert actions.count() == 9 and rating.count() == 2
    for shown in (actions.nth(0), actions.nth(8), rating.nth(0), rating.nth(1)):
        box = shown.bounding_box()
        assert box["y"] + box["height"] < DESK["height"]
    for question in ("How many spares?", "Which heads to watch?"):
        assert page.locator(".card h3", has_text=question).count() == 2


def test_phone_text_is_large_enough_and_wide_tables_scroll_in_place(opened):
    page, _, _ = opened(PHONE)
    sizes = page.eval_on_selector_all(
        "p, td, li, dd", "all => all.map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(sizes) >= 12
    # The narrow timeline is shown, not the wide one shrunk.
    shown = page.locator("figure.whole img").evaluate("one => one.naturalWidth / one.naturalHeight")
    assert shown < 1


def test_paper_keeps_figures_whole_and_shows_all_of_every_table(opened):
    page, _, _ = opened(DESK)
    page.emulate_media(media="print")
    hidden = page.eval_on_selector_all(
        ".scroll", "all => all.filter(one => getComputedStyle(one).overflowX !== 'visible').length"
    )
    broken = page.eval_on_selector_all(
        # The answers are a page of print: their cards may break between two lines, not within.
        "figure, .rating, .card .line, .card:not(#answers .card)",
        "all => all.filter(one => getComputedStyle(one).breakInside !== 'avoid').length",
    )
    assert (hidden, broken) == (0, 0)
    assert page.pdf(format="A4").startswith(b"%PDF")


def test_reads_without_colour_and_without_eyes(opened):
    page, _, _ = opened(DESK)
    badges = page.locator(".card .badge").all_inner_texts()
    assert badges and all(any(letter.isalpha() for letter in text) for text in badges)
    assert page.locator("img:not([alt]), svg[role=img]:not([aria-label])").count() == 0
    assert page.locator("h1").count() == 1 and page.locator("html[lang=en]").count() == 1
