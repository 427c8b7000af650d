"""The answers of one quarter, from a shop's records and settings: all of them, in one object.

For every head type and role: does the rating hold; for every head type: how many spares; for
every head in service: will it finish the next long build. Everything shown to people is read
from the `Review`; it holds no figure and no sentence of the report.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from headlife.case import Case, as_case
from headlife.decisions.backtest import backtest
from headlife.decisions.provenance import Provenance, provenance
from headlife.decisions.rating import RatingVerdict, judge_rating
from headlife.decisions.spares.levels import (
    StockAnswer,
    forecast_horizon,
    stock_answers,
)
from headlife.decisions.watch import watch_list
from headlife.fleet.basis import fit_modes
from headlife.fleet.state import Fleet
from headlife.futures.forecast import forecast_fleet
from headlife.progress import Progress

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import pandas as pd

    from headlife.life.posterior import Life
    from headlife.records.record_set import Records
    from headlife.shop import Shop

__all__ = ["Review", "StockAnswer", "Stratum", "quarterly_review"]

# Fewer failures than this say little about the shape of a life.
FEW_FAILURES: Final = 3


@dataclass(frozen=True)
class Stratum:
    """One head type in one role: its lives, their posteriors and the verdict on its rating."""

    head_type: str
    """Head type."""
    role: str
    """model or support."""
    rated_hours: float
    """The vendor's rated life [h]."""
    lives: pd.DataFrame
    """Lives of this stratum, one row per head."""
    modes: dict[str, Life]
    """Posterior of every failure mode: the primary one, and others that have occurred."""
    life: Life | None
    """Posterior of the primary mode; None when these heads have not run at all yet."""
    verdict: RatingVerdict | None
    """Verdict on the rating by the primary mode; None without a life."""
    heads: int
    """Number of lives [heads]."""
    failures: dict[str, int]
    """Failures by mode [heads]; the primary mode is always listed."""
    in_service: int
    """Heads in service [heads]."""
    note: str
    """What a reader must know about this answer; empty when nothing."""

    @property
    def name(self) -> str:
        """Head type and role, as people write them."""
        return f"{self.head_type}, {self.role}"


@dataclass(frozen=True)
class Review(Provenance):
    """Every answer of one quarterly review, with what it was made from."""

    set_aside: pd.DataFrame
    """Rows not used, and why."""
    lives: pd.DataFrame
    """One row per head life."""
    in_service: pd.DataFrame
    """One row per occupied position."""
    fleet: Fleet
    """Positions and part-used heads on the shelf."""
    strata: tuple[Stratum, ...]
    """Answers on the rating, by head type and role."""
    stock: tuple[StockAnswer, ...]
    """Answers on spares, by head type."""
    watch: pd.DataFrame
    """Heads in service by their chance of finishing the build, worst first."""
    build_hours: float
    """Length of the build the watch list is about [h]."""
    last_quarter: pd.DataFrame
    """What was forecast a quarter ago beside what happened, one row per head type, as
    `Backtest.quarters` has it; empty where the records are too short."""


def quarterly_review(
    case: Case | Records,
    shop: Shop | None = None,
    as_of: Any = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
) -> Review:
    """Answer the questions of a quarter.

    Parameters
    ----------
    case : Case or Records
        What `read_case` returned; or records from `read_records` with `shop` and `as_of`.
    shop : Shop, optional
        The settings, where records are given: those they were read with.
    as_of : date, optional
        Where records are given: look at them as they were known on this day; default all of them.
    progress : callable, optional
        Called with (step, done, total) before each step.
    executor : concurrent.futures.Executor, optional
        Works on the simulations in pieces; the answer is the same with any, or without.

    Returns
    -------
    Review
        Same records, settings and seed, same review.

    Raises
    ------
    HeadlifeError
        Rows were set aside and the settings say to stop then, or a number is out of range.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> [(answer.head_type, answer.plan.stock_level) for answer in hl.quarterly_review(case).stock]
    [('Standard', 8), ('Fibre', 4)]
    """
    case = as_case(case, shop, as_of)
    tell = progress or (lambda step, done, total: None)
    tell("joining installations into lives", 0, 1)
    strata, stock, watch = answers_from(case.lives, case.fleet, case.shop, case.day, tell, executor)
    return Review(
        **vars(provenance(case)),
        set_aside=case.records.set_aside,
        lives=case.lives,
        in_service=case.fleet.positions,
        fleet=case.fleet,
        strata=strata,
        stock=stock,
        watch=watch,
        build_hours=case.shop.review.build_hours,
        last_quarter=backtest(case, progress=tell, last_only=True, executor=executor).quarters,
    )


def answers_from(
    lives: pd.DataFrame,
    fleet: Fleet,
    shop: Shop,
    day: pd.Timestamp,
    tell: Progress,
    executor: Executor | None = None,
) -> tuple[tuple[Stratum, ...], tuple[StockAnswer, ...], pd.DataFrame]:
    """Answer rating, spares and watch list from lives, however removals in doubt were read.

    Parameters
    ----------
    lives : pandas.DataFrame
        One row per head life.
    fleet : Fleet
        What is in service and on the shelf.
    shop : Shop
        The shop's settings.
    day : pandas.Timestamp
        Day of the review.
    tell : callable
        Called with (step, done, total) before each step.
    executor : concurrent.futures.Executor, optional
        As for `quarterly_review`.

    Returns
    -------
    tuple
        Strata, stock answers and watch list of the `Review`.
    """
    strata = _strata(lives, fleet, shop, tell)
    modes = {(stratum.head_type, stratum.role): list(stratum.modes.values()) for stratum in strata}
    tell("simulating demand", 0, 1)
    ahead = forecast_fleet(fleet, modes, shop, forecast_horizon(shop), day, executor=executor)
    stock = stock_answers(fleet, modes, shop, day, tell, ahead)
    tell("listing heads to watch", 0, 1)
    watch = watch_list(fleet.positions, modes, shop.review.build_hours, seed=shop.review.seed)
    watch["rated_hours"] = [shop.head_types[name].rated_hours for name in watch["head_type"]]
    tell("listing heads to watch", 1, 1)
    return strata, stock, watch


def _strata(lives: pd.DataFrame, fleet: Fleet, shop: Shop, tell: Progress) -> tuple[Stratum, ...]:
    keys = list(_stratum_keys(lives, fleet, shop))
    strata = []
    for done, (head_type, role) in enumerate(keys):
        tell("judging ratings", done, len(keys))
        strata.append(_stratum(head_type, role, lives, fleet, shop))
    tell("judging ratings", len(keys), len(keys))
    return tuple(strata)


def _stratum_keys(lives: pd.DataFrame, fleet: Fleet, shop: Shop) -> Iterator[tuple[str, str]]:
    """Strata with a life or a position, head types in the settings' order, then by role."""
    seen = set(zip(lives["head_type"], lives["role"], strict=True))
    seen |= set(zip(fleet.positions["head_type"], fleet.positions["role"], strict=True))
    for head_type in shop.head_types:
        yield from sorted(key for key in seen if key[0] == head_type)


def _stratum(head_type: str, role: str, lives: pd.DataFrame, fleet: Fleet, shop: Shop) -> Stratum:
    own = lives[(lives["head_type"] == head_type) & (lives["role"] == role)]
    rated = shop.head_types[head_type].rated_hours
    primary = shop.review.primary_mode
    modes = fit_modes(own, rated, primary)
    life = modes.get(primary)
    counts = own["mode"].value_counts()
    failures = {mode: int(counts.get(mode, 0)) for mode in modes or [primary]}
    return Stratum(
        head_type=head_type,
        role=role,
        rated_hours=rated,
        lives=own.reset_index(drop=True),
        modes=modes,
        life=life,
        verdict=None
        if life is None
        else judge_rating(life, rated, shop.claim.share, shop.claim.confidence),
        heads=len(own),
        failures=failures,
        in_service=len(fleet.of(head_type, role)),
        note=_stratum_note(life, failures[primary], primary),
    )


def _stratum_note(life: Life | None, failures: int, primary: str) -> str:
    if life is None:
        return "These heads have not run yet; there is nothing to judge."
    if failures == 0:
        return f"No head has failed by {primary} yet: the bounds rest on the hours run alone."
    if failures < FEW_FAILURES:
        count = "One head has" if failures == 1 else f"{failures} heads have"
        return (
            f"{count} failed by {primary}: how the risk grows with age is assumed, not learned, "
            "so the bounds are wide."
        )
    return ""
