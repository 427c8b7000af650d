"""All printers busier or quieter together, and printing that grows: does the stock serve?

The five kinds of shop of `studies.calibration` (record short or long, much or little printing),
run to failure, with print hours that vary. The next quarter is forecast from one figure of print
hours a week and each printer's own spread, and from the workload learned; the true service is
counted over many true quarters.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.fleet.past_hours import learn_workload
from headlife.fleet.usage import usage_variation, variation_sums
from headlife.records.usage import learned_hours, usage_sums
from headlife.seeds import generator
from headlife.units import WEEKS_PER_QUARTER
from studies.calibration import CASES
from studies.changing_shops.ahead import DRAWS, Known, forecast, present_ages
from studies.changing_shops.shops import (
    Installations,
    Truth,
    next_quarter_at_once,
    record,
)

# True quarters that each shop is counted over: so many that hardly one served 93 % is counted as
# one under 90 % by luck (of 60 quarters it would be, one time in eight).
FUTURES: Final = 2000
POOR: Final = 0.90
# Looked at when the priors of `fleet.past_hours` were chosen.
CHANGES: Final[dict[str, dict[str, Any]]] = {
    "steady": {"common": 0.0, "single": 0.1, "growth": 0.0},
    "all together": {"common": 0.25, "single": 0.1, "growth": 0.0},
    "growing 20 % a year": {"common": 0.0, "single": 0.1, "growth": 0.2},
}
HELD_OUT: Final[dict[str, dict[str, Any]]] = {
    "all together, strongly": {"common": 0.35, "single": 0.2, "growth": 0.0},
    "growing 35 % a year": {"common": 0.1, "single": 0.1, "growth": 0.35},
    "shrinking 20 % a year": {"common": 0.1, "single": 0.2, "growth": -0.2},
}


def one_figure(rows: Installations) -> Known:
    """Hours a week as learned with recent weeks counting more, and each printer's own spread."""
    names = [f"{number:03d}" for number in rows.printer]
    day_in, day_out = rows.day_in.astype(np.int64), rows.day_out.astype(np.int64)
    run = rows.hours_out - rows.hours_in
    used = pd.DataFrame({"printer": names, "role": "", "day_in": day_in, "day_out": day_out})
    learned = learned_hours(usage_sums(used.assign(run=run), int(day_out.max())), {})
    epoch = np.datetime64("2020-01-01")
    stints = pd.DataFrame(
        {
            "printer": names,
            "role": "",
            "date_in": epoch + day_in.astype("timedelta64[D]"),
            "date_out": epoch + day_out.astype("timedelta64[D]"),
            "hours_in": rows.hours_in,
            "hours_out": rows.hours_out,
        }
    )
    week_sd, weeks = usage_variation(variation_sums(stints), {})
    printers = sorted(learned)
    spread = [
        week_sd * np.sqrt(1.0 / WEEKS_PER_QUARTER + 1.0 / max(min(weeks[name], 40.0), 1.0))
        for name in printers
    ]
    return Known(np.array([learned[name] for name in printers]), np.array(spread))


def workload(rows: Installations, rng: np.random.Generator) -> Known:
    """Hours a week with what printers share, what each does beside it, and their growth."""
    names = np.array([f"{number:03d}" for number in rows.printer])
    learned = learn_workload(names, rows.day_in, rows.day_out, rows.hours_out - rows.hours_in)
    ahead = learned.ahead(WEEKS_PER_QUARTER, DRAWS, rng)
    # A printer with nothing long enough on record yet is taken as a middling one.
    known = dict(
        zip(ahead.printers, zip(ahead.hours_per_week, ahead.spread, strict=True), strict=True)
    )
    middling = (float(np.median(ahead.hours_per_week)), 0.5)
    both = [known.get(name, middling) for name in np.unique(names)]
    return Known(np.array([b[0] for b in both]), np.array([b[1] for b in both]), ahead.shared)


def serve(case: str, change: dict[str, Any], shops: int, seed: int) -> pd.DataFrame:
    """Count the true service of the stocks planned in both ways, one row per shop.

    Returns
    -------
    DataFrame
        `one_figure, workload` (service [-]), `level_one, level_workload` [heads].
    """
    kind = next(one for one in CASES if one.name == case)
    truth = Truth(weekly_hours=kind.hours_per_week, staggered=kind.staggered, **change)
    rows = []
    for number in range(shops):
        rng = generator(seed, "workload", case, repr(sorted(change.items())), str(number))
        known = record(truth, kind.weeks, np.inf, rng)
        used = next_quarter_at_once(truth, present_ages(known), FUTURES, rng)
        levels = [
            forecast(known, ways, rng).level for ways in (one_figure(known), workload(known, rng))
        ]
        rows.append([*(float((used <= level).mean()) for level in levels), *levels])
    return pd.DataFrame(rows, columns=["one_figure", "workload", "level_one", "level_workload"])


def report(shops: int, seed: int, held_out: bool) -> str:
    """Write the rows of the table."""
    lines = [f"{shops} shops of each kind, {FUTURES} true quarters each"]
    for name, change in (HELD_OUT if held_out else CHANGES).items():
        found = {}
        for case in CASES:
            served = serve(case.name, change, shops, seed)
            found[case.name] = {
                "one figure": served["one_figure"].mean(),
                "under .90": (served["one_figure"] < POOR).mean(),
                "stock": served["level_one"].mean(),
                "workload": served["workload"].mean(),
                "under .90 ": (served["workload"] < POOR).mean(),
                "stock ": served["level_workload"].mean(),
            }
        lines += [name, pd.DataFrame(found).T.round(3).to_string(), ""]
    return "\n".join(lines)
