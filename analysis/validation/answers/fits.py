"""Our answers to published Weibull fits: exact, right-censored, competing, entered late."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

import headlife as hl
from headlife.life import weibull
from headlife.life.exposure_curve import curve_at, curve_derivatives
from validation.answers.normal import POINTS_90, POINTS_95
from validation.answers.records import cumulative_incidence
from validation.cases import Case


def fit(exit_: Any, failed: Any, *, reference: float, entry: Any = 0.0, weights: Any = None) -> Any:
    """Fit a life to lifetimes in any unit."""
    evidence = hl.Evidence.from_lives(
        entry, exit_, failed, reference_hours=reference, weights=weights
    )
    return hl.fit_life(evidence)


def covariance(life: Any) -> np.ndarray:
    """Covariance of (mu, sigma) = (ln scale, 1/shape) from the curvature at the peak.

    With b = ln shape and h = ln hazard at the reference, the log-likelihood of the evidence is
    ``r (h + b) + e^b L - e^h S(b)``; its second derivatives at the peak follow from those of
    ln S, and (mu, sigma) from (h, b) by the delta method, exact at a peak.
    """
    found, b = life.evidence, float(np.log(life.shape))
    r = found.failures
    _, slope, bend = curve_derivatives(found.log_curve, b)
    across = -r * slope
    along = life.shape * found.log_sum - r * (bend + slope**2)
    information = -np.array([[-r, across], [across, along]])
    sigma = 1.0 / life.shape
    h = life.shape * np.log(found.reference_hours / life.scale)
    turn = np.array([[-sigma, h * sigma], [0.0, -sigma]])
    return np.asarray(turn @ np.linalg.inv(information) @ turn.T)


def normal_log_limits(life: Any, fraction: float, points: float = POINTS_95) -> list[float]:
    """Limits on a B-life by normal approximation of its logarithm, for comparison only."""
    place = float(np.log(-np.log1p(-fraction)))
    gradient = np.array([1.0, place])
    error = float(np.sqrt(gradient @ covariance(life) @ gradient))
    return [life.life(fraction) * float(np.exp(side * points * error)) for side in (-1, 1)]


def nist_weibull(case: Case) -> dict[str, Any]:
    """Twenty units on test: fit, errors and the line through the plotted points."""
    from headlife.life.nonparametric import plotting_positions

    life = fit(case.array("exit"), case.array("failed"), reference=500.0)
    lives = pd.DataFrame({"entry_hours": 0.0, "exit_hours": case.array("exit").astype(float)})
    points = plotting_positions(lives, case.array("failed"))
    height = np.log10(-np.log1p(-points["share_failed"].to_numpy()))
    slope, intercept = np.polyfit(np.log10(points["hours"].to_numpy()), height, 1)
    errors = np.sqrt(np.diag(covariance(life)))
    return {
        "shape": life.shape,
        "scale": life.scale,
        "rank_regression_slope": slope,
        "rank_regression_intercept": intercept,
        "log_likelihood": life.estimate.log_likelihood,
        # of shape = 1 / sigma and scale = exp(mu)
        "standard_error_shape": errors[1] * life.shape**2,
        "standard_error_scale": errors[0] * life.scale,
        "b10": life.life(0.10),
        "b10_likelihood_ratio_95": life.likelihood_ratio_life_bounds(0.10, confidence=0.95),
    }


def shock_absorbers(case: Case) -> dict[str, Any]:
    """Eleven failures among 38, two modes taken together."""
    life = fit(case.array("exit"), case.array("failed"), reference=20_000.0)
    mu, sigma = float(np.log(life.scale)), 1.0 / life.shape
    spread = covariance(life)
    error_mu, error_sigma = np.sqrt(np.diag(spread))

    def sigma_limits(points: float) -> list[float]:
        return [sigma * float(np.exp(side * points * error_sigma / sigma)) for side in (-1, 1)]

    return {
        "mu": mu,
        "sigma": sigma,
        "shape": life.shape,
        "scale": life.scale,
        "log_likelihood": life.estimate.log_likelihood,
        "covariance_mu_sigma": spread.ravel(),
        "mu_limits_95": [mu + side * POINTS_95 * error_mu for side in (-1, 1)],
        "sigma_limits_95": sigma_limits(POINTS_95),
        "sigma_limits_90": sigma_limits(POINTS_90),
        "b10": life.life(0.10),
        "b10_likelihood_ratio_95": life.likelihood_ratio_life_bounds(0.10, confidence=0.95),
        "b10_normal_log_95": normal_log_limits(life, 0.10),
    }


def bearing_cages(case: Case) -> dict[str, Any]:
    """Six failures among 1,703: the rating question, and the shape taken as known."""
    life = fit(
        case.array("exit"),
        case.array("failed"),
        reference=case.data["rated_hours"],
        weights=case.array("count"),
    )
    known = {shape: _known_shape_b10(life.evidence, shape) for shape in (1.5, 2.0, 3.0)}
    limits_95 = life.likelihood_ratio_life_bounds(0.10, confidence=0.95)
    return {
        "shape": life.shape,
        "scale": life.scale,
        "b10": life.life(0.10),
        "b10_likelihood_ratio_95": limits_95,
        "b10_likelihood_ratio_95_recomputed": limits_95,
        "b10_likelihood_ratio_90": life.likelihood_ratio_life_bounds(0.10, confidence=0.90),
        "b10_normal_log_95": normal_log_limits(life, 0.10),
        "reliability_8000": life.reliability(8_000.0),
        "log_likelihood": life.estimate.log_likelihood,
        "b10_fixed_shape_1_5": known[1.5][0],
        "b10_fixed_shape_2": known[2.0][0],
        "b10_fixed_shape_3": known[3.0][0],
        "b10_fixed_shape_chi_square_95": np.ravel([limits for _, limits in known.values()]),
    }


def _known_shape_b10(found: Any, shape: float) -> tuple[float, list[float]]:
    """B10 and its exact 95 % limits when the shape is known.

    At a known shape the transformed ages fail at a constant rate, so the limits are those on a
    mean time between failures over the exposure ``S(shape)``.
    """
    from headlife.life.demonstration_hours import mtbf_limits

    exposure = float(np.exp(curve_at(found.log_curve, np.log([shape]))[0]))

    def b10(mean: float) -> float:
        return float(weibull.life(0.10, shape, found.reference_hours * mean ** (1.0 / shape)))

    limits = mtbf_limits(exposure, round(found.failures), 0.95)
    return b10(exposure / found.failures), [b10(limit) for limit in limits]


def ball_bearings(case: Case) -> dict[str, Any]:
    """Twenty-three bearings, all failed: estimates, likelihood-ratio and exact limits."""
    life = fit(case.array("exit"), True, reference=100.0)
    exact = hl.fit_life(life.evidence, prior="exact conditional")
    return {
        "shape_exact_90": exact.shape_bounds(confidence=0.90),
        "b10_exact_lower90": exact.life_bounds(0.10, confidence=0.80)[0],
        "b10_exact_lower95": exact.life_bounds(0.10, confidence=0.90)[0],
        "median_exact_lower95": exact.life_bounds(0.50, confidence=0.90)[0],
        "shape": life.shape,
        "scale": life.scale,
        "log_likelihood": life.estimate.log_likelihood,
        "b10": life.life(0.10),
        "b10_likelihood_ratio_95": life.likelihood_ratio_life_bounds(0.10, confidence=0.95),
        "b10_normal_log_95": normal_log_limits(life, 0.10),
    }


def circuit_breakers(case: Case) -> dict[str, Any]:
    """Four thousand units first seen in service: delayed entry."""
    table = case.table
    life = fit(table["exit"], table["failed"] == 1, entry=table["entry"], reference=50.0)
    log_likelihood = life.estimate.log_likelihood
    return {
        "shape": life.shape,
        "rate": 1.0 / life.scale,
        "scale": life.scale,
        "aic": 2 * 2 - 2 * log_likelihood,
        "bic": 2 * np.log(len(table)) - 2 * log_likelihood,
        "log_likelihood": log_likelihood,
        "mean": weibull.mean_life(life.shape, life.scale),
        "b10": life.life(0.10),
        "b10_normal_log_95": normal_log_limits(life, 0.10),
    }


def device_g(case: Case) -> dict[str, Any]:
    """Two competing modes: one life per mode, and what both together leave."""
    from scipy.integrate import quad

    exit_, mode = case.array("exit").astype(float), case.array("mode")
    surge = fit(exit_, mode == "surge", reference=300.0)
    wear = fit(exit_, mode == "wear", reference=300.0)
    pooled = fit(exit_, mode != "", reference=300.0)

    def incidence(own: Any) -> float:
        def density(hazard_now: float) -> float:
            # integrate over the mode's own hazard, which is smooth where its density is not
            t = own.scale * hazard_now ** (1.0 / own.shape)
            return float(surge.reliability(t) * wear.reliability(t))

        top = float(weibull.cumulative_hazard(300.0, own.shape, own.scale))
        return float(quad(density, 0.0, top, epsabs=1e-11)[0])

    return {
        "surge_shape": surge.shape,
        "surge_scale": surge.scale,
        "surge_log_likelihood": surge.estimate.log_likelihood,
        "wear_shape": wear.shape,
        "wear_scale": wear.scale,
        "wear_log_likelihood": wear.estimate.log_likelihood,
        "pooled_shape": pooled.shape,
        "pooled_scale": pooled.scale,
        "cif_surge_300": incidence(surge),
        "cif_wear_300": incidence(wear),
        "reliability_300": surge.reliability(300.0) * wear.reliability(300.0),
        "aj_surge_300": cumulative_incidence(exit_, mode != "", mode == "surge", [300.0])[0],
        "aj_wear_300": cumulative_incidence(exit_, mode != "", mode == "wear", [300.0])[0],
    }


def residual_life(case: Case) -> dict[str, Any]:
    """Further life and mission reliability of used units, far into the tail."""
    shape, scale = case.data["shape"], case.data["scale"]
    ages = case.array("ages").astype(float)
    breaker_shape, breaker_scale = 3.7267452, 1.0 / 0.01232326
    breaker_ages = np.array([0.0, 25.0, 60.0, 80.0])
    further = weibull.residual_life(ages, shape, scale)
    return {
        "further_life_300": further[-1],
        "further_life": further,
        "further_life_shape_half": weibull.residual_life([0.0, 5.0, 10.0, 50.0], 0.5, scale),
        "breaker_further_life": weibull.residual_life(breaker_ages, breaker_shape, breaker_scale),
        "breaker_mission_10_years": weibull.conditional_reliability(
            breaker_ages, 10.0, breaker_shape, breaker_scale
        ),
    }
