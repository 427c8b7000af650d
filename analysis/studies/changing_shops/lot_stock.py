"""Lots that differ in life, a year or two after the newer one came: does the stock serve?

The heads bought first live as they live, those put in since the change longer, shorter or alike.
The next quarter is forecast with one life for all heads, and with the life of each lot as partial
pooling leaves it: the heads in place by their own lot's, new heads by the newer one's. The true
service is counted over many true quarters, and the chance of every head in place to finish a build
is held against its true one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from headlife.futures.draws import ModeDraws, hazard_ahead
from headlife.seeds import generator
from headlife.shop.policy import Policy
from headlife.units import DAYS_PER_WEEK
from studies.changing_shops.ahead import Forecast, Known, drawn_lives, forecast, present_ages
from studies.changing_shops.shops import RATED_HOURS, Truth, next_quarter_at_once, record

FUTURES: Final = 1000
POOR: Final = 0.90
WEEKS: Final = 200.0
RANGE: Final = 0.80
BUILD: Final = 96.0  # hours of the build that heads in place are to finish [h]
BOUND: Final = 0.05  # chance beyond each bound on that
LIVES: Final = {"30 % shorter": 0.7, "alike": 1.0, "30 % longer": 1.3}
WAYS: Final = ("one life", "by lot")


@dataclass(frozen=True)
class Design:
    """A shop with two lots."""

    since: float
    """Weeks since the newer lot came [weeks]."""
    swap_at: float
    """Age at which heads are swapped, in ratings [-]; infinite: run to failure."""
    printers: int = 8
    """Printers, two positions each [-]."""
    scale: float = 1.4
    """Scale of the older lot's lives, in ratings [-]."""
    shape: float = 2.3
    """Weibull shape of both [-]."""
    weekly_hours: float = 45.0
    """Print hours of every printer a week [h]."""

    def __str__(self) -> str:
        until = "to failure" if np.isinf(self.swap_at) else f"to {self.swap_at:g} ratings"
        return (
            f"{self.printers} printers of {self.weekly_hours:g} h a week, {until}, scale "
            f"{self.scale:g} ratings, shape {self.shape:g}, newer lot for {self.since:g} weeks"
        )


# Looked at when the prior of the lots' forecasts was chosen.
DESIGNS: Final = (
    Design(52.0, 1.0),
    Design(104.0, 1.0),
    Design(52.0, np.inf),
    Design(26.0, np.inf),
)
HELD_OUT: Final = (
    Design(78.0, 1.0, printers=14, scale=1.2, shape=3.0),
    Design(52.0, 1.2, printers=6, scale=1.6, shape=1.8),
    Design(104.0, np.inf, printers=4, weekly_hours=20.0),
)


def lot_stock(design: Design, lives: float, shops: int, seed: int) -> pd.DataFrame:
    """Forecast the next quarter of many shops in every way.

    Returns
    -------
    DataFrame
        By way of forecasting: mean `service`, share of shops served `under` .90, mean `stock`
        [heads], how often the 80 % range `holds` beside what it `says` [-], and the mean of the
        forecast over the true one [-]; of the heads in place of the newer lot, how far the chance
        to `finish` a build is above the true one, and how often that lies `below` the lower bound
        and `above` the upper one, 95 % each [-].
    """
    swap_at = design.swap_at * RATED_HOURS
    truth = Truth(
        printers=design.printers,
        weekly_hours=design.weekly_hours,
        shape=design.shape,
        scale=design.scale * RATED_HOURS,
        swap_at=swap_at,
        swap_before=swap_at,
        lot_from=WEEKS - design.since,
        lot_lives=lives,
    )
    known = Known(
        np.full(truth.printers, truth.weekly_hours),
        np.zeros(truth.printers),
        policy=Policy(swap_at),
    )
    found: dict[str, list[tuple[float, ...]]] = {way: [] for way in WAYS}
    for number in range(shops):
        rng = generator(seed, "lot stock", str(design), str(lives), str(number))
        rows = record(truth, WEEKS, np.inf, rng)
        lots = (rows.day_in >= np.round(DAYS_PER_WEEK * truth.lot_from)).astype(int)
        ages, here = present_ages(rows), rows.in_service
        scales = np.full(ages.shape, truth.scale)
        scales[rows.printer[here], rows.position[here]] *= np.where(lots[here] > 0, lives, 1.0)
        later = Truth(**(vars(truth) | {"scale": lives * truth.scale}))
        used = next_quarter_at_once(later, ages, FUTURES, rng, scales)
        for way in WAYS:
            told = None if way == "one life" else lots
            ahead = forecast(rows, known, rng, told)
            newer = ages[rows.printer[here], rows.position[here]][lots[here] > 0]
            drawn = drawn_lives(rows, rng, told)[-1]
            found[way].append(_scored(ahead, used) + _finishing(drawn, newer, later))
    columns = ["service", "under", "stock", "holds", "says", "mean", "finish", "below", "above"]
    return pd.DataFrame({way: np.nanmean(rows, axis=0) for way, rows in found.items()}, columns).T


def _scored(ahead: Forecast, used: np.ndarray) -> tuple[float, ...]:
    service = float((used <= ahead.level).mean())
    low, high = ahead.demand.interval(RANGE)
    holds = float(((used >= low) & (used <= high)).mean())
    mean = ahead.demand.mean / float(used.mean())
    return (
        service,
        float(service < POOR),
        ahead.level,
        holds,
        ahead.demand.chance_of(low, high),
        mean,
    )


def _finishing(drawn: list[ModeDraws], ages: np.ndarray, truth: Truth) -> tuple[float, ...]:
    """Hold the chances of heads of these ages to finish a build against the true ones."""
    if not ages.size:
        return (np.nan,) * 3
    said = np.exp(-hazard_ahead(drawn, ages[:, None], BUILD))
    low, high = np.quantile(said, [BOUND, 1.0 - BOUND], axis=1)
    hazard = ((ages + BUILD) / truth.scale) ** truth.shape - (ages / truth.scale) ** truth.shape
    true = np.exp(-hazard)
    error = float((said.mean(axis=1) - true).mean())
    return error, float((true < low).mean()), float((true > high).mean())


def report(shops: int, seed: int, held_out: bool) -> str:
    """Write the rows of the table."""
    lines = [f"{shops} shops of each kind, {FUTURES} true quarters each; lives of the newer lot"]
    for design in HELD_OUT if held_out else DESIGNS:
        lines.append(str(design))
        for name, lives in LIVES.items():
            lines += [name, lot_stock(design, lives, shops, seed).round(3).to_string()]
        lines.append("")
    return "\n".join(lines)
