"""Every module of the package is asked something by a test, or says here why not."""

from __future__ import annotations

import ast
import fnmatch
from pathlib import Path

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "analysis" / "headlife"

# Imported by no test, as a pattern -> which tests ask it all the same, or why none does.
REACHED_THROUGH = {
    "__main__": "calls `cli.main`, which every test of a command runs",
    "commands.answer_files": "writes the files of due and plan in tests/show and tests/commands",
    "commands.on_records": "reads the arguments of every command in tests/commands",
    "decisions.review_answers": "fields of every review, tests/decisions/test_review.py",
    "decisions.spare_for": "the spare beside each head that is due, tests/decisions/test_due.py",
    "decisions.plan.*": "what the plan of a shop is made of, tests/decisions/test_build_plan.py",
    "display": "how every result shows itself, tests/show/test_results.py",
    "fleet.reduction": "both ways into a review, tests/scale/test_two_paths.py",
    "futures.[cpr]*": "calendar, positions, printers and rules, walked in tests/futures",
    "life.checked_lives": "everything it refuses, tests/life/test_bad_lives.py",
    "life.asked": "fractions and confidences refused in tests/life/test_bad_lives.py",
    "life.likelihood_ratio": "likelihood-ratio bounds of lives, tests/life/test_likelihood.py",
    "life.interval_rows": "the likelihood by brute force in tests/life/test_intervals.py",
    "life.inference": "what `fit_life` learns, tests/life/test_posterior.py",
    "life.places": "quantiles of mixtures and posteriors, tests/life/test_mixture.py",
    "life.shape_posterior": "where posteriors are summed, tests/life/test_posterior.py",
    "plain_text": "spellings that are one name, tests/records/test_one_name.py",
    "progress": "a type and nothing else",
    "records.*": "whole tables, made sound and then broken: tests/records/test_any_table.py",
    "scale.addable": "files that do not fit are refused, tests/scale/test_pooling.py",
    "scale.parts": "any number of parts gives one answer, tests/scale/test_partitions.py",
    "alike": "names that are proposed, tests/shop/test_settings.py, tests/commands/test_inputs.py",
    "settings_errors": "every sentence about a settings file, tests/shop/test_settings.py",
    "stopped": "Ctrl-C at any moment, tests/commands/test_interrupted.py",
    "shop.settings_file": "files that cannot be read, tests/shop/test_settings.py",
    "shop.[cl]*": "clocks and shapes of logs, read in tests/records/test_messy_logs.py",
    "shop.[vw]*": "tables of the settings, tests/shop/test_settings.py",
    "show.figures.names": "long names, tests/show/test_timeline_figure.py and test_page.py",
    "show.calendar_file": "calendars of what is due and of swaps, tests/show/test_due.py",
    "show.*.__main__": "`make notebooks`, which CI runs",
    "decisions.policy.past_rating_answer": "answers in tests/decisions/test_past_rating.py",
    "decisions.*.tried": "what pages carry, judged against Python in tests/browser",
    "show.*.on_page": "sliders of the pages, moved in tests/browser/test_what_if_page.py",
    "show.sliders": "the same",
    "show.*.s*": "screens, printed by the commands in tests/commands",
    "show.changes.*": "screen and page of `headlife changes`, tests/show/test_changes.py",
    "show.vendor.*": "screen, page and files of `headlife vendor`, tests/show/test_vendor.py",
    "show.notebook.cells": "notebooks executed in tests/show/test_notebook.py",
    "show.review.*": "the page of `headlife review`, tests/show/test_page.py",
    "show.words.*": "sentences on screens and pages in tests/commands and tests/scale",
    "show.spares.a*": "a sheet of the workbook in tests/show/test_spares.py",
    "show.xlsx_report": "sheets of the workbook in tests/show/test_spares.py",
    "show.xlsx": "workbooks written in tests/show/test_spares.py and tests/commands",
}


def modules() -> set[str]:
    """Dotted names of all modules that hold code, below the package."""
    paths = (path for path in PACKAGE.rglob("*.py") if path.name != "__init__.py")
    return {".".join(path.relative_to(PACKAGE).with_suffix("").parts) for path in paths}


def named_by_tests() -> set[str]:
    """Modules that some test imports, those that the front door's names come from included."""
    from headlife import _ROOMS

    found: set[str] = set()
    for path in (ROOT / "tests").rglob("*.py"):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.module:
                found |= {node.module, *(f"{node.module}.{one.name}" for one in node.names)}
            elif isinstance(node, ast.Import):
                found |= {one.name for one in node.names}
            elif isinstance(node, ast.Attribute) and node.attr in _ROOMS:
                found.add(f"headlife.{_ROOMS[node.attr]}")
    return {name.removeprefix("headlife.") for name in found if name.startswith("headlife.")}


def commands_run_by_tests() -> set[str]:
    """Modules of commands whose name stands in a test as the word that is run."""
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("test_*.py")]
    return {
        f"commands.{path.stem}"
        for path in (PACKAGE / "commands").glob("*.py")
        if any(f'"{path.stem}"' in text for text in texts)
    }


def mirrored_by_tests() -> set[str]:
    """Modules for whose question a test file of the same name stands in the room's tests."""
    files = {path.stem.removeprefix("test_") for path in (ROOT / "tests").rglob("test_*.py")}
    return {module for module in modules() if module.rsplit(".", 1)[-1] in files}


def test_every_module_is_tested_or_says_why_not():
    asked = named_by_tests() | commands_run_by_tests() | mirrored_by_tests()
    told = {pattern: set(fnmatch.filter(modules(), pattern)) for pattern in REACHED_THROUGH}
    assert modules() - asked - set().union(*told.values()) == set(), "add a test, or a reason here"
    assert [pattern for pattern, of in told.items() if not of] == []
