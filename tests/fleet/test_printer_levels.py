"""Levels of printers without a matrix over all installations: the same as with one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from headlife.fleet.past_hours import GROWTH_BEFORE, learn_workload
from headlife.fleet.printer_levels import PrinterLevels

LEVEL = 1.5
SPREADS = np.array([0.2, 0.15, 0.1, 0.5])


def model(seed=1, printers=5, most=4, quarters=3):
    """Printers with one to `most` installations, in kernels that are covariances."""
    rng = np.random.default_rng(seed)
    counts = rng.integers(1, most + 1, printers)
    inside = (np.arange(most) < counts[:, None]).astype(float)
    shares = rng.dirichlet(np.ones(quarters), (printers, most)) * inside[..., None]
    together = np.einsum("pkq,plq->pkl", shares, shares)
    half = rng.normal(size=(printers, most, most)) * inside[..., None]
    own = half @ half.transpose(0, 2, 1) / most
    return PrinterLevels(
        values=rng.normal(size=inside.shape) * inside,
        inside=inside,
        middle=-rng.uniform(0.1, 2.0, inside.shape) * inside,
        shares=shares,
        kernels=np.array([together, together * 0.5, own]),
        dates=rng.uniform(0.01, 0.1, inside.shape),
        level=LEVEL,
        growth=GROWTH_BEFORE,
    )


def dense(known, spreads=SPREADS):
    """The same with one covariance of all installations: Rasmussen and Williams (2006), 2.7."""
    there = known.inside > 0
    who = np.nonzero(there)[0]
    values, middle = known.values[there], known.middle[there]
    shares, dates = known.shares[there], known.dates[there]
    noise = spreads[0] ** 2 * shares @ shares.T + np.diag(dates)
    for printer in range(len(known.values)):
        rows = np.flatnonzero(who == printer)
        own = np.tensordot(spreads[1:] ** 2, known.kernels[:, printer], axes=1)
        noise[np.ix_(rows, rows)] += own[: rows.size, : rows.size]
    design = np.column_stack([np.eye(len(known.values))[who], middle])
    before = np.diag(np.append(np.full(len(known.values), LEVEL**2), GROWTH_BEFORE**2))
    whole = design @ before @ design.T + noise
    gain = before @ design.T @ np.linalg.inv(whole)
    return values, whole, gain @ values, before - gain @ design @ before


@pytest.mark.parametrize("seed", range(5))
def test_it_is_the_model_with_one_matrix(seed):
    known = model(seed)
    values, whole, mean, covariance = dense(known)
    some = np.array([1.0, 0.0, 1.0, 1.0, 0.0])
    found = known.levels(SPREADS, some)
    assert found.means == pytest.approx(mean, abs=1e-11)
    assert found.variances == pytest.approx(np.diag(covariance), abs=1e-11)
    assert found.with_growth == pytest.approx(covariance[:-1, -1], abs=1e-11)
    sum_of_some = some @ covariance[:-1, :-1] @ some
    assert found.together == pytest.approx(sum_of_some, abs=1e-11)
    other = np.array([0.3, 0.05, 0.2, 0.1])
    told = known.height(SPREADS) - known.height(other)
    assert told == pytest.approx(_density(known, SPREADS) - _density(known, other), abs=1e-9)


def _density(known, spreads):
    """Log density of the values by SciPy."""
    values, whole, *_ = dense(known, spreads)
    return float(multivariate_normal(cov=whole).logpdf(values))


def test_thousands_of_printers_are_learned_from_and_their_shared_swings_found():
    """With one matrix this took 40 gigabytes: 20,000 printers, four installations each."""
    rng = np.random.default_rng(3)
    printers, each, weeks = 20_000, 4, 8.0
    start = np.tile(np.arange(each) * weeks * 7.0, printers)
    busy = np.tile(rng.normal(0.0, 0.25, each), printers)  # all of them together
    own = np.repeat(rng.normal(np.log(40.0), 0.3, printers), each)
    rate = np.exp(own + busy + rng.normal(0.0, 0.1, printers * each))
    names = np.repeat([f"P{number:05d}" for number in range(printers)], each)
    found = learn_workload(names, start, start + weeks * 7.0, rate * weeks)
    assert len(found.printers) == printers and found.installations == printers * each
    assert found.common > 0.15 and found.single < found.common
