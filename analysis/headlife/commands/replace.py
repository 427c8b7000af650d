"""`headlife replace`: what running heads past their rating costs, risks and teaches.

Prints the advice, the policies side by side, both heads in one visit, what would be learned and
the build check; with `--out` writes the page with the same as static curves, from the notebook
`run_past_rating.ipynb`. On a mistake in the input no page is written or changed.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, Final

from headlife.commands import on_records
from headlife.shop.policy import AT_RATING

NOTEBOOK: Final = "run_past_rating.ipynb"
_TITLE: Final = "Running heads past their rating"
# Argument -> field of `Choices`, parameter of the notebook.
_TRIED: Final = (
    ("age_hours", "--age", "HOURS", float, "age at which working heads are swapped"),
    ("scrapped_build_cost", "--scrapped-build", "AMOUNT", float, "cost of the build a head spoils"),
    ("manual_checks", "--checks", "N", int, "manual calibration runs after a visit"),
    ("build_hours", "--build", "HOURS", float, "length of builds"),
    ("service_level", "--service", "SHARE", float, "service level of the spares, such as 0.95"),
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    on_records.add_arguments(parser)
    group = parser.add_argument_group("what to try (default: the settings, a quarter past rating)")
    for name, option, metavar, kind, words in _TRIED:
        group.add_argument(option, dest=name, metavar=metavar, type=kind, help=words)


def run(args: argparse.Namespace) -> int:
    """Answer the proposal."""
    from headlife.shop import read_shop
    from headlife.show.report import check_writable

    given = on_records.parameters_of(args)
    tried = {name: getattr(args, name) for name, *_ in _TRIED}
    _check_choices(tried)
    page = Path(args.out).absolute() if args.out else None
    if page is not None:
        check_writable(page)
        on_records.keep_inputs(page, args)
    from headlife.show.notebook import NotebookFailure
    from headlife.show.terminal import print_json, progress_bar

    try:
        with progress_bar("reading the records") as report:
            if page is None:
                answers = _answers(given, tried, report)
            else:
                read_shop(given["shop_file"])  # a mistake there is told before any Python starts
                given |= tried
                answers = on_records.answers_and_page(NOTEBOOK, _TITLE, given, page, report)
    except NotebookFailure as fault:
        return on_records.own_fault(fault)
    if args.json:
        print_json(answers)
    else:
        _print(answers, args.out)
    return 0


def _check_choices(tried: dict[str, Any]) -> None:
    """Refuse a senseless choice before anything is read; the settings fill in the rest later."""
    from headlife.decisions.policy.past_rating import Choices

    any_sensible = {
        "age_hours": 1.0,
        "scrapped_build_cost": 0.0,
        "manual_checks": 0,
        "build_hours": 1.0,
        "service_level": 0.5,
    }
    stated = {name: value for name, value in tried.items() if value is not None}
    Choices(**(any_sensible | stated))


def _answers(given: dict[str, Any], tried: dict[str, Any], report: Any) -> dict[str, Any]:
    import headlife
    from headlife.show.page import shop_in_force
    from headlife.show.proposal_study import study, study_answers, with_build

    shop = shop_in_force(given["shop_file"], seed=given["seed"], set_aside=given["set_aside"])
    shop = with_build(shop, tried["build_hours"])
    records = headlife.read_records(given["records_file"], shop)
    review = headlife.quarterly_review(records, shop, as_of=given["as_of"], progress=report)
    report("comparing policies", 0, 0)
    return study_answers(study(review, shop, **tried))


def _print(answers: dict[str, Any], out: str | None) -> None:
    from headlife.show.cautions import CAUTIONS
    from headlife.show.sentences import hours
    from headlife.show.terminal import console, safe

    screen = console()

    def say(text: str, style: str = "") -> None:
        screen.print(safe(text), style=style)

    say(f"{answers['shop']}: running heads past their rating, as of {answers['as_of']}", "bold")
    for one in answers["kinds"]:
        screen.print()
        say(f"{one['head_type']}, {one['role']}, rated {hours(one['rated_hours'])}", "bold")
        say(one["advice"])
        say(one["proposal"])
        screen.print(_policies(one["policies"], answers["currency"]))
    for pair in answers["both_heads"]:
        screen.print()
        say(pair["sentence"])
        screen.print(_both_heads(pair["policies"], answers["currency"]))
    screen.print(_learning(answers["learning"]["rows"]))
    for text in answers["learning"]["sentences"]:
        say(text)
    screen.print(_build_check(answers))
    for caution in CAUTIONS:
        screen.print()
        say(caution)
    if out:
        screen.print()
        say(f"The page: {out}")


def _policies(policies: list[dict[str, Any]], currency: str) -> Any:
    from headlife.show.terminal import grid, safe

    made = grid(
        f"Cost per print hour, the rest per quarter; amounts in {currency}",
        [
            "Policy",
            "Per hour (range)",
            "Heads",
            "Failed",
            "Stands [h]",
            "Spares",
            "Beats rating",
            "Saves",
            "If wrong",
        ],
        right=tuple(range(1, 9)),
    )
    for line in policies:
        made.add_row(
            safe(line["policy"]),
            _cost(line),
            f"{line['heads']:.1f}",
            f"{line['failed_builds']:.1f}",
            f"{line['downtime']:.1f}",
            f"{line['spares']}",
            *_versus(line, line["policy"] == AT_RATING),
        )
    return made


def _both_heads(policies: list[dict[str, Any]], currency: str) -> Any:
    from headlife.show.terminal import grid, safe

    made = grid(
        f"Cost per print hour of a printer, the rest per quarter; amounts in {currency}",
        ["Policy", "Along from [h]", "Per hour (range)", "Heads", "Failed", "Visits", "Spares"]
        + ["Beats rating", "Saves", "If wrong"],
        right=tuple(range(1, 10)),
    )
    for place, line in enumerate(policies):
        made.add_row(
            safe(line["policy"]),
            "never" if line["limit"] is None else f"{line['limit']:,.0f}",
            _cost(line),
            f"{line['heads']:.1f}",
            f"{line['failed_builds']:.1f}",
            f"{line['visits']:.1f}",
            f"{line['spares']}",
            *_versus(line, place == 0),
        )
    return made


def _cost(line: dict[str, Any]) -> str:
    return f"{line['cost_per_hour']:.2f} ({line['cost_low']:.2f}–{line['cost_high']:.2f})"


def _versus(line: dict[str, Any], yardstick: bool) -> list[str]:
    """Odds, saving and loss against swapping at the rating."""
    from headlife.show.sentences import chance

    if yardstick:
        return ["–", "–", "–"]
    saved, lost = f"{line['saving']:,.0f}", f"{-line['regret']:,.0f}"
    return [chance(line["probability_cheaper"]), saved, "0" if lost == "-0" else lost]


def _learning(rows: list[list[str]]) -> Any:
    from headlife.show.learning import HEADINGS
    from headlife.show.terminal import grid, safe

    made = grid("\nWhat would we learn within a year?", HEADINGS, right=(2, 3, 4, 5))
    for row in rows:
        made.add_row(*map(safe, row))
    return made


def _build_check(answers: dict[str, Any]) -> Any:
    from headlife.show.sentences import chance, span
    from headlife.show.terminal import grid, safe

    made = grid(
        f"\nWill this head finish a {answers['build_hours']:g}-hour build?",
        ["Head", "Head type, role", "Place", "Hours now [h]", "Chance to finish"],
        right=(3, 4),
    )
    for line in answers["build_check"]:
        finish = "unknown"
        if line["probability"] is not None:
            finish = f"{chance(line['probability'])} ({span(line['low'], line['high'])})"
        made.add_row(
            safe(line["head"]),
            safe(f"{line['head_type']}, {line['role']}"),
            safe(f"{line['printer']} {line['position']}"),
            f"{line['age_hours']:,.0f}",
            finish,
        )
    return made
