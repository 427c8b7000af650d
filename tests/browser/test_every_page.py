"""Every page the commands write, measured in a real browser: readable by anybody, on any screen.

No finding of axe-core (the rules of the Web Content Accessibility Guidelines, WCAG 2.2), light,
dark and on a phone; nothing cut, nothing too small, nothing fetched; what comes out of a printer.
"""

from __future__ import annotations

import re
from urllib.parse import unquote

import pytest
from tests.test_glossary import faults

pytestmark = pytest.mark.browser

PAGES = ("review", "replace", "spares", "due", "check", "changes", "vendor")
LOOKS = {
    "desk": {"viewport": {"width": 1280, "height": 900}},
    "dark": {"viewport": {"width": 1280, "height": 900}, "color_scheme": "dark"},
    "phone": {"viewport": {"width": 390, "height": 844}},
    "dark phone": {"viewport": {"width": 390, "height": 844}, "color_scheme": "dark"},
}
OPEN = "document.querySelectorAll('details').forEach(one => { one.open = true; })"
MEGABYTE = 1_000_000
SMALLEST = 11.0  # [px] of any letter in a figure on a phone
MOST_PRINTED = 6  # pages of the review
# Lowest point of every heading's and table head's page against what must follow on the same page.
PRINTED = re.compile(rb"/Type\s*/Page[^s]")


@pytest.fixture(scope="module", params=PAGES)
def page_file(request, written):
    more = ["--type", "Fibre"] if request.param == "vendor" else []
    _, page = written(request.param, *more)
    return page


@pytest.fixture(params=LOOKS)
def look(request):
    return request.param


@pytest.fixture
def opened(browser, page_file, look, request, keep_picture):
    context = browser.new_context(offline=True, **LOOKS[look])
    request.addfinalizer(context.close)
    page, heard = context.new_page(), []
    page.on("console", lambda one: heard.append(one.text))
    page.on("pageerror", lambda one: heard.append(str(one)))
    page.on("request", lambda one: heard.append(one.url) if one.url[:4] == "http" else None)
    page.goto(page_file.as_uri())
    keep_picture(page, f"{page_file.stem}-{look}", full_page=True)
    yield page
    assert heard == [], "no word on the console, nothing fetched"


def test_axe_finds_nothing_folded_or_not(opened):
    from axe_playwright_python.sync_playwright import Axe

    for state in ("folded", "unfolded"):
        if state == "unfolded":
            opened.evaluate(OPEN)
        found = Axe().run(opened)
        assert found.violations_count == 0, f"{state}:\n{found.generate_report()}"


def test_a_folded_section_says_its_result_outside(opened, look):
    bare = opened.locator("main details:not([open]) > summary:not(:has(.result))")
    assert bare.all_inner_texts() == []


def test_no_word_that_the_glossary_rules_out_is_on_a_page(opened, look):
    if look == "desk":
        opened.evaluate(OPEN)
        text = opened.locator("main").inner_text()
        told = opened.locator("main [alt], main [aria-label]").evaluate_all(
            "all => all.map(one => one.alt || one.getAttribute('aria-label') || '')"
        )
        found = [(line, faults(line)) for line in [*text.splitlines(), *told] if faults(line)]
        assert found == []


def test_older_browsers_print_what_is_folded_too(opened, look):
    """Where a style cannot open a section, the page's script does, and folds it again."""
    if look != "desk":
        return
    folded = opened.locator("details:not([open])").count()
    opened.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert opened.locator("details:not([open])").count() == 0
    opened.evaluate("dispatchEvent(new Event('afterprint'))")
    assert opened.locator("details:not([open])").count() == folded


def test_nothing_is_cut_or_too_small(opened, look):
    opened.evaluate(OPEN)
    wide = LOOKS[look]["viewport"]["width"]
    assert opened.evaluate("document.documentElement.scrollWidth") == wide
    if wide > 640:
        return
    cut = opened.evaluate(
        """() => [...document.querySelectorAll('main td, main th, main p, main li, main img')]
      .filter(one => one.getClientRects().length && !one.closest('thead'))
      .filter(one => one.getBoundingClientRect().right > innerWidth + 0.5
        || one.scrollWidth > one.clientWidth + 1)
      .map(one => one.outerHTML.slice(0, 200))"""
    )
    assert cut == []
    smallest = opened.evaluate(
        """() => {
      const sizes = [];
      for (const image of document.querySelectorAll('figure img')) {
        const shown = image.getBoundingClientRect().width;
        const svg = decodeURIComponent(image.currentSrc);
        const box = svg.match(/viewBox="0 0 ([0-9.]+) /);
        for (const found of svg.matchAll(/font(?:-size)?: (?:[a-z0-9]+ )*?([0-9.]+)px/g))
          sizes.push(Number(found[1]) * shown / Number(box[1]));
      }
      for (const svg of document.querySelectorAll('figure svg'))
        for (const text of svg.querySelectorAll('text'))
          sizes.push(parseFloat(getComputedStyle(text).fontSize) * svg.getScreenCTM().a);
      return sizes.length ? Math.min(...sizes) : 99;
    }"""
    )
    assert smallest >= SMALLEST


def test_a_page_weighs_at_most_a_megabyte(page_file):
    assert page_file.stat().st_size <= MEGABYTE


def test_contents_lead_everywhere_and_unfold_what_they_lead_to(browser, page_file):
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(page_file.as_uri())
    for link in page.locator("nav.contents a").all():
        link.focus()
        page.keyboard.press("Enter")
        target = page.locator(link.get_attribute("href"))
        assert target.is_visible()
        assert target.evaluate("one => one.getBoundingClientRect().top") < 900
        assert link.is_visible(), "the list stays at hand"
    page.close()


def test_every_table_names_its_rows_and_columns(browser, page_file):
    page = browser.new_page()
    page.goto(page_file.as_uri())
    nameless = page.evaluate(
        """() => [...document.querySelectorAll('table')].filter(one =>
      !one.caption || !one.querySelector('thead th[scope=col]')
      || [...one.tBodies[0].rows].some(row => !row.querySelector('th[scope=row], .nothing')))
      .length"""
    )
    assert nameless == 0
    page.close()


def test_what_a_figure_shows_is_told_and_is_not_its_caption_again(browser, page_file):
    page = browser.new_page()
    page.goto(page_file.as_uri())
    told = page.locator("figure").evaluate_all(
        """all => all.map(one => [
      (one.querySelector('img') || one.querySelector('svg')).getAttribute('alt')
        || one.querySelector('svg').getAttribute('aria-label'),
      one.querySelector('figcaption').textContent])"""
    )
    for words, caption in told:
        assert len(words) > 40 and words != caption
        assert caption == "" or caption not in words, words
    page.close()


def test_printed_pages_and_no_heading_left_alone(browser, page_file):
    """The heights of a print are those of the same layout at the width of the paper."""
    page = browser.new_page()
    page.goto(page_file.as_uri())
    page.emulate_media(media="print")
    printed = page.pdf(prefer_css_page_size=True)
    pages = len(PRINTED.findall(printed))
    if page_file.stem == "review":
        assert pages <= MOST_PRINTED, f"{pages} printed pages"
    alone = page.evaluate(
        """() => [...document.querySelectorAll('h2, h3, summary, caption, thead')].filter(one =>
      one.getClientRects().length && getComputedStyle(one).breakAfter !== 'avoid').length"""
    )
    assert alone == 0
    hidden = page.evaluate(
        """() => [...document.querySelectorAll('details')].filter(one => getComputedStyle(one,
      '::details-content').contentVisibility === 'hidden').length"""
    )
    assert hidden == 0, "what is folded is on paper"
    page.close()


def test_pictures_hold_no_script(page_file):
    for picture in re.findall(r'"data:image/svg\+xml,([^"]*)"', page_file.read_text()):
        assert "<script" not in unquote(picture)
