"""Results show themselves: a line at a prompt, more in a notebook, and no room knows how."""

from __future__ import annotations

import inspect
import re
import subprocess
import sys
from dataclasses import replace

import pytest
from tests.show.conftest import DEMO

import headlife as hl
from headlife.decisions.policy.proposal import proposal_study
from headlife.show.results import LOOKS

ANALYSIS = DEMO.parent / "analysis"
MARKED = re.compile(r"@shows_itself\n(?:@dataclass[^\n]*\n)?class (\w+)")


@pytest.fixture(scope="module")
def results(demo, tmp_path_factory):
    records, review = demo
    case = hl.Case(records, records.shop)
    study = hl.spares_study(case)
    stratum = review.strata[-1]
    found = [case, records, review, stratum, stratum.life, stratum.verdict]
    found += [review.stock[0], review.stock[0].plan, review.stock[0].demand]
    found += [study, study.budget, hl.backtest(case, last_only=True)]
    proposal = proposal_study(review, case.shop)
    builds = hl.read_builds(DEMO / "builds.csv")
    found += [case.shop, builds, hl.build_plan(case, builds), hl.two_readings(records)]
    found += [hl.actions_of(review, case.shop), hl.changes_since(case), hl.due_list(case)]
    found += [hl.vendor_statement(case, "Standard"), proposal, proposal.answers[0]]
    modes = review.strata[0].modes
    found += [stratum.life.evidence, hl.CompetingLife(modes)]
    parts = {one.name: one.evidence.modes["wear"] for one in review.strata[:2]}
    found += [hl.compare_strata(parts)]
    site = hl.read_site(told_by(case, tmp_path_factory.mktemp("site") / "site.json"))
    found += [site, hl.pool_sites([site, replace(site, site="Other yard")])]
    return {type(one).__name__: one for one in found}


def told_by(case, path):
    """An evidence file of the demo's shop, as the command writes it."""
    command = [sys.executable, "-m", "headlife.cli", "evidence", str(DEMO / "removals.csv")]
    command += ["--shop", str(DEMO / "shop.toml"), "--site", "Harbour", "--out", str(path)]
    subprocess.run(command, check=True, capture_output=True)
    return path


def test_every_result_of_the_front_door_shows_itself():
    """What a front-door name gives has its own look; tables and numbers have theirs already."""
    silent = {"DataFrame", "str", "dict", "list", "int", "None"}
    for name in hl.__all__[1:]:
        value = getattr(hl, name)
        is_class = isinstance(value, type)
        given = name if is_class else str(inspect.signature(value).return_annotation)
        first = re.split(r"\W", given.removeprefix("pd."))[0]
        assert first in silent or first in LOOKS, (name, given)


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
