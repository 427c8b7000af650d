"""Ratings from a plain table of lifetimes, on a terminal. Computes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from headlife.show.terminal import Screen, Verdict
from headlife.show.words.lifetimes import group_sentence
from headlife.show.words.numbers import percent, ranges, whole

if TYPE_CHECKING:
    from headlife.decisions.lifetimes import GroupVerdict

_MOST_HOURS: Final = 1e7  # a bound above is only called so: no head runs a thousand years


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
            f"{one.group}: {one.heads:,} heads, {whole(one.hours_run)} h of running, "
            f"{one.failures:,} failed"
        )
        screen.say(Verdict(one.verdict.verdict), group_sentence(one))
        _table(screen, one)
    screen.gap()
    screen.say(ranges(verdict.confidence))


def _table(screen: Screen, one: GroupVerdict) -> None:
    verdict, life = one.verdict, one.life
    failed = 100.0 * (1.0 - verdict.share)
    shape, scale = (life.shape, life.scale) if life.has_ml else (None, None)
    screen.table(
        "",
        ["", "Fit", "Likelihood-ratio range", "Posterior median (range)"],
        [
            ["Weibull shape [-]", _one(shape, 4), "", _range(one.shape_bounds, 2)],
            ["Weibull scale [h]", _one(scale, 0), "", ""],
            [
                f"B{failed:g}: hours that {100 - failed:g} % reach [h]",
                _one(one.b_life, 0),
                _range(one.b_life_likelihood_ratio, 0),
                f"{_one(verdict.life_at_share, 0)} ({_range(verdict.life_at_share_bounds, 0)})",
            ],
            [
                "Share reaching the rating [-]",
                _one(one.reliability, 4),
                _range(one.reliability_likelihood_ratio, 4),
                f"{_one(verdict.share_reaching, 4)} ({_range(verdict.bounds, 4)})",
            ],
        ],
        right=(1, 2, 3),
    )


def _one(value: float | None, digits: int) -> str:
    if value is None:
        return "none"
    return f"over {_MOST_HOURS:,.0f}" if value > _MOST_HOURS else f"{value:,.{digits}f}"


def _range(pair: tuple[float, float] | None, digits: int) -> str:
    return "none" if pair is None else f"{_one(pair[0], digits)} to {_one(pair[1], digits)}"
