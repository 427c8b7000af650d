"""Lead times that vary: does a stock serve that was planned with one figure, or with what is known?

Shops of calibration case B (about 30 failures), whose orders take 6 weeks by a gamma distribution
with a coefficient of variation of .4, or 6 weeks and once in ten 16. Levels are those of
`stock_answers`: with the usual 6 weeks stated as one figure, with the true mean and spread stated,
and with the lead times of twelve past deliveries. The true service is counted over lead times and
lives. Nothing was chosen with these shops.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

import headlife as hl
from headlife.decisions.spares.levels import stock_answers
from headlife.fleet.state import Fleet
from headlife.life.evidence import Evidence
from headlife.life.groups import Group
from headlife.life.posterior import fit_life
from headlife.numbers import Floats
from headlife.seeds import generator
from headlife.shop import Shop
from studies.calibration import CASES, POSITIONS, RATED_HOURS, TRUE_LIFE, simulate_shop
from studies.changing_shops.shops import used_within

CASE: Final = next(case for case in CASES if case.name == "B")
USUAL_WEEKS: Final = 6.0
LATE_WEEKS: Final = 16.0
LATE: Final = 0.10
VARIATION: Final = 0.4
REVIEW_WEEKS: Final = 13.0
PAST: Final = 12  # deliveries on record
FUTURES: Final = 4000
POOR: Final = 0.90
START: Final = pd.Timestamp("2026-01-05")
SETTINGS: Final = f"""
name = "Simulated"
[policy]
swap_at = "failure"
[reasons.failures]
"worn" = "wear"
[head_types."A"]
rated_hours = {RATED_HOURS:g}
[spares]
lead_time_weeks = {USUAL_WEEKS:g}
review_weeks = {REVIEW_WEEKS:g}
use_shelf = false
[review]
draws = 4000
"""


def _gamma(rng: np.random.Generator, size: int) -> Floats:
    return USUAL_WEEKS * VARIATION**2 * rng.standard_gamma(VARIATION**-2, size)


def _late_now_and_then(rng: np.random.Generator, size: int) -> Floats:
    return np.where(rng.random(size) < LATE, LATE_WEEKS, USUAL_WEEKS)


_LATE_MEAN: Final = USUAL_WEEKS + LATE * (LATE_WEEKS - USUAL_WEEKS)
# How lead times come about, and what a shop that knows them well states: mean and deviation.
LEADS: Final[dict[str, tuple[Callable[[np.random.Generator, int], Floats], float, float]]] = {
    f"CV {VARIATION:g}": (_gamma, USUAL_WEEKS, VARIATION * USUAL_WEEKS),
    f"{LATE:.0%} at {LATE_WEEKS:g} weeks": (
        _late_now_and_then,
        _LATE_MEAN,
        (LATE_WEEKS - USUAL_WEEKS) * np.sqrt(LATE * (1.0 - LATE)),
    ),
    "always as stated": (lambda _, size: np.full(size, USUAL_WEEKS), USUAL_WEEKS, 0.0),
}


def served(leads: str, shops: int, seed: int) -> pd.DataFrame:
    """Count the true service of stocks planned with what is known of lead times, a row a shop.

    Returns
    -------
    DataFrame
        `one figure`, `mean and spread`, `past deliveries`: service [-].
    """
    draw, mean, spread = LEADS[leads]
    base = _settings()
    rows = []
    for number in range(shops):
        rng = generator(seed, "deliveries", leads, str(number))
        shop = simulate_shop(CASE, rng)
        life = fit_life(
            Evidence.from_lives(0.0, shop.exit_hours, shop.failed, reference_hours=RATED_HOURS)
        )
        lives = {Group("A", "model"): [life]}
        ages = _fleet(shop.ages)
        weeks = draw(rng, FUTURES) + REVIEW_WEEKS
        hours = np.repeat(weeks[:, None] * CASE.hours_per_week, POSITIONS, axis=1)
        used = used_within(hours, shop.ages, TRUE_LIFE.shape, TRUE_LIFE.scale, rng).sum(axis=1)
        known = {
            "one figure": {},
            "mean and spread": {"lead_time_weeks": mean, "lead_time_sd_weeks": spread},
            "past deliveries": {"past_lead_times_weeks": draw(rng, PAST).tolist()},
        }
        row = {}
        for name, more in known.items():
            (answer,) = stock_answers(ages, lives, base.with_(spares=more), START)
            row[name] = float((used <= answer.plan.stock_level).mean())
        rows.append(row)
    return pd.DataFrame(rows)


def _settings() -> Shop:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shop.toml"
        path.write_text(SETTINGS, encoding="utf-8")
        shop: Shop = hl.read_shop(path)
        return shop


def _fleet(ages: Floats) -> Fleet:
    names = [f"P{number:02d}" for number in range(POSITIONS)]
    positions = pd.DataFrame(
        {
            "head": [f"H{name}" for name in names],
            "head_type": "A",
            "role": "model",
            "site": "",
            "printer": names,
            "position": "left",
            "age_hours": ages,
            "weekly_hours": CASE.hours_per_week,
            "share_of_hours": 1.0,
        }
    )
    shelf = positions.head(0)[["head", "head_type", "role", "site", "age_hours"]]
    return Fleet(positions, shelf)


def report(shops: int, seed: int, held_out: bool) -> str:
    """Write the row of the table; all shops are kept aside, whatever `held_out` says."""
    found = {}
    for leads in LEADS:
        service = served(leads, shops, seed)
        for name in service:
            found[leads, name] = {
                "service": service[name].mean(),
                "under .90": (service[name] < POOR).mean(),
            }
    table = pd.DataFrame(found).T
    return f"{shops} shops of each kind, {FUTURES} true futures each\n{table.round(3).to_string()}"
