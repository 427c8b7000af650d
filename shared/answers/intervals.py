"""Our answers to published fits of lives known only to lie between two readings."""

from __future__ import annotations

from typing import Any

import numpy as np
from shared.cases import Case

import headlife as hl


def rocket_motors(case: Case) -> dict[str, Any]:
    """Three motors found failed at their first inspection, the rest still good."""
    table = case.table
    failed = table["found_failed"].notna()
    evidence = hl.Evidence.from_lives(
        0.0,
        np.where(failed, table["found_failed"], table["last_good"]),
        failed,
        reference_hours=10.0,
        weights=table["count"],
        last_good_hours=np.where(failed, 0.0, np.nan),
    )
    life = hl.fit_life(evidence)
    return {
        "shape": life.shape,
        "scale": life.scale,
        "log_likelihood": life.estimate.log_likelihood if life.estimate else np.nan,
        "failed_by_20": 1.0 - life.reliability(20.0),
    }


def diabetes_intervals(case: Case) -> dict[str, Any]:
    """Onsets known exactly or to an interval, all together."""
    table = case.table
    life = hl.fit_life(
        hl.Evidence.from_lives(
            0.0,
            table["found_failed"],
            True,
            reference_hours=20.0,
            last_good_hours=table["last_good"].fillna(0.0),
        )
    )
    return {
        "shape_pooled": life.shape,
        "scale_pooled": life.scale,
        "log_likelihood_pooled": life.estimate.log_likelihood if life.estimate else np.nan,
    }
