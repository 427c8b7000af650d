"""Our answers to published fits of lives known only to lie between two readings."""

from __future__ import annotations

from typing import Any

import numpy as np

import headlife as hl
from headlife.life.strata import fit_strata
from validation.cases import Case


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
        "log_likelihood": life.estimate.log_likelihood,
        "failed_by_20": 1.0 - life.reliability(20.0),
    }


def diabetes_intervals(case: Case) -> dict[str, Any]:
    """Onsets known exactly or to an interval: by sex with one shape, and all together."""
    table = case.table
    sexes = {str(sex): _onsets(rows) for sex, rows in table.groupby("sex")}
    apart = fit_strata(sexes, "share the shape")
    together = hl.fit_life(_onsets(table))
    female, male = apart["female"], apart["male"]
    return {
        "shape": female.shape,
        "scale_female": female.scale,
        "male_log_scale_coef": np.log(male.scale / female.scale),
        # each estimate counts its own stratum's failures at the shared shape
        "log_likelihood": sum(
            life.estimate.log_likelihood for life in (female, male) if life.estimate
        ),
        "shape_pooled": together.shape,
        "scale_pooled": together.scale,
        "log_likelihood_pooled": together.estimate.log_likelihood,
    }


def _onsets(table: Any) -> hl.Evidence:
    return hl.Evidence.from_lives(
        0.0,
        table["found_failed"],
        True,
        reference_hours=20.0,
        last_good_hours=table["last_good"].fillna(0.0),
    )
