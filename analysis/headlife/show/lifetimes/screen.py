"""Ratings from a plain table of lifetimes, on a terminal. Computes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from headlife.show.terminal import Screen, Verdict
from headlife.show.words.lifetimes import beyond_sentence, group_sentence
from headlife.show.words.numbers import (
    counted,
    decimals,
    hours,
    hours_span,
    most_known,
    percent,
    ranges,
    whole,
)

if TYPE_CHECKING:
    from headlife.decisions.lifetimes import GroupVerdict

_LEAST_SHARE: Final = 0.0001


def print_lifetimes(screen: Screen, groups: Sequence[GroupVerdict]) -> None:
    """Print the verdict of every group with its estimates and ranges.

    Parameters
    ----------
    screen : Screen
        Printed on.
    groups : sequence of GroupVerdict
        The verdict of every group.
    """
    verdict = groups[0].verdict
    screen.head(
        f"Do at least {percent(verdict.share)} of heads reach the rated "
        f"{whole(verdict.rated_hours)} h?"
    )
    for one in groups:
        screen.gap()
        screen.say(
            f"{one.group}: {counted(one.heads, 'head', 'heads')}, "
            f"{whole(one.hours_run)} h of running, {one.failures:,} failed"
        )
        screen.say(Verdict(one.verdict.verdict), group_sentence(one))
        _table(screen, one)
    screen.gap()
    screen.say(ranges(verdict.confidence))


def _table(screen: Screen, one: GroupVerdict) -> None:
    verdict, life = one.verdict, one.life
    failed = 100.0 * (1.0 - verdict.share)
    shape, scale = (decimals(life.shape, 4), life.scale) if life.has_ml else ("none", None)
    shapes = " to ".join(decimals(bound, 2) for bound in one.shape_bounds)
    most = most_known(verdict.rated_hours, one.oldest_hours)
    posterior = _hours_range(verdict.life_at_share_bounds, most)
    screen.table(
        "",
        ["", "Fit", "Likelihood-ratio range", "Posterior median (range)"],
        [
            ["Weibull shape [-]", shape, "", shapes],
            ["Weibull scale [h]", _hours(scale, most), "", ""],
            [
                f"B{failed:g}: hours that {100 - failed:g} % reach [h]",
                _hours(one.b_life, most),
                _hours_range(one.b_life_likelihood_ratio, most),
                f"{_hours(verdict.life_at_share, most)} ({posterior})",
            ],
            [
                "Share reaching the rating [-]",
                _share(one.reliability),
                _share_range(one.reliability_likelihood_ratio),
                f"{_share(verdict.share_reaching)} ({_share_range(verdict.bounds)})",
            ],
        ],
        right=(1, 2, 3),
    )
    if said := beyond_sentence(one):
        screen.say(said)


def _hours(value: float | None, most: float) -> str:
    return "none" if value is None else hours(value, most).removesuffix(" h")


def _hours_range(pair: tuple[float, float] | None, most: float) -> str:
    return "none" if pair is None else hours_span(*pair, most).removesuffix(" h")


def _share(value: float) -> str:
    """Write a share to four digits, never as a certainty."""
    if value < _LEAST_SHARE:
        return f"under {_LEAST_SHARE}"
    return f"over {1 - _LEAST_SHARE}" if value > 1 - _LEAST_SHARE else f"{value:.4f}"


def _share_range(pair: tuple[float, float] | None) -> str:
    return "none" if pair is None else f"{_share(pair[0])} to {_share(pair[1])}"
