"""The beta distribution: cumulative function and quantile, to about twelve digits.

The standard library has none, and a numerical library would be a heavy load for one function.
"""

from __future__ import annotations

import math

TINY = 1e-300
TERMS = 200
HALVINGS = 60


def beta_cumulative(a: float, b: float, x: float) -> float:
    """Regularised incomplete beta function. [0-1]"""
    if x <= 0 or x >= 1:
        return 0.0 if x <= 0 else 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    # The fraction converges fast on this side only; the other side follows by symmetry.
    if x < (a + 1) / (a + b + 2):
        return front * _continued_fraction(a, b, x) / a
    return 1 - front * _continued_fraction(b, a, 1 - x) / b


def beta_quantile(a: float, b: float, probability: float) -> float:
    """Inverse of ``beta_cumulative`` by halving the interval."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if beta_cumulative(a, b, middle) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _continued_fraction(a: float, b: float, x: float) -> float:
    """Continued fraction of the incomplete beta function, evaluated forwards (Lentz's method)."""
    numerator, denominator = 1.0, 1 / _not_zero(1 - (a + b) * x / (a + 1))
    result = denominator
    for m in range(1, TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for coefficient in (even, odd):
            denominator = 1 / _not_zero(1 + coefficient * denominator)
            numerator = _not_zero(1 + coefficient / numerator)
            result *= denominator * numerator
    return result


def _not_zero(number: float) -> float:
    return number if abs(number) > TINY else TINY
