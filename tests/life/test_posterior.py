"""The posterior against brute force, and its laws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import gamma as gamma_function

from headlife.errors import EvidenceError
from headlife.life import weibull
from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import SHAPE_RANGE
from headlife.life.posterior import fit_life
from headlife.life.prior import ShapePrior, prior_powers
from headlife.show.words.fit import shape_sentence

PROBABILITIES = np.array([0.05, 0.5, 0.95])


def brute_force(lives, started, power, quantity, reference=900.0):
    """Quantiles of a quantity by adding up the posterior on a fine grid, from the lives."""
    log_shape = np.linspace(*np.log(SHAPE_RANGE), 1201)
    shape = np.exp(log_shape)[:, None]
    exposure = np.zeros(shape.shape)
    for entry, exit_ in zip(lives.entry, lives.exit, strict=True):
        exposure[:, 0] += (exit_ / reference) ** shape[:, 0]
        if entry > 0:
            exposure[:, 0] -= (entry / reference) ** shape[:, 0]
    log_expected = np.linspace(-14.0, 5.0, 1601)[None, :]
    log_hazard = log_expected - np.log(exposure)
    failures = lives.failed.sum()
    log_sum = np.log(lives.exit[lives.failed] / reference).sum()
    height = (
        failures * (log_hazard + np.log(shape))
        + shape * log_sum
        - np.exp(log_expected)
        + started * log_expected
        + power * np.log(shape)
    )
    weight = np.exp(height - height.max())
    weight[[0, -1]] *= 0.5  # trapezoid
    values = quantity(shape, log_hazard)
    order = np.argsort(values, axis=None)
    below = np.cumsum(weight.ravel()[order])
    below = (below - 0.5 * weight.ravel()[order]) / below[-1]
    return np.interp(PROBABILITIES, below, values.ravel()[order])


@pytest.mark.parametrize(
    ("n", "shape", "until", "late"),
    [
        (10, 2.0, 900.0, False),
        (30, 2.0, 300.0, False),
        (12, 1.0, 2000.0, False),
        (40, 3.0, 900.0, True),
    ],
)
def test_bounds_are_those_of_the_summed_up_posterior(simulate, n, shape, until, late):
    lives = simulate(n, shape, until, late=late)
    life = fit_life(lives.evidence())
    powers = prior_powers(lives.failed.sum(), "calibrated")

    def minus_reliability(shapes, log_hazard):
        return log_hazard + shapes * np.log(400.0 / 900.0)

    def log_b10(shapes, log_hazard):
        return (np.log(-np.log(0.9)) - log_hazard) / shapes

    hazards = np.exp(brute_force(lives, *powers, minus_reliability))
    assert life.mixture.cumulative_hazard(400.0, PROBABILITIES) == pytest.approx(hazards, rel=2e-3)
    b10 = 900.0 * np.exp(brute_force(lives, *powers, log_b10))
    assert life.mixture.life(0.1, PROBABILITIES) == pytest.approx(b10, rel=2e-3)


@pytest.fixture(params=[0, 1, 2, 6, 40, 400], ids=lambda r: f"{r} failures")
def life(request, simulate):
    lives = simulate(max(30, 2 * request.param), until=1200.0, seed=3)
    first = np.flatnonzero(lives.failed)[: request.param]
    failed = np.zeros(len(lives.failed), bool)
    failed[first] = True
    return fit_life(lives._replace(failed=failed).evidence())


def test_survival_falls_and_stays_a_share(life):
    ages = np.concatenate([[0.0], np.geomspace(1e-3, 1e5, 60)])
    low, high = life.reliability_bounds(ages)
    point = life.reliability(ages)
    for curve in (low, point, high):
        assert curve[0] == 1.0
        assert (np.diff(curve) <= 1e-12).all() and (curve >= 0).all() and (curve <= 1).all()
    assert (low <= high).all()


def test_quantiles_and_probabilities_are_inverse(life):
    fractions = np.array([0.001, 0.1, 0.5, 0.9, 0.999])
    for tail, bound in zip((0.05, 0.95), life.life_bounds(fractions), strict=True):
        chance = life.probability_reliability_above(1.0 - fractions, bound)
        # life below its lower bound has 5 %: so the share at that age is above with 95 %
        assert chance == pytest.approx(np.full(5, 1.0 - tail), abs=1e-9)
    ages = np.array([10.0, 300.0, 1200.0])
    for tail, bound in zip((0.05, 0.95), life.reliability_bounds(ages), strict=True):
        inside = (bound > 1e-300) & (bound < 1.0)
        chance = life.probability_reliability_above(bound[inside], ages[inside])
        # a reliability next to 1 keeps few digits of its hazard
        assert chance == pytest.approx(np.full(inside.sum(), 1.0 - tail), abs=1e-6)


def test_wider_confidence_holds_narrower(life):
    narrow, wide = life.reliability_bounds(500.0, 0.5), life.reliability_bounds(500.0, 0.99)
    assert wide[0] < narrow[0] < narrow[1] < wide[1]


def test_scalar_in_scalar_out(life):
    for answer in (
        life.reliability(500.0),
        life.life(0.1),
        *life.reliability_bounds(500.0),
        *life.life_bounds(0.1),
        life.probability_reliability_above(0.9, 500.0),
        *life.shape_bounds(),
    ):
        assert type(answer) is float
    ages = np.array([[100.0, 200.0, 300.0], [400.0, 500.0, 600.0]])
    low, high = life.reliability_bounds(ages)
    assert low.shape == high.shape == life.reliability(ages).shape == ages.shape
    assert low[1, 0] == pytest.approx(life.reliability_bounds(400.0)[0], rel=1e-9)


def test_moving_the_reference_changes_no_answer(life):
    moved = fit_life(life.evidence.rereference(77.0))
    assert moved.reliability_bounds(500.0) == pytest.approx(
        life.reliability_bounds(500.0), rel=1e-8
    )
    assert moved.life_bounds(0.1) == pytest.approx(life.life_bounds(0.1), rel=1e-8)
    assert moved.shape_bounds() == pytest.approx(life.shape_bounds(), rel=1e-6)
    if life.has_ml:
        assert (moved.shape, moved.scale) == pytest.approx((life.shape, life.scale), rel=1e-9)


def test_draws_agree_with_bounds(life):
    shape, scale = life.draw(40_000, np.random.default_rng(5))
    for age in (200.0, 1200.0):
        # the hazard, since reliabilities next to 1 tie
        hazard = weibull.cumulative_hazard(age, shape, scale)
        low, high = life.mixture.cumulative_hazard(age, [0.05, 0.95])
        # binomial band of 40 000 draws, five standard deviations
        assert (hazard < low).mean() == pytest.approx(0.05, abs=0.0055)
        assert (hazard > high).mean() == pytest.approx(0.05, abs=0.0055)
    low, high = life.shape_bounds()
    assert (shape < low).mean() == pytest.approx(0.05, abs=0.0055)


def test_same_seed_same_draws(life):
    one = life.draw(50, np.random.default_rng(5))
    other = life.draw(50, np.random.default_rng(5))
    assert np.array_equal(one[0], other[0]) and np.array_equal(one[1], other[1])


def test_nodes_add_up_to_known_moments(life):
    shape, scale, weight = life.nodes()
    assert weight.sum() == pytest.approx(1.0, rel=1e-12) and (weight >= 0).all()
    # Given the shape the expected failures of the record are Gamma(count): mean and variance
    # of a Gamma distribution, whatever the shape.
    count = life.posterior.count
    curve = np.exp(np.interp(shape, life.mixture.shapes, life.mixture.hazard.log_rate))
    expected = curve * (life.evidence.reference_hours / scale) ** shape
    assert weight @ expected == pytest.approx(count, rel=1e-9)
    assert weight @ (expected - count) ** 2 == pytest.approx(count, rel=1e-9)


def test_nodes_replace_draws(life):
    shape, scale, weight = life.nodes()
    below = weight @ weibull.reliability(600.0, shape, scale)
    drawn_shape, drawn_scale = life.draw(40_000, np.random.default_rng(6))
    drawn = weibull.reliability(600.0, drawn_shape, drawn_scale)
    assert below == pytest.approx(drawn.mean(), abs=5 * drawn.std() / 200.0)


def test_probability_of_a_mean_life(life):
    shape, scale = life.draw(40_000, np.random.default_rng(7))
    drawn = (scale * gamma_function(1.0 + 1.0 / shape) >= 1500.0).mean()
    assert life.probability_mean_life_above(1500.0) == pytest.approx(drawn, abs=0.0125)


def test_a_life_may_be_split_at_any_age(simulate):
    lives = simulate(30)
    cut = lives.exit * 0.4
    split = Evidence.from_lives(0.0, cut, False, reference_hours=900.0) + Evidence.from_lives(
        cut, lives.exit, lives.failed, reference_hours=900.0
    )
    whole, parts = fit_life(lives.evidence()), fit_life(split)
    assert parts.reliability_bounds(900.0) == pytest.approx(whole.reliability_bounds(900.0))
    assert parts.life_bounds(0.1) == pytest.approx(whole.life_bounds(0.1))


def test_all_modes_of_a_large_record_agree_with_large_sample_theory(simulate):
    # Variance of ln(shape) of a complete sample: 6 / (pi**2 n) (Meeker & Escobar 1998, 8.4)
    n = 200_000
    life = fit_life(simulate(n, until=1e9).evidence())
    low, high = life.shape_bounds()
    deviation = np.sqrt(6.0 / (np.pi**2 * n))
    assert np.log(high / low) == pytest.approx(2 * 1.6448536 * deviation, rel=0.01)


class TestStatedShape:
    def test_a_fixed_shape_gives_chi_square_limits(self, simulate):
        # Exact for a fixed shape and failure-censored records: hazard * S is Gamma(failures)
        from scipy.stats import chi2

        lives = simulate(25)
        life = fit_life(lives.evidence(), shape_prior=2.0, prior="exact conditional")
        exposure = ((lives.exit / 900.0) ** 2).sum()
        failures = lives.failed.sum()
        low, high = life.reliability_bounds(900.0)
        for bound, tail in ((low, 0.95), (high, 0.05)):
            hazard = chi2.ppf(tail, 2 * failures) / (2 * exposure)
            assert bound == pytest.approx(np.exp(-hazard), rel=1e-10)
        assert life.shape_bounds() == pytest.approx((2.0, 2.0))

    def test_a_fixed_shape_draws_only_that_shape(self, simulate):
        shape, scale = fit_life(simulate(25).evidence(), shape_prior=2.0).draw(
            100, np.random.default_rng(1)
        )
        assert (shape == pytest.approx(2.0)) and len(np.unique(scale)) == 100

    def test_without_failures_a_stated_spread_comes_back(self):
        evidence = Evidence.from_lives(0.0, [100.0] * 9, False, reference_hours=100.0)
        low, high = fit_life(evidence, shape_prior=(2.0, 1.5)).shape_bounds()
        assert (low, high) == pytest.approx((2.0 / 1.5, 2.0 * 1.5), rel=1e-3)

    def test_a_tight_spread_is_nearly_fixed(self, simulate):
        evidence = simulate(25).evidence()
        tight = fit_life(evidence, shape_prior=ShapePrior(2.0, 1.0005))
        fixed = fit_life(evidence, shape_prior=2.0)
        assert tight.life_bounds(0.1) == pytest.approx(fixed.life_bounds(0.1), rel=1e-3)

    def test_a_stated_shape_narrows_the_answer(self, simulate):
        evidence = simulate(25, until=400.0).evidence()
        free, stated = fit_life(evidence), fit_life(evidence, shape_prior=(2.0, 1.2))
        width = [np.log(high / low) for low, high in (f.life_bounds(0.1) for f in (free, stated))]
        assert width[1] < width[0]


class TestWhereTheShapeComesFrom:
    def test_learned(self, simulate):
        said = shape_sentence(fit_life(simulate(60).evidence()))
        assert said.startswith("The shape is learned from ")

    def test_assumed(self):
        evidence = Evidence.from_lives(0.0, [100.0] * 9, False, reference_hours=100.0)
        assert "assumed, not learned: no failure on record" in shape_sentence(fit_life(evidence))

    def test_stated(self, simulate):
        evidence = simulate(60).evidence()
        exactly = shape_sentence(fit_life(evidence, shape_prior=2.0))
        assert exactly.startswith("The shape is stated as exactly 2; the records alone would say")
        about = fit_life(evidence, shape_prior=(2.0, 1.5))
        low, high = about.shape_bounds()
        assert f"stated as 1.33 to 3.00; with the records it is {low:.2f} to {high:.2f}" in (
            shape_sentence(about)
        )


@pytest.mark.parametrize(("shape", "n"), [(0.25, 60), (16.0, 60), (16.0, 8)])
def test_shapes_near_the_ends_of_the_range(simulate, shape, n):
    lives = simulate(n, shape, until=1e9)
    life = fit_life(lives.evidence())
    powers = prior_powers(n, "calibrated")

    def log_b10(shapes, log_hazard):
        return (np.log(-np.log(0.9)) - log_hazard) / shapes

    b10 = 900.0 * np.exp(brute_force(lives, *powers, log_b10))
    assert life.mixture.life(0.1, PROBABILITIES) == pytest.approx(b10, rel=5e-3)


def test_the_shape_is_learned_from_three_failures_on_those_of_other_strata_included():
    def failing(failures):
        failed = np.arange(8) < failures
        return Evidence.from_lives(0.0, np.linspace(300.0, 900.0, 8), failed, reference_hours=900.0)

    alone = [fit_life(failing(failures)) for failures in (2, 3)]
    assert [life.shape_learned for life in alone] == [False, True]
    shared = fit_life(failing(1), companions=[failing(2), failing(0)])
    assert shared.failures_for_shape == 3
    assert shared.shape_learned


def test_without_an_estimate_the_middles_stand_for_it():
    none = Evidence.from_lives(0.0, np.full(12, 800.0), False, reference_hours=900.0)
    life = fit_life(none)
    assert not life.has_ml
    # As likely above the median as below, asked of the share and of the age.
    share, age = life.median_reliability(900.0), life.median_life(0.10)
    assert life.probability_reliability_above(share, 900.0) == pytest.approx(0.5, abs=1e-6)
    assert life.probability_reliability_above(0.90, age) == pytest.approx(0.5, abs=1e-6)
    assert life.reliability(900.0) == pytest.approx(share, rel=1e-12)
    assert life.life(0.10) == pytest.approx(age, rel=1e-12)


@pytest.mark.parametrize("failures", [0, 4])
def test_ratio_bounds_refuse_a_percentage_with_an_estimate_or_without(failures):
    failed = np.arange(8) < failures
    ages = np.linspace(300.0, 900.0, 8)
    life = fit_life(Evidence.from_lives(0.0, ages, failed, reference_hours=900.0))
    with pytest.raises(EvidenceError, match="Confidence is a fraction"):
        life.likelihood_ratio_reliability_bounds(900.0, 90)
    with pytest.raises(EvidenceError, match="Confidence is a fraction"):
        life.likelihood_ratio_life_bounds(0.10, 90)
    with pytest.raises(EvidenceError, match="fraction failed|Fraction failed"):
        life.likelihood_ratio_life_bounds(10)
    assert np.isnan(life.likelihood_ratio_life_bounds(0.10)).all() == (failures == 0)


def test_sixteen_points_at_each_shape(simulate):
    life = fit_life(simulate(20).evidence())
    assert life.nodes()[0].size == 16 * life.mixture.shapes.size


class EvenlySpaced:
    """Numbers between 0 and 1 at even distances, in the place of random ones."""

    def random(self, n):
        return (np.arange(n) + 0.5) / n

    def gamma(self, count, size):
        return np.full(size, count)


@pytest.mark.parametrize(("n", "until"), [(5, 300.0), (12, 600.0), (60, 900.0), (20_000, 1200.0)])
def test_shapes_are_drawn_with_the_moments_that_the_nodes_have(simulate, n, until):
    """Quadrature and draws are two ways to one posterior: mean, spread and tails of ln shape."""
    life = fit_life(simulate(n, until=until).evidence())
    nodes, weights = np.log(life.mixture.shapes), life.mixture.weights
    drawn = np.log(life.draw(200_000, EvenlySpaced())[0])
    mean = weights @ nodes
    spread = np.sqrt(weights @ (nodes - mean) ** 2)
    assert drawn.mean() == pytest.approx(mean, abs=2e-3 * spread)
    for power in (2, 3, 4):
        wanted = weights @ ((nodes - mean) / spread) ** power
        found = (((drawn - mean) / spread) ** power).mean()
        assert found == pytest.approx(wanted, abs=0.01 * power)


def test_every_drawn_shape_has_its_own_number(simulate):
    """A greater number, a steeper shape, to the last of the tails."""
    drawn = fit_life(simulate(12).evidence()).draw(200_000, EvenlySpaced())[0]
    assert (np.diff(drawn) > 0).all()
