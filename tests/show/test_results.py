"""Results show themselves: a line at a prompt, more in a notebook, and no room knows how."""

from __future__ import annotations

import re
import subprocess
import sys

import pytest
from tests.show.conftest import DEMO

import headlife as hl
from headlife.show.results import LOOKS

ANALYSIS = DEMO.parent / "analysis"
MARKED = re.compile(r"@shows_itself\n@dataclass[^\n]*\nclass (\w+)")


@pytest.fixture(scope="module")
def results(demo):
    records, review = demo
    case = hl.Case(records, records.shop)
    study = hl.spares_study(case)
    stratum = review.strata[-1]
    found = [case, records, review, stratum, stratum.life, stratum.verdict]
    found += [review.stock[0], review.stock[0].plan, review.stock[0].demand]
    found += [study, study.budget, hl.backtest(case, last_only=True)]
    return {type(one).__name__: one for one in found}


def test_every_marked_class_has_a_look_and_only_those():
    marked = {
        name
        for path in (ANALYSIS / "headlife").rglob("*.py")
        for name in MARKED.findall(path.read_text(encoding="utf-8"))
    }
    assert marked == set(LOOKS) and len(marked) >= 12


@pytest.mark.parametrize("name", LOOKS)
def test_a_result_is_one_line_at_a_prompt_and_tables_in_a_notebook(results, name):
    shown = repr(results[name])
    assert shown.startswith(f"<{name} ") and "\n" not in shown and len(shown) < 220
    page = results[name]._repr_html_()
    assert page.startswith("<style>") and "could not be made" not in page
    body = re.sub("<style>.*?</style>", "", page, flags=re.S)
    assert not re.search(r"\bnan\b|\bNone\b(?! below)|object at 0x", shown + body)


def test_what_users_wrote_is_escaped_and_cleaned(small):
    name = "<script>\x1b[2J"
    rows = ["H1,A,model,P1,left,2026-01-05,0,2026-03-02,300,"]
    _, review = small(rows)
    from dataclasses import replace

    hostile = replace(review, shop_name=name)
    assert "\x1b" not in repr(hostile)
    assert "<script>" not in hostile._repr_html_()


def test_no_room_of_numbers_loads_words_or_pages_until_a_result_is_shown():
    code = (
        "import sys\nfrom headlife.life.evidence import Evidence\n"
        "from headlife.life.posterior import fit_life\n"
        "from headlife.decisions.rating import judge_rating\n"
        "e = Evidence.from_lives(0.0, [300.0, 400.0], [True, False], reference_hours=500.0)\n"
        "v = judge_rating(fit_life(e), 500.0)\n"
        "before = [m for m in sys.modules if m.startswith('headlife.show')]\n"
        "print(before, 'headlife.show.words.rating' in sys.modules)\nprint(repr(v)[:15])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "[] False\n<RatingVerdict \n"
