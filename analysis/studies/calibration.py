"""Does a stock level called 95 % serve 95 %? Simulated shops whose true life is known.

Every shop has 28 positions, a record made by a known life and a quarter ahead. It is forecast
and stocked as a real one; the true chance that the stock suffices is then computed exactly,
without another simulation. In the cases F and G every tenth head is weak from new, which the
model does not know; H to J were not looked at when the prior of forecasts was first chosen; in K
all heads come to their wear together. Run it with

    python -m studies.calibration --shops 500 [--cases ABCDEFGHIJK]

It never uses a real record, and its numbers are about the method, not about any shop.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.spares.stock import plan_stock
from headlife.futures.convolution import exact_demand
from headlife.futures.demand import KnownLife, forecast_demand
from headlife.futures.distribution import Demand
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from headlife.numbers import Floats
from headlife.seeds import generator
from headlife.units import WEEKS_PER_QUARTER
from studies.weak_heads import PartlyWeak

if TYPE_CHECKING:
    from concurrent.futures import Executor

TRUE_LIFE: Final = KnownLife(shape=2.2, scale=1800.0)
POSITIONS: Final = 28
RATED_HOURS: Final = 1500.0
SERVICE_LEVEL: Final = 0.95
INTERVALS: Final = (0.80, 0.95)
# A shop served in fewer quarters than this would rightly say that it was promised more.
POOR_SERVICE: Final = 0.90
DRAWS: Final = 8000
TRUTH_GRID: Final = 32


@dataclass(frozen=True)
class Case:
    """A kind of shop."""

    name: str
    """Letter it is called by."""
    weeks: float
    """Length of the record [weeks]."""
    hours_per_week: float
    """Print hours of every position a week [h]."""
    staggered: bool
    """Whether positions started at any time within the record, or all at its beginning."""
    record: str
    """What is on record, in words."""
    weak: float = 0.0
    """Share of heads that are weak from new [-]."""
    weak_mean: float = 450.0
    """Mean life of those [h]."""

    def life(self, good: KnownLife) -> PartlyWeak:
        """Give the true life, from that of a good head."""
        return PartlyWeak(good.shape, good.scale, self.weak, self.weak_mean)


CASES: Final = (
    Case("A", 32.0, 45.0, True, "about 5 failures, starts spread over the last 32 weeks"),
    Case("B", 100.0, 45.0, True, "about 30 failures, starts spread over the last 100 weeks"),
    Case("C", 104.0, 45.0, False, "about 72 failures in two full years"),
    Case("D", 104.0, 8.2, False, "about 5 failures in two full years at 8.2 h a week"),
    Case("E", 104.0, 22.4, False, "about 30 failures in two full years at 22.4 h a week"),
)
WEAK_CASES: Final = (
    Case("F", 32.0, 45.0, True, "as A, one head in ten weak: about 7 failures", 0.10),
    Case("G", 104.0, 8.2, False, "as D, one head in ten weak: about 7 failures", 0.10),
)
HELD_OUT: Final = (
    Case("H", 40.0, 35.0, True, "one head in eight weak, 250 h: about 8 failures", 0.125, 250.0),
    Case("I", 60.0, 15.0, False, "one head in five weak, 300 h: about 12 failures", 0.20, 300.0),
    Case("J", 26.0, 60.0, True, "no head weak, 60 h a week: about 6 failures"),
)
# All heads come to their wear together, and the early failures of the weak ones have made the shape
# look too low by then.
HARD: Final = (
    Case("K", 31.0, 45.0, False, "all put in on one day, one head in ten weak: 16 failures", 0.10),
)
EVERY: Final = CASES + WEAK_CASES + HELD_OUT + HARD


@dataclass(frozen=True)
class SimulatedShop:
    """A record made by a known life."""

    exit_hours: Floats
    """Ages at which lives ended or are now [h]."""
    failed: npt.NDArray[np.bool_]
    """True where a life ended."""
    ages: Floats
    """Present age of the head in every position [h]."""


@dataclass(frozen=True)
class Outcome:
    """What became of one simulated shop."""

    failures: int
    """Failures on record [heads]."""
    stock_level: int
    """Stock planned from the record [heads]."""
    full_knowledge: int
    """Stock that someone who knows the true life would plan [heads]."""
    service: float
    """True probability that the planned stock suffices [-]."""
    claimed: tuple[float, ...]
    """Probability that the forecast itself gives its intervals [-]."""
    below: tuple[float, ...]
    """True probability of a demand below each forecast interval [-]."""
    above: tuple[float, ...]
    """True probability of a demand above each forecast interval [-]."""
    at_ends: tuple[float, ...]
    """True probability of a demand equal to an end of each forecast interval [-]."""


@dataclass(frozen=True)
class Calibration:
    """What a case of simulated shops says about the promise."""

    case: Case
    """The kind of shop."""
    shops: int
    """Shops simulated [-]."""
    failures: float
    """Mean failures on record [heads]."""
    service: float
    """Mean true service [-]."""
    service_error: float
    """Standard error of `service` over shops [-]."""
    poor: float
    """Share of shops served less than 90 % [-]."""
    stock_level: float
    """Mean stock planned [heads]."""
    surplus: float
    """Mean stock above what full knowledge would plan [heads]."""
    claimed: tuple[float, ...]
    """Mean probability that forecasts give their own intervals: with whole heads as near to
    nominal as can be, above or below [-]."""
    covered: tuple[float, ...]
    """Mean true probability inside the forecast intervals, ends included [-]."""
    inside: tuple[float, ...]
    """Mean true probability inside the forecast intervals, ends left out [-]."""
    below: tuple[float, ...]
    """Mean true probability below the forecast intervals [-]."""
    above: tuple[float, ...]
    """Mean true probability above the forecast intervals [-]."""


def simulate_shop(
    case: Case, rng: np.random.Generator, life: KnownLife = TRUE_LIFE, positions: int = POSITIONS
) -> SimulatedShop:
    """Make the record of a shop that runs every head to failure.

    Parameters
    ----------
    case : Case
        The kind of shop.
    rng : numpy.random.Generator
        Source of random numbers.
    life : KnownLife
        The true life of a good head.
    positions : int
        Positions of the shop [-].

    Returns
    -------
    SimulatedShop
    """
    hours = case.weeks * case.hours_per_week
    left = hours * rng.random(positions) if case.staggered else np.full(positions, hours)
    ended: list[Floats] = []
    ages = np.zeros(positions)
    running = np.arange(positions)
    while running.size:
        lives = case.life(life).lives(running.size, rng)
        over = lives < left[running]
        ages[running[~over]] = left[running[~over]]
        ended.append(lives[over])
        left[running[over]] -= lives[over]
        running = running[over]
    failures = np.concatenate(ended)
    return SimulatedShop(
        exit_hours=np.concatenate([failures, ages]),
        failed=np.arange(failures.size + positions) < failures.size,
        ages=ages,
    )


def stock_shop(
    case: Case,
    shop: SimulatedShop,
    rng: np.random.Generator,
    draws: int = DRAWS,
    life: KnownLife = TRUE_LIFE,
) -> Outcome:
    """Plan the next quarter of a simulated shop, and look up how well that serves.

    Parameters
    ----------
    case : Case
        The kind of shop.
    shop : SimulatedShop
        Its record.
    rng : numpy.random.Generator
        Source of random numbers.
    draws : int
        Draws from the posterior [-].
    life : KnownLife
        The true life.

    Returns
    -------
    Outcome
    """
    learned = fit_life(
        Evidence.from_lives(0.0, shop.exit_hours, shop.failed, reference_hours=RATED_HOURS)
    )
    hours, weeks = case.hours_per_week, WEEKS_PER_QUARTER
    forecast = forecast_demand(learned, shop.ages, hours, weeks, draws=draws, seed=rng)
    truth = exact_demand(case.life(life), shop.ages, hours, weeks, grid=TRUTH_GRID)
    level = plan_stock(forecast, SERVICE_LEVEL).stock_level
    ends = [forecast.interval(confidence) for confidence in INTERVALS]
    return Outcome(
        failures=int(shop.failed.sum()),
        stock_level=level,
        full_knowledge=plan_stock(truth, SERVICE_LEVEL).stock_level,
        service=_at_most(truth, level),
        claimed=tuple(forecast.chance_of(low, high) for low, high in ends),
        below=tuple(_at_most(truth, low - 1) for low, _ in ends),
        above=tuple(1.0 - _at_most(truth, high) for _, high in ends),
        at_ends=tuple(sum(_exactly(truth, end) for end in {low, high}) for low, high in ends),
    )


def calibrate(
    case: Case,
    shops: int = 500,
    draws: int = DRAWS,
    seed: int = 1,
    executor: Executor | None = None,
    life: KnownLife = TRUE_LIFE,
    positions: int = POSITIONS,
) -> Calibration:
    """Simulate shops of one kind and average what their plans really serve.

    Parameters
    ----------
    case : Case
        The kind of shop.
    shops : int
        Shops to simulate [-].
    draws : int
        Draws from each posterior [-].
    seed : int
        Same seed, same shops.
    executor : concurrent.futures.Executor, optional
        Works on the shops; the answer is the same with any, or without.
    life : KnownLife
        The true life.
    positions : int
        Positions of each shop [-].

    Returns
    -------
    Calibration
    """
    one_shop = partial(_outcome, case, draws, seed, life, positions)
    outcomes = list((map if executor is None else executor.map)(one_shop, range(shops)))
    service = np.array([outcome.service for outcome in outcomes])
    levels = np.array([outcome.stock_level for outcome in outcomes])
    full = np.array([outcome.full_knowledge for outcome in outcomes])
    claimed, below, above, at_ends = (
        np.mean([getattr(outcome, name) for outcome in outcomes], axis=0)
        for name in ("claimed", "below", "above", "at_ends")
    )
    covered = 1.0 - below - above
    return Calibration(
        case=case,
        shops=shops,
        failures=float(np.mean([outcome.failures for outcome in outcomes])),
        service=float(service.mean()),
        service_error=float(service.std() / np.sqrt(shops)),
        poor=float(np.mean(service < POOR_SERVICE)),
        stock_level=float(levels.mean()),
        surplus=float((levels - full).mean()),
        claimed=tuple(claimed),
        covered=tuple(covered),
        inside=tuple(covered - at_ends),
        below=tuple(below),
        above=tuple(above),
    )


def _outcome(
    case: Case, draws: int, seed: int, life: KnownLife, positions: int, number: int
) -> Outcome:
    """Simulate and stock one shop; each has random numbers of its own."""
    rng = generator(seed, "calibration", case.name, str(number))
    return stock_shop(case, simulate_shop(case, rng, life, positions), rng, draws, life)


def report(results: Iterable[Calibration]) -> str:
    """Write the results as a table of text."""
    lines = ["case  failures  service         under .90  stock  above full knowledge"]
    results = list(results)
    for result in results:
        lines.append(
            f"{result.case.name:4}  {result.failures:8.1f}  {result.service:.3f} +- "
            f"{result.service_error:.3f}  {result.poor:9.3f}  {result.stock_level:5.2f}  "
            f"{result.surplus:20.2f}"
        )
    lines.append("case  interval  said   true   ends left out  below  above")
    for result in results:
        rows = zip(
            INTERVALS,
            result.claimed,
            result.covered,
            result.inside,
            result.below,
            result.above,
            strict=True,
        )
        for level, claimed, covered, inside, below, above in rows:
            lines.append(
                f"{result.case.name:4}  {level:8.0%}  {claimed:.3f}  {covered:.3f}  "
                f"{inside:13.3f}  {below:.3f}  {above:.3f}"
            )
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the study from the command line."""
    parser = argparse.ArgumentParser(
        prog="python -m studies.calibration",
        description="Does a stock level called 95 % serve 95 %?",
    )
    parser.add_argument("--shops", type=int, default=500, help="shops of each kind")
    parser.add_argument("--cases", default="ABCDEFG", help="kinds of shop, default ABCDEFG")
    parser.add_argument("--draws", type=int, default=DRAWS, help="draws from each posterior")
    parser.add_argument("--seed", type=int, default=1, help="seed of the random numbers")
    parser.add_argument("--shape", type=float, default=TRUE_LIFE.shape, help="true shape [-]")
    parser.add_argument("--positions", type=int, default=POSITIONS, help="positions of a shop")
    chosen = parser.parse_args(arguments)
    life = replace(TRUE_LIFE, shape=chosen.shape)
    cases = [case for case in EVERY if case.name in chosen.cases]
    for case in cases:
        print(f"{case.name}: {case.record}", file=sys.stderr)
    print(
        report(
            calibrate(
                case,
                chosen.shops,
                chosen.draws,
                chosen.seed,
                life=life,
                positions=chosen.positions,
            )
            for case in cases
        )
    )
    return 0


def _at_most(demand: Demand, heads: int) -> float:
    if heads < 0:
        return 0.0
    return float(demand.cdf[min(heads, demand.cdf.size - 1)])


def _exactly(demand: Demand, heads: int) -> float:
    return float(demand.pmf[heads]) if heads < demand.pmf.size else 0.0


if __name__ == "__main__":
    sys.exit(main())
