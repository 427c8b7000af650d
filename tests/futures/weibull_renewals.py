"""Renewals of a Weibull life by its power series: independent of everything in the package.

Smith & Leadbetter, On the renewal function for the Weibull distribution, Technometrics 5, 1963,
393-396 (from memory): with ``gamma_n = Gamma(n b + 1) / n!`` and
``A_n = gamma_n - sum over j < n of gamma_j A_(n - j)`` the mean number of renewals by t scales is
``sum over k of (-1)^(k - 1) A_k t^(k b) / Gamma(k b + 1)``. Its terms cancel: 60 decimals are kept.
"""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction
from functools import cache
from math import comb, factorial

PI = Decimal("3.14159265358979323846264338327950288419716939937510582097494459")
TERMS = 140


def renewals_of_series(shape: float, time: float) -> float:
    """Mean number of renewals by a time in scales, the first head new."""
    with localcontext() as context:
        context.prec = 60
        b = Decimal(str(shape))
        power = (b * Decimal(str(time)).ln()).exp()
        coefficients = _coefficients(b)
        total = Decimal(0)
        for k in range(1, TERMS + 1):
            total -= (-1) ** k * coefficients[k] * power**k / _gamma(k * b + 1)
        return float(total)


@cache
def _coefficients(b: Decimal) -> list[Decimal]:
    gammas = [_gamma(n * b + 1) / factorial(n) for n in range(TERMS + 1)]
    found = [Decimal(0)]
    for n in range(1, TERMS + 1):
        found.append(gammas[n] - sum(gammas[j] * found[n - j] for j in range(1, n)))
    return found


@cache
def _gamma(z: Decimal) -> Decimal:
    """Stirling's series (DLMF 5.11.1), from 60 on."""
    shift = Decimal(1)
    while z < 60:
        shift, z = shift * z, z + 1
    log = (z - Decimal("0.5")) * z.ln() - z + (2 * PI).ln() / 2
    for k in range(1, 25):
        b = _bernoulli(2 * k)
        log += Decimal(b.numerator) / b.denominator / (2 * k * (2 * k - 1)) / z ** (2 * k - 1)
    return log.exp() / shift


@cache
def _bernoulli(n: int) -> Fraction:
    if n == 0:
        return Fraction(1)
    return -sum((comb(n + 1, k) * _bernoulli(k) for k in range(n)), Fraction(0)) / (n + 1)
