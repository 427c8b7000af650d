"""From a simulated record to a forecast of the next quarter and a stock, as a shop would get it.

Lives learned from the installations, printers with their heads' present ages, and what is known
of hours and policy; through the product's own engine.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from headlife.decisions.spares.stock import plan_stock
from headlife.futures.distribution import Demand
from headlife.futures.draws import DrawnLives, ModeDraws
from headlife.futures.in_turn import LivesInTurn
from headlife.futures.life_uncertainty import Heads
from headlife.futures.position import HeadKind, Position
from headlife.futures.visits import FAILED, JOINED, PLANNED, Printer, count_swaps
from headlife.life.evidence import Evidence
from headlife.life.lots import lot_lives
from headlife.life.posterior import fit_life
from headlife.numbers import Floats
from headlife.shop.policy import Policy
from headlife.units import WEEKS_PER_QUARTER
from studies.changing_shops.shops import RATED_HOURS, Installations

DRAWS: Final = 2000
SERVICE_LEVEL: Final = 0.95
_PLACE: Final = ("Plain", "model", "")


@dataclass(frozen=True)
class Known:
    """What is known, or thought, of hours and policy."""

    hours_per_week: Floats
    """Of every printer, (printers,) [h/week]."""
    spread: Floats
    """Spread of each one's own hours over the quarter, as a share of them, (printers,) [-]."""
    shared: Floats | None = None
    """Factor that all share, (draws,) [-]; None: 1."""
    policy: Policy = Policy()  # noqa: RUF009
    """When heads are swapped."""
    lag: float = 0.0
    """Mean print hours from when one is due until it is swapped [h]."""


@dataclass(frozen=True)
class Forecast:
    """The next quarter, as forecast."""

    level: int
    """Stock that meets the service level [heads]."""
    interval: tuple[int, int]
    """The 95 % interval of the heads used up [heads]."""
    demand: Demand
    """The heads used up."""


def present_ages(rows: Installations) -> Floats:
    """Age of the head in every position, (printers, 2) [h]."""
    here = rows.in_service
    ages = np.zeros((int(rows.printer.max()) + 1, 2))
    ages[rows.printer[here], rows.position[here]] = rows.hours_out[here]
    return ages


def forecast(
    rows: Installations,
    known: Known,
    rng: np.random.Generator,
    lots: np.ndarray | None = None,
) -> Forecast:
    """Forecast the next quarter of a shop from its record.

    Parameters
    ----------
    rows : Installations
        The record.
    known : Known
        Of hours and policy.
    rng : numpy.random.Generator
        Source of random numbers.
    lots : array of int, optional
        The lot of every installation; the last one is bought now. None: one life for all.

    Returns
    -------
    Forecast
    """
    ages = present_ages(rows)
    drawn = drawn_lives(rows, rng, lots)
    kinds = [HeadKind(LivesInTurn(DrawnLives(own), DrawnLives(drawn[-1]))) for own in drawn]
    kinds = [replace(kind, policy=known.policy, lag=known.lag) for kind in kinds]
    here = np.zeros(ages.shape, int)
    if lots is not None:
        here[rows.printer[rows.in_service], rows.position[rows.in_service]] = lots[rows.in_service]
    weeks = int(WEEKS_PER_QUARTER)
    printers = [
        Printer(
            tuple(
                Position(np.full((1, 1), age, np.float32), [kinds[lot]], places=[_PLACE])
                for age, lot in zip(both, of_both, strict=True)
            ),
            np.full(weeks, hours),
            float(spread),
            None if known.shared is None else known.shared.astype(np.float32),
        )
        for both, of_both, hours, spread in zip(
            ages, here, known.hours_per_week, known.spread, strict=True
        )
    ]
    swaps = count_swaps(printers, DRAWS, rng)[_PLACE]
    planned = swaps[PLANNED] + swaps[JOINED]
    heads = (swaps[FAILED] + planned).sum(axis=1)
    hours = np.repeat(known.hours_per_week, 2) * WEEKS_PER_QUARTER
    swap_age = known.policy.comes_out_at
    demand = Demand.from_counts(
        heads,
        swaps[FAILED].mean(axis=0),
        planned.mean(axis=0),
        WEEKS_PER_QUARTER,
        [
            Heads(
                own, ages[here == lot], hours[(here == lot).ravel()], swap_age, [(1.0, drawn[-1])]
            )
            for lot, own in enumerate(drawn)
            if (here == lot).any()
        ],
    )
    low, high = demand.interval(SERVICE_LEVEL)
    return Forecast(plan_stock(demand, SERVICE_LEVEL).stock_level, (low, high), demand)


def drawn_lives(
    rows: Installations, rng: np.random.Generator, lots: np.ndarray | None
) -> list[list[ModeDraws]]:
    """Draw the life of every lot, or one for all.

    Parameters
    ----------
    rows : Installations
        The record.
    rng : numpy.random.Generator
        Source of random numbers.
    lots : array of int or None
        The lot of every installation; None: one life for all.

    Returns
    -------
    list of list of ModeDraws
        The failure modes of every lot.
    """
    ran = rows.hours_out > rows.hours_in

    def evidence(of_lot: np.ndarray) -> Evidence:
        own = ran & of_lot
        return Evidence.from_lives(
            rows.hours_in[own], rows.hours_out[own], rows.failed[own], reference_hours=RATED_HOURS
        )

    if lots is None:
        return [[ModeDraws.of_life(fit_life(evidence(ran)), DRAWS, rng)]]
    apart = lot_lives([evidence(lots == lot) for lot in range(int(lots.max()) + 1)], "forecast")
    node, shared = rng.random(DRAWS), rng.standard_normal(DRAWS)
    return [
        [ModeDraws.from_parameters(*lot.at(node, shared, rng.standard_normal(DRAWS)))]
        for lot in apart
    ]
