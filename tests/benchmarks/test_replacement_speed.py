"""The whole cost curve of a posterior beside one curve of a library, in turns in one run.

``python -m pytest tests/benchmarks -rP`` prints the table. The library's optimum is for one known
life on 10,000 ages; ours is for every node of a posterior (some 800 lives) on 200.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from tests.benchmarks.side_by_side import report

from headlife.decisions.policy.replacement import replacement_curve
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from studies.timing import medians

pytestmark = pytest.mark.xdist_group("benchmarks")

AGES = np.linspace(50.0, 3000.0, 200)
COSTS = (350.0, 620.0)


@pytest.fixture(scope="module")
def life():
    lives = 1400.0 * np.random.default_rng(1).weibull(2.4, 80)
    ends = np.minimum(lives, 1500.0)
    return fit_life(Evidence.from_lives(0.0, ends, lives <= 1500.0, reference_hours=1200.0))


def test_the_whole_curve_beside_one_curve_of_a_library(life):
    def ours():
        return replacement_curve(life, AGES, COSTS)

    def theirs():
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            from reliability.Repairable_systems import optimal_replacement_time

            return optimal_replacement_time(
                cost_PM=COSTS[0],
                cost_CM=COSTS[1],
                weibull_alpha=1400.0,
                weibull_beta=2.4,
                show_time_plot=False,
                show_ratio_plot=False,
                print_results=False,
            )

    nodes = life.nodes()[2].size
    mine, library = medians(ours, theirs, rounds=5)
    report(
        f"curve of {nodes} lives beside a library's one: times faster", library / mine, "above 1"
    )
    print(f"{'200 ages x ' + str(nodes) + ' lives [ms]':58s} {1000 * mine:10.1f}   wanted 50")
    assert len(ours()) == AGES.size
