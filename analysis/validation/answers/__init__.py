"""What does headlife say to every case from outside? One function per case, one registry.

The tests in `tests/published/` and the validation notebook read the same answers, so the page a
sceptic sees is the page that is tested. Every function takes a `Case` and returns our numbers
under the names of its expected values.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import pandas as pd

from validation import cases
from validation.answers import fits, intervals, looks, plans, records, renewals, stocks

Answer = Callable[[cases.Case], dict[str, Any]]

ANSWERS: Final[dict[str, Answer]] = {
    "aml_maintenance": records.aml_maintenance,
    "ball_bearings": fits.ball_bearings,
    "bearing_cages": fits.bearing_cages,
    "binomial_limits": plans.binomial_limits,
    "circuit_breakers": fits.circuit_breakers,
    "device_g": fits.device_g,
    "diabetes_intervals": intervals.diabetes_intervals,
    "late_entries": records.late_entries,
    "mgus_first_event": records.mgus_first_event,
    "mtbf_limits": plans.mtbf_limits,
    "mtbf_plans": plans.mtbf_plans,
    "nist_weibull": fits.nist_weibull,
    "renewal_circuit_breaker": renewals.circuit_breaker,
    "renewal_closed_forms": renewals.closed_forms,
    "renewal_weibull": renewals.weibull_tables,
    "replacement_uniform": renewals.uniform_replacement,
    "repeated_looks": looks.repeated_looks,
    "residual_life": fits.residual_life,
    "rocket_motors": intervals.rocket_motors,
    "shock_absorbers": fits.shock_absorbers,
    "spares_backorders": stocks.backorders,
    "spares_base_stock": stocks.base_stock,
    "spares_lamps": stocks.lamps,
    "success_run_plans": plans.success_run_plans,
    "trade_habits": plans.trade_habits,
}

NOT_ANSWERED: Final[dict[tuple[str, str], str]] = {
    ("mgus_first_event", "se_female_pcm"): "headlife states no error of a mean time in a state",
    ("mgus_first_event", "se_male_pcm"): "headlife states no error of a mean time in a state",
}
"""Expected values that headlife gives no answer to, and why."""


def compare(name: str) -> pd.DataFrame:
    """Compare one case with our answers.

    Returns
    -------
    DataFrame
        `case`, `value`, `origin`, `expected`, `ours`, `difference` (largest, absolute),
        `agrees` (within the printed digits); one row per expected value.
    """
    case = cases.load(name)
    ours = ANSWERS[name](case)
    rows = [
        {
            "case": name,
            "value": key,
            "origin": item.origin,
            "expected": item.value,
            "ours": ours[key],
            "difference": item.difference(ours[key]),
            "agrees": item.agrees(ours[key]),
        }
        for key, item in case.expected.items()
        if key in ours
    ]
    return pd.DataFrame(rows)
