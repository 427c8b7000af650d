"""`headlife replace`: what running heads past their rating costs, risks and teaches.

Computes the answers, prints the advice, the policies side by side, both heads in one visit, what
would be learned and the build check, and then writes the page (`--out`) from the same answers. On
a mistake in the input no page is written or changed.
"""

from __future__ import annotations

import argparse
from typing import Any, Final

from headlife.commands import on_records
from headlife.errors import HeadlifeError

# Argument -> field of `Choices`, parameter of the notebook.
_TRIED: Final = (
    ("age_hours", "--age", "HOURS", float, "age at which working heads are swapped"),
    ("scrapped_build_cost", "--scrapped-build", "AMOUNT", float, "cost of the build a head spoils"),
    ("manual_checks", "--checks", "N", int, "manual calibration runs after a visit"),
    ("build_hours", "--build", "HOURS", float, "length of builds"),
    ("service_level", "--service", "SHARE", float, "service level of the spares, such as 0.95"),
    ("lead_time_weeks", "--lead", "WEEKS", float, "weeks from order to delivery of spares"),
)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    on_records.add_arguments(parser)
    on_records.add_figures(parser)
    group = parser.add_argument_group("what to try (default: the settings, a quarter past rating)")
    for name, option, metavar, kind, words in _TRIED:
        group.add_argument(option, dest=name, metavar=metavar, type=kind, help=words)


def run(args: argparse.Namespace) -> int:
    """As in `Command`: answer the proposal."""
    outputs = on_records.check(args)
    tried = {name: getattr(args, name) for name, *_ in _TRIED}
    _check_choices(tried)
    page = outputs.claim(args.out, "--out", ending=".html") if args.out else None
    figures = on_records.figures_folder(args)
    from headlife.show.terminal import progress_bar

    with progress_bar("reading the records") as report:
        case = on_records.case_of(args, report)
        if tried["build_hours"] is not None:
            case = case.with_(review={"build_hours": tried["build_hours"]})
        from headlife.decisions.policy.proposal import proposal_study, refuse_without_costs
        from headlife.decisions.review import quarterly_review

        refuse_without_costs(case)
        review = quarterly_review(case, progress=report)
        report("comparing policies", 0, 0)
        study = proposal_study(review, case.shop, **tried)
    from headlife.show.past_rating.screen import print_past_rating
    from headlife.show.past_rating.values import past_rating_values

    screen = on_records.tell(
        args, lambda: past_rating_values(study), lambda on: print_past_rating(on, study)
    )
    if page is not None or figures is not None:
        from headlife.show.past_rating.page import past_rating_page

        on_records.write_page(lambda: past_rating_page(study), page, screen, figures)
    return 0


def _check_choices(tried: dict[str, Any]) -> None:
    """Refuse a senseless choice before anything is read; the settings fill in the rest later."""
    from headlife.decisions.policy.past_rating_answer import Choices
    from headlife.shop.values import MOST_AMOUNT, MOST_HOURS, MOST_WEEKS

    any_sensible = {
        "age_hours": 1.0,
        "scrapped_build_cost": 0.0,
        "manual_checks": 0,
        "build_hours": 1.0,
        "service_level": 0.5,
        "lead_time_weeks": 0.0,
    }
    stated = {name: value for name, value in tried.items() if value is not None}
    # The most that settings may state of each.
    for name, option, most, unit in (
        ("lead_time_weeks", "--lead", MOST_WEEKS, "weeks"),
        ("build_hours", "--build", MOST_HOURS, "hours"),
        ("scrapped_build_cost", "--scrapped-build", MOST_AMOUNT, "of the currency"),
    ):
        if stated.get(name, 0) > most:
            raise HeadlifeError(f"{option} is at most {most:,.0f} {unit}; got {stated[name]:g}.")
    Choices(**(any_sensible | stated))
