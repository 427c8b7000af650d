"""When the page says 95 %, is it 95 %? Simulated records, each judged as a shop would judge it.

Every design draws records from a Weibull life that is known, learns each record's posterior by
the same code as everyone, and counts how often the one-sided 95 % bounds on the reliability at
the rating and on B10 hold the truth. All records count, those without a failure too. A bound
holds the truth exactly where the posterior probability of the truth lies on its side of the
confidence, so no bound is searched for. Run it with

    python -m studies.coverage [--records 2000] [--seed 1] [--held-out] [--prior forecast]

``DESIGNS`` and ``WORN`` were looked at when the prior was chosen, ``HELD_OUT`` and
``WORN_HELD_OUT`` were not.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from headlife.life import weibull
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from headlife.life.prior import PriorName

FloatArray = NDArray[np.float64]
Watch = Literal["common", "staggered", "late entry", "window", "fleet", "worn"]

SCALE_HOURS: Final = 1000.0  # of every simulated life; nothing depends on it
CONFIDENCE: Final = 0.95  # of each one-sided bound
CLAIM: Final = 0.90  # share of heads that shall reach the rating
COVERAGE_COLUMNS: Final = ("R lower", "R upper", "B10 lower", "B10 upper")
_LATEST_ENTRY: Final = 0.6  # of the rating, design "late entry"
_WINDOW_ENTRY, _WINDOW_LENGTH = 0.8, 0.5  # of the rating, design "window"
_WORN: Final = 0.7  # of the rating, design "worn": all come under watch there
_FLEET_RATINGS: Final = 3.0  # length of a fleet's record, in ratings
_FLEET_LIVES: Final = 10  # most heads one position can use up in that time, with room to spare


@dataclass(frozen=True)
class Design:
    """One way in which records come about.

    Attributes
    ----------
    heads
        Heads on record [heads]; printer positions for a fleet.
    shape
        True Weibull shape [-].
    share
        Share [-] of heads that fail by the rating, which is the censoring age.
    watch
        ``common``: all heads watched from new to the rating. ``staggered``: put in at random
        moments of the time one head takes to reach the rating, all looked at on one day, so
        that censoring ages spread evenly from nothing to the rating. ``late entry``: to the
        rating, half of them from new, half from a random age up to 0.6 of it. ``window``: all
        from a random age up to 0.8 of the rating, for half a rating or to the rating. ``worn``:
        all from 0.7 of the rating to the rating, none from new.
        ``fleet``: positions filled at random moments and watched for up to three ratings, each
        head swapped for a new one at failure or at the rating.
    """

    heads: int
    shape: float
    share: float
    watch: Watch = "common"

    @property
    def rating_hours(self) -> float:
        """Age [h] by which the design's share of heads has failed."""
        return float(weibull.life(self.share, self.shape, SCALE_HOURS))

    def __str__(self) -> str:
        return f"{self.heads} heads, shape {self.shape:g}, {self.share:.0%} fail, {self.watch}"


DESIGNS: Final = (
    Design(10, 2.0, 0.6),
    Design(30, 2.0, 0.1),
    Design(30, 2.0, 0.3),
    Design(100, 2.0, 0.1),
    Design(30, 1.0, 0.3, "staggered"),
    Design(60, 3.0, 0.1, "staggered"),
    Design(15, 3.0, 0.9),
    Design(40, 2.0, 0.3, "late entry"),
    Design(60, 3.0, 0.5, "window"),
    Design(12, 2.5, 0.15, "fleet"),
)
# Looked at when the shape power of heads watched late was chosen.
WORN: Final = (
    Design(60, 2.0, 0.3, "worn"),
    Design(60, 2.0, 0.1, "worn"),
    Design(30, 3.0, 0.3, "worn"),
    Design(60, 1.0, 0.3, "worn"),
)
WORN_HELD_OUT: Final = (
    Design(80, 2.2, 0.2, "worn"),
    Design(45, 2.7, 0.25, "worn"),
    Design(35, 1.3, 0.4, "worn"),
)
HELD_OUT: Final = (
    Design(7, 1.5, 0.6),
    Design(12, 1.0, 0.5),
    Design(18, 2.8, 0.7),
    Design(45, 2.2, 0.15),
    Design(70, 4.0, 0.12),
    Design(200, 1.7, 0.03),
    Design(80, 0.9, 0.25, "staggered"),
    Design(25, 3.5, 0.4, "staggered"),
    Design(400, 3.0, 0.05, "staggered"),
    Design(35, 1.4, 0.2, "late entry"),
    Design(50, 2.0, 0.4, "window"),
    Design(9, 2.0, 0.5, "fleet"),
)


@dataclass(frozen=True)
class SimulatedLives:
    """Records of one design; a weight of 0 fills a row that has fewer lives than the longest.

    Attributes
    ----------
    entry_hours, exit_hours
        Ages [h], (records, lives).
    failed
        True where the life ended by failure, (records, lives).
    weights
        1 for a life, 0 for a filler [heads], (records, lives).
    """

    entry_hours: FloatArray
    exit_hours: FloatArray
    failed: NDArray[np.bool_]
    weights: FloatArray

    def evidence(self, record: int, reference_hours: float) -> Evidence:
        """Evidence of one record."""
        some = self.weights[record] > 0
        return Evidence.from_lives(
            self.entry_hours[record, some],
            self.exit_hours[record, some],
            self.failed[record, some],
            reference_hours=reference_hours,
        )


def simulate(design: Design, records: int, rng: np.random.Generator) -> SimulatedLives:
    """Draw records of a design from its true life."""
    if design.watch == "fleet":
        return _fleet(design, records, rng)
    size = (records, design.heads)
    rating = design.rating_hours
    entry, censored = np.zeros(size), np.full(size, rating)
    if design.watch == "staggered":
        censored = rating * (1.0 - rng.random(size))
    elif design.watch == "late entry":
        late = np.arange(design.heads) >= design.heads // 2
        entry = late * _LATEST_ENTRY * rating * rng.random(size)
    elif design.watch == "worn":
        entry = entry + _WORN * rating
    elif design.watch == "window":
        entry = _WINDOW_ENTRY * rating * rng.random(size)
        censored = np.minimum(entry + _WINDOW_LENGTH * rating, rating)
    # Heads under watch have lived to their entry: the hazard goes on from there.
    hazard = (entry / SCALE_HOURS) ** design.shape + rng.exponential(size=size)
    life = SCALE_HOURS * hazard ** (1.0 / design.shape)
    return SimulatedLives(entry, np.minimum(life, censored), life <= censored, np.ones(size))


def _fleet(design: Design, records: int, rng: np.random.Generator) -> SimulatedLives:
    rating = design.rating_hours
    size = (records, design.heads, _FLEET_LIVES)
    life = SCALE_HOURS * rng.weibull(design.shape, size)
    used = np.minimum(life, rating)
    start = rating * rng.random(size[:2])[..., None] + np.cumsum(used, axis=2) - used
    left = _FLEET_RATINGS * rating - start
    there = left > 0
    exit_ = np.where(there, np.minimum(used, left), 1.0)
    failed = there & (life <= np.minimum(left, rating))
    flat = (records, design.heads * _FLEET_LIVES)
    return SimulatedLives(
        np.zeros(flat), exit_.reshape(flat), failed.reshape(flat), there.reshape(flat) * 1.0
    )


def coverage(
    design: Design, records: int, seed: int, prior: PriorName = "calibrated"
) -> dict[str, float]:
    """Coverage [-] of the four one-sided bounds, and errors of the verdict at its edge [-].

    At the edge of the claim, a rating which exactly `CLAIM` of heads reach, the probability that
    the claim is true is also the probability that B10 lies beyond that rating: "holds" is wrong
    where the lower bound on B10 is, "falls short" where the upper one is.
    """
    lives = simulate(design, records, np.random.default_rng(seed))
    rating = design.rating_hours
    true_share = 1.0 - design.share
    edge = float(weibull.life(1.0 - CLAIM, design.shape, SCALE_HOURS))
    below = np.empty((records, 2))
    failures = lives.failed.sum(axis=1)
    for record in range(records):
        life = fit_life(lives.evidence(record, rating), prior=prior)
        below[record] = life.probability_reliability_above(
            np.array([true_share, CLAIM]), np.array([rating, edge])
        )
    # probability that the truth is exceeded: the lower bound holds it up to the confidence
    lower, upper = below <= CONFIDENCE, below >= 1.0 - CONFIDENCE
    return {
        "failures": float(failures.mean()),
        "none": float((failures == 0).mean()),
        "R lower": float(lower[:, 0].mean()),
        "R upper": float(upper[:, 0].mean()),
        "B10 lower": float(lower[:, 1].mean()),
        "B10 upper": float(upper[:, 1].mean()),
        "holds wrong": float((below[:, 1] >= CONFIDENCE).mean()),
        "falls short wrong": float((below[:, 1] <= 1.0 - CONFIDENCE).mean()),
    }


def study(
    designs: Sequence[Design] = DESIGNS,
    records: int = 2000,
    seed: int = 1,
    prior: PriorName = "calibrated",
) -> pd.DataFrame:
    """Run the study over many designs; one row each, fractions [-], indexed by the design."""
    rows = [
        coverage(design, records, seed + number, prior) for number, design in enumerate(designs)
    ]
    return pd.DataFrame(rows, index=pd.Index([str(design) for design in designs], name="design"))


def summary(table: pd.DataFrame) -> str:
    """Say in one line how far the coverages of `study` are from what they claim."""
    covered = table[list(COVERAGE_COLUMNS)].to_numpy()
    wrong = table[["holds wrong", "falls short wrong"]].to_numpy()
    return (
        f"Coverage of one-sided {CONFIDENCE:.0%} bounds: {covered.min():.1%} to "
        f"{covered.max():.1%}, on average {100 * np.abs(covered - CONFIDENCE).mean():.2f} points "
        f"from {CONFIDENCE:.0%}; verdict at the edge wrong at most {wrong.max():.1%}."
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Print the coverage table."""
    parser = argparse.ArgumentParser(prog="python -m studies.coverage", description=__doc__)
    parser.add_argument("--records", type=int, default=2000, help="simulated records per design")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--held-out", action="store_true", help="designs not used for choosing")
    parser.add_argument(
        "--prior",
        choices=("calibrated", "forecast"),
        default="calibrated",
        help="that of verdicts and bounds (default), or that of forecasts",
    )
    options = parser.parse_args(arguments)
    designs = HELD_OUT + WORN_HELD_OUT if options.held_out else DESIGNS + WORN
    table = study(designs, options.records, options.seed, options.prior)
    shown = (100 * table).round(1)
    shown["failures"] = table["failures"].round(1)
    print(f"{options.records} records a design; per cent, but mean failures a record")
    print(shown.to_string())
    print(summary(table))


if __name__ == "__main__":
    main()
