"""Our answers to published survival curves: ties, errors, late entry, competing events.

The steps are those that the report draws (`life.nonparametric.kaplan_meier`).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from headlife.life.nonparametric import kaplan_meier
from validation.answers.normal import POINTS_95
from validation.cases import Case


def failure_steps(exit_: Any, failed: Any, entry: Any = 0.0) -> pd.DataFrame:
    """Keep the steps at which something failed."""
    lives = pd.DataFrame(
        {"entry_hours": np.broadcast_to(np.asarray(entry, float), np.shape(exit_)),
         "exit_hours": np.asarray(exit_, float)}
    )  # fmt: skip
    steps = kaplan_meier(lives, np.asarray(failed, bool))
    return steps[steps["failures"] > 0].reset_index(drop=True)


def greenwood(steps: pd.DataFrame) -> np.ndarray:
    """Compute a survival curve's standard error by Greenwood's formula; NaN where it is 0."""
    dead, at_risk = steps["failures"].to_numpy(float), steps["at_risk"].to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = dead / (at_risk * (at_risk - dead))
        return np.asarray(steps["survival"].to_numpy() * np.sqrt(np.cumsum(terms)))


def cumulative_incidence(exit_: Any, failed: Any, own: Any, times: Any) -> np.ndarray:
    """Share gone by one of several competing events at ``times``, Aalen and Johansen.

    ``sum of S(t-) d/n`` over the steps, exact at ties (lifelines' own estimator breaks ties
    at random, so it serves as a comparison in the tests).
    """
    exit_, own = np.asarray(exit_, float), np.asarray(own, bool)
    steps = failure_steps(exit_, failed)
    hours = steps["hours"].to_numpy()
    before = np.concatenate([[1.0], steps["survival"].to_numpy()[:-1]])
    count = np.array([np.count_nonzero(own & (exit_ == hour)) for hour in hours])
    share = np.cumsum(before * count / steps["at_risk"].to_numpy())
    place = np.searchsorted(hours, np.asarray(times, float), side="right")
    return np.concatenate([[0.0], share])[place]


def aml_maintenance(case: Case) -> dict[str, Any]:
    """Two small groups, with a death and a censoring at one time."""
    kept = failure_steps(case.array("maintained_exit"), case.array("maintained_failed"))
    other = failure_steps(case.array("other_exit"), case.array("other_failed"))
    error = greenwood(kept)
    survival = kept["survival"].to_numpy()
    return {
        "m_time": kept["hours"],
        "m_at_risk": kept["at_risk"],
        "m_surv": survival,
        "m_greenwood_se": error,
        "m_log_ci95_lower": survival * np.exp(-POINTS_95 * error / survival),
        "o_time": other["hours"],
        "o_surv": other["survival"],
        "o_greenwood_se": greenwood(other)[:-1],
        "m_nelson_aalen": np.cumsum(kept["failures"] / kept["at_risk"]),
    }


def late_entries(case: Case) -> dict[str, Any]:
    """Five units, at risk on (entry, exit]."""
    steps = failure_steps(case.array("exit"), case.array("failed"), case.array("entry"))
    return {
        "time": steps["hours"],
        "at_risk": steps["at_risk"],
        "surv": steps["survival"],
        "surv_exact": steps["survival"],
    }


def mgus_first_event(case: Case) -> dict[str, Any]:
    """Malignancy or death, whichever comes first: mean time in each state, and shares."""
    table, horizon = case.table, float(case.data["horizon"])
    answer: dict[str, Any] = {}
    for sex, group in table.groupby("sex"):
        days = np.append(np.unique(group["exit"].to_numpy(float)), horizon)
        days = np.unique(np.concatenate([[0.0], days]))
        spans = np.diff(days)
        rest = np.full(len(spans), 1.0)
        for event in ("pcm", "death"):
            share = _shares(group, event, days[:-1])
            answer[f"rmean_{sex}_{event}"] = float(spans @ share)
            rest -= share
        answer[f"rmean_{sex}_event_free"] = float(spans @ rest)
        answer[f"events_{sex}"] = [int((group["event"] == event).sum()) for event in _EVENTS]
    for event in _EVENTS:
        at = _shares(table, event, [3650.0, 7300.0, 10950.0])
        answer[f"cif_{event}_all_at_3650_7300_10950"] = at
    return answer


_EVENTS = ("pcm", "death")


def _shares(table: pd.DataFrame, event: str, days: Any) -> np.ndarray:
    gone = table["event"].notna()
    return cumulative_incidence(table["exit"], gone, table["event"] == event, days)
