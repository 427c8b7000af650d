"""What would a policy teach about the rating, in words and rows? For the page and the terminal.

From kinds of head and their answers; asks `decisions.settle` for the chance of a verdict within a
year and `decisions.learning` for the worth of heads run on past the rating. Draws nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from headlife.decisions.policy.learning import WorthOfWatching, worth_of_watching
from headlife.decisions.rating import NOT_SETTLED
from headlife.decisions.settle import what_would_settle
from headlife.shop.policy import compared_policies
from headlife.show.proposal import money
from headlife.show.sentences import chance, counted, hours, lines
from headlife.units import QUARTERS_PER_YEAR

if TYPE_CHECKING:
    from headlife.decisions.policy.past_rating import Kind, PastRating
    from headlife.shop import Shop

HEADINGS: Final = [
    "Head type, role",
    "Policy",
    "Chance of a verdict on the rating",
    "Holds",
    "Falls short",
    "Print hours past the rating [h]",
]
WATCHED: Final = (1, 3, 10)  # heads run past the rating
RUN_TO: Final = 1.5  # times the rating
_DRAWS: Final = 100  # futures for each policy: a chance is then good to about five points
_WORTH: Final = 1.0  # a year's saving below this is nothing [currency]


@dataclass(frozen=True)
class Learned:
    """What would be learned within a year, in words and rows."""

    sentences: tuple[str, ...]
    """On the worth of watching heads, one per kind of head."""
    rows: tuple[tuple[str, ...], ...]
    """On the chance of a verdict, one per kind and policy; see `HEADINGS`."""


def what_we_learn(kinds: Sequence[Kind], answers: Sequence[PastRating], shop: Shop) -> Learned:
    """Work out what each policy would teach about the rating, and what watching is worth."""
    both = list(zip(kinds, answers, strict=True))
    rows = [tuple(row) for kind, answer in both for row in _verdict_rows(kind, answer, shop)]
    return Learned(tuple(_worth_sentence(kind, answer, shop) for kind, answer in both), tuple(rows))


def _verdict_rows(kind: Kind, answer: PastRating, shop: Shop) -> list[list[str]]:
    if kind.verdict is not None and kind.verdict.verdict != NOT_SETTLED:
        settled = f"settled already: {kind.verdict.verdict}"
        return [[kind.name, "any", settled, "–", "–", "–"]]
    positions = kind.positions(answer.choices)
    policies = compared_policies(
        kind.rated_hours,
        notice_hours=kind.notice_hours,
        proposed=[answer.choices.age_hours],
    )
    if kind.quality_critical:
        policies = tuple(one for one in policies if one.swap_at <= kind.rated_hours)
    found = what_would_settle(
        kind.lives[0],
        positions.ages,
        positions.weekly_hours,
        kind.rated_hours,
        shop.claim.share,
        shop.claim.confidence,
        policies=policies,
        quarters=(QUARTERS_PER_YEAR,),
        draws=_DRAWS,
        seed=shop.review.seed,
        others=kind.lives[1:],
    )
    return [
        [
            kind.name,
            str(line.policy),
            chance(line.settled),
            chance(line.holds),
            chance(line.falls_short),
            f"{line.past_rating:,.0f}",
        ]
        for line in lines(found)
    ]


def _worth_sentence(kind: Kind, answer: PastRating, shop: Shop) -> str:
    if kind.quality_critical:
        return f"{kind.name}: quality-critical, so no head is run past its rating to learn from it."
    worths = [_worth(kind, answer, heads, shop.review.seed) for heads in WATCHED]
    yearly = answer.hours_per_quarter * QUARTERS_PER_YEAR
    told = [
        f"{counted(one.heads, 'head', 'heads')}, "
        f"{money(one.value_per_hour * yearly, answer.costs.currency)}"
        for one in worths
        if one.value_per_hour * yearly >= _WORTH
    ]
    run_to = hours(RUN_TO * kind.rated_hours)
    if not told:
        return (
            f"{kind.name}: running up to {WATCHED[-1]} heads on to {run_to} is not expected to "
            "change the choice of policy."
        )
    where = f" (not on {', '.join(kind.never_past)})" if kind.never_past else ""
    return (
        f"{kind.name}: running heads past the rating on non-critical work{where}, to failure or "
        f"{run_to}, is worth in better choices, per year: {'; '.join(told)}."
    )


def _worth(kind: Kind, answer: PastRating, heads: int, seed: int) -> WorthOfWatching:
    listed = compared_policies(
        kind.rated_hours,
        notice_hours=kind.notice_hours,
        proposed=[RUN_TO * kind.rated_hours, answer.choices.age_hours],
    )
    return worth_of_watching(
        kind.lives[0],
        answer.costs,
        sorted(one.swap_at for one in listed),
        kind.rated_hours,
        heads,
        run_to=RUN_TO * kind.rated_hours,
        others=kind.lives[1:],
        seed=seed,
    )
