"""What does the whole cost curve of a posterior cost beside one curve of a library?

The library's optimum is for one known life on 10,000 ages; ours is for every node of a posterior
(some 800 lives) on 200.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator

import numpy as np

import headlife as hl
from studies.bench.measured import Measured, at_least, at_most
from studies.timing import medians

AGES = np.linspace(50.0, 3000.0, 200)
PLANNED, FAILURE = 350.0, 620.0  # [currency] of a swap in good time, and of a failure


def measure(short: bool) -> Iterator[Measured]:
    """Measure both curves in turns."""
    from reliability.Repairable_systems import optimal_replacement_time

    lives = 1400.0 * np.random.default_rng(1).weibull(2.4, 80)
    ends = np.minimum(lives, 1500.0)
    life = hl.fit_life(hl.Evidence.from_lives(0.0, ends, lives <= 1500.0, reference_hours=1200.0))

    def library() -> object:
        return optimal_replacement_time(
            cost_PM=PLANNED,
            cost_CM=FAILURE,
            weibull_alpha=1400.0,
            weibull_beta=2.4,
            show_time_plot=False,
            show_ratio_plot=False,
            print_results=False,
        )

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        own, one_curve = medians(
            lambda: hl.replacement_curve(life, AGES, (PLANNED, FAILURE)),
            library,
            rounds=3 if short else 5,
        )
    nodes = life.nodes()[2].size
    yield Measured(
        f"a library's one curve / our curve of {nodes} lives", one_curve / own, "times", at_least(1)
    )
    yield Measured(f"our curve, 200 ages x {nodes} lives", 1e3 * own, "ms", at_most(50))
