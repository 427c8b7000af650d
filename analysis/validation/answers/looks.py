"""Our answers to published boundaries for repeated looks."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from headlife.decisions.boundaries import boundaries, crossing, spent_late
from validation.cases import Case


def repeated_looks(case: Case) -> dict[str, Any]:
    """Boundaries that spend an error, and constants for looks that share one."""
    information = case.array("information")
    spent = spent_late(information, case.data["error_one_sided"])
    scores = boundaries(information, spent)
    one_side = 0.5 * case.data["error_two_sided"]  # both sides crossed: next to never

    def constant(looks: int, power: float) -> float:
        amounts = np.arange(1.0, looks + 1.0)

        def excess(score: float) -> float:
            limits = score * (looks / amounts) ** power
            return float(crossing(amounts, limits)[-1] - one_side)

        return float(brentq(excess, 1.5, 3.5, xtol=1e-6))

    return {
        "spent": spent,
        "boundary": scores,
        "nominal_p": ndtr(-scores),
        "same_score_at_every_look": [constant(looks, 0.0) for looks in case.data["looks"]],
        "same_sum_at_every_look": [constant(looks, 0.5) for looks in case.data["looks"]],
    }
