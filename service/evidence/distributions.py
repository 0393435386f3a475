"""Quantiles of the distributions that evidence rows name, cut at the row's range.

The readable syntax is explained in ``CHANGES.md`` beside the tables. A distribution is here
its cumulative function and the inverse of it; cutting at the range is the same for all.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from decimal import ROUND_FLOOR, Decimal
from statistics import NormalDist

from service.evidence.beta import beta_cumulative, beta_quantile

THOUSANDTH = Decimal("0.001")

Law = tuple[Callable[[float], float], Callable[[float], float]]  # cumulative, inverse


class UnknownDistribution(ValueError):
    """A distribution that the tables may not name."""


def quantile_of(
    distribution: str, value: Decimal, low: Decimal | None, high: Decimal | None, probability: Decimal
) -> Decimal:
    """Quantile of a distribution cut at ``low`` and ``high``.

    Parameters
    ----------
    distribution : str
        As written in a table: ``normal(sd=0.09)``.
    value, low, high : Decimal
        Of the row, in its unit; ``low`` and ``high`` are ``None`` exactly when ``fixed``.
    probability : Decimal
        Between 0 and 1. [0-1]

    Returns
    -------
    Decimal
        To three decimals, rounded down. [unit of the row]

    Raises
    ------
    UnknownDistribution
        For a name or arguments that the syntax does not have, or a range that is missing.
    """
    if not 0 <= probability <= 1:
        raise ValueError("probability")
    if distribution == "fixed":
        return value.quantize(THOUSANDTH, ROUND_FLOOR)
    if low is None or high is None:
        raise UnknownDistribution(f"{distribution} without a range")
    cumulative, inverse = _law_of(distribution, float(value), float(low), float(high))
    below, above = cumulative(float(low)), cumulative(float(high))
    inside = min(max(inverse(below + float(probability) * (above - below)), float(low)), float(high))
    # Nine decimals first, so that 0.95 held as 0.9499999… is not rounded down to 0.949.
    return Decimal(repr(round(inside, 9))).quantize(THOUSANDTH, ROUND_FLOOR)


def read_distribution(distribution: str) -> tuple[str, dict[str, float]]:
    """Split ``lognormal(factor=1.5)`` into its name and arguments; ``beta`` has ``a`` and ``b``."""
    match = re.fullmatch(r"([a-z]+)(?:\(([^()]*)\))?", distribution)
    if match is None:
        raise UnknownDistribution(distribution)
    name, inner = match.groups()
    parts = inner.split(",") if inner else []
    if name == "beta":
        parts = [f"{letter}={part}" for letter, part in zip("ab", parts, strict=True)]
    try:
        return name, {key.strip(): float(number) for key, number in (part.split("=") for part in parts)}
    except ValueError:
        raise UnknownDistribution(distribution) from None


def _law_of(distribution: str, value: float, low: float, high: float) -> Law:
    name, arguments = read_distribution(distribution)
    match name, *sorted(arguments.items()):
        case ["uniform"]:
            return _uniform(low, high)
        case ["triangular"]:
            return _triangular(low, value, high)
        case ["normal", ("sd", sd)]:
            return _normal(NormalDist(value, sd))
        case ["lognormal", ("sd", sd)]:
            log_variance = math.log(1 + (sd / value) ** 2)
            return _lognormal(NormalDist(math.log(value) - log_variance / 2, math.sqrt(log_variance)))
        case ["lognormal", ("factor", factor)]:
            return _lognormal(NormalDist(math.log(value), math.log(factor)))
        case ["beta", ("a", a), ("b", b)]:
            return (lambda x: beta_cumulative(a, b, x)), (lambda p: beta_quantile(a, b, p))
    raise UnknownDistribution(distribution)


def _uniform(low: float, high: float) -> Law:
    width = high - low
    return (lambda x: (x - low) / width), (lambda p: low + p * width)


def _triangular(low: float, mode: float, high: float) -> Law:
    width = high - low
    share_below_mode = (mode - low) / width

    def cumulative(x: float) -> float:
        if x <= mode and mode > low:
            return (x - low) ** 2 / (width * (mode - low))
        return 1 - (high - x) ** 2 / (width * (high - mode))

    def inverse(p: float) -> float:
        if p <= share_below_mode:
            return low + math.sqrt(p * width * (mode - low))
        return high - math.sqrt((1 - p) * width * (high - mode))

    return cumulative, inverse


def _normal(law: NormalDist) -> Law:
    return law.cdf, law.inv_cdf


def _lognormal(log_law: NormalDist) -> Law:
    return (
        lambda x: log_law.cdf(math.log(x)) if x > 0 else 0.0,
        lambda p: math.exp(log_law.inv_cdf(p)) if p > 0 else 0.0,
    )
