"""`headlife rating`: does a rated life hold, from nothing but a table of lifetimes?

Reads hours, failed or not, and where given counts, late entries and groups; fits each group and
all together, and prints estimates, bounds of both kinds and the verdict.
"""

from __future__ import annotations

import argparse
import math
from typing import TYPE_CHECKING, Any, Final

from headlife.errors import HeadlifeError

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.rating import RatingVerdict
    from headlife.life.posterior import Life


_MOST_HOURS: Final = 1e7  # a bound above is only called so: no head runs a thousand years


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    parser.add_argument(
        "lives",
        metavar="LIVES.csv",
        help="table with hours, failed and, where given, count, entry_hours, group",
    )
    parser.add_argument(
        "--rated-hours", type=float, required=True, metavar="H", help="the rated life [h]"
    )
    parser.add_argument(
        "--share", type=float, default=0.90, help="share that should reach it (default 0.90)"
    )
    parser.add_argument(
        "--confidence",
        type=float,
        default=0.95,
        help="how sure a verdict must be, and the level of the ranges (default 0.95)",
    )
    parser.add_argument("--json", action="store_true", help="print the answers for a program")


def run(args: argparse.Namespace) -> int:
    """Judge every group, and all groups together when there are several."""
    from headlife.records.lifetimes import read_lifetimes
    from headlife.show.terminal import print_json

    if not (math.isfinite(args.rated_hours) and args.rated_hours > 0):
        raise HeadlifeError(
            f"--rated-hours is the rated life in hours, above 0; got {args.rated_hours:g}."
        )
    lives = read_lifetimes(args.lives)
    groups = [(str(name), own) for name, own in lives.groupby("group", sort=False)]
    if len(groups) > 1:
        groups.append(("all groups together", lives))
    answers = [judge_lifetimes(name, own, args) for name, own in groups]
    if args.json:
        print_json({"format": 1, "rated_hours": args.rated_hours, "groups": answers})
    else:
        _print(answers, args)
    return 0


def judge_lifetimes(name: str, lives: pd.DataFrame, args: argparse.Namespace) -> dict[str, Any]:
    """Fit one group and judge its rating; every number of the answer, and its sentence.

    Parameters
    ----------
    name : str
        Of the group.
    lives : DataFrame
        `hours`, `entry_hours` [h], `failed`, `count` [heads].
    args : Namespace
        `rated_hours` [h], `share` [-], `confidence` [-].
    """
    from headlife.decisions.rating import judge_rating
    from headlife.life.evidence import Evidence
    from headlife.life.posterior import fit_life
    from headlife.show.sentences import counted, rating_sentence

    life = fit_life(
        Evidence.from_lives(
            lives["entry_hours"].to_numpy(float),
            lives["hours"].to_numpy(float),
            lives["failed"].to_numpy(bool),
            reference_hours=args.rated_hours,
            weights=lives["count"].to_numpy(float),
        )
    )
    verdict = judge_rating(life, args.rated_hours, args.share, args.confidence)
    failures = int(lives["count"][lives["failed"]].sum())
    exposure = ((lives["hours"] - lives["entry_hours"]) * lives["count"]).sum()
    told = rating_sentence(verdict)
    if not life.shape_learned:
        count = counted(failures, "failure", "failures")
        told += f" With {count}, how the risk grows with age is assumed, not learned."
    return {
        "group": name,
        "heads": int(lives["count"].sum()),
        "failures": failures,
        "hours_run": float(exposure),
        "verdict": verdict.verdict,
        "probability": verdict.probability,
        "sentence": told,
        "share_reaching": verdict.share_reaching,
        **_numbers(life, verdict),
    }


def _numbers(life: Life, verdict: RatingVerdict) -> dict[str, Any]:
    """Estimates and two-sided ranges; a number that does not exist is None."""
    rated, failed, level = verdict.rated_hours, 1.0 - verdict.share, verdict.confidence
    numbers: dict[str, Any] = {
        "shape": None,
        "scale": None,
        "shape_posterior": _pair(life.shape_bounds(level)),
        "b_life_percent": 100.0 * failed,
        "b_life": float(life.life(failed)),
        "b_life_posterior": _pair(life.life_bounds(failed, confidence=level)),
        "reliability": float(life.reliability(rated)),
        "reliability_posterior": _pair(life.reliability_bounds(rated, confidence=level)),
        "range_confidence": level,
        "b_life_likelihood_ratio": None,
        "reliability_likelihood_ratio": None,
    }
    if life.has_ml:
        numbers |= {
            "shape": float(life.shape),
            "scale": float(life.scale),
            "b_life_likelihood_ratio": _pair(life.likelihood_ratio_life_bounds(failed, level)),
            "reliability_likelihood_ratio": _pair(
                life.likelihood_ratio_reliability_bounds(rated, level)
            ),
        }
    return numbers


def _pair(bounds: Any) -> list[float]:
    return [float(bound) for bound in bounds]


def _print(answers: list[dict[str, Any]], args: argparse.Namespace) -> None:
    from headlife.show.sentences import percent
    from headlife.show.terminal import console, safe, verdict_text

    screen = console()
    screen.print(
        safe(
            f"Do at least {percent(args.share)} of heads reach the rated {args.rated_hours:,.0f} h?"
        ),
        style="bold",
    )
    for answer in answers:
        screen.print()
        screen.print(
            safe(
                f"{answer['group']}: {answer['heads']:,} heads, {answer['hours_run']:,.0f} h of "
                f"running, {answer['failures']:,} failed"
            )
        )
        screen.print(verdict_text(answer["verdict"]), safe(answer["sentence"]))
        screen.print(_table(answer))
    level = percent(args.confidence)
    screen.print()
    screen.print(
        safe(
            f"In the sentences each bound alone is {level} sure, as the verdict asks; in the "
            f"tables a range as a whole is."
        )
    )


def _table(answer: dict[str, Any]) -> Any:
    from headlife.show.sentences import percent
    from headlife.show.terminal import grid

    level = percent(answer["range_confidence"])
    made = grid(
        "", ["", "Estimate", f"Likelihood ratio, {level}", f"Posterior, {level}"], right=(1, 2, 3)
    )
    made.add_row(
        "Weibull shape [-]",
        _one(answer["shape"], ".4f"),
        "",
        _range(answer["shape_posterior"], ".2f"),
    )
    made.add_row("Weibull scale [h]", _one(answer["scale"], ",.0f"), "", "")
    made.add_row(
        f"B{answer['b_life_percent']:g}: hours that {100 - answer['b_life_percent']:g} % reach [h]",
        _one(answer["b_life"], ",.0f"),
        _range(answer["b_life_likelihood_ratio"], ",.0f"),
        _range(answer["b_life_posterior"], ",.0f"),
    )
    made.add_row(
        "Share reaching the rating [-]",
        _one(answer["reliability"], ".4f"),
        _range(answer["reliability_likelihood_ratio"], ".4f"),
        _range(answer["reliability_posterior"], ".4f"),
    )
    return made


def _one(value: float | None, form: str) -> str:
    if value is None:
        return "none"
    return f"over {_MOST_HOURS:,.0f}" if value > _MOST_HOURS else format(value, form)


def _range(pair: list[float] | None, form: str) -> str:
    return "none" if pair is None else f"{_one(pair[0], form)} to {_one(pair[1], form)}"
