"""Quantiles of evidence distributions as tables over standard normal deviates.

Correlated quantities are drawn as correlated normal deviates; a table turns a deviate into a
value of the row's distribution, cut at the row's range. Reading a table costs a few array
operations whatever the distribution.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from service.evidence.distributions import read_distribution
from service.evidence.library import EvidenceRow

#: Deviates beyond these are read as these: 1 draw in 3 million.
MOST_DEVIATE = 5.0
#: Entries for each unit of deviate: the error of a table is far below the third decimal.
ENTRIES_PER_UNIT = 200


@lru_cache(maxsize=1024)
def quantile_table(row: EvidenceRow) -> np.ndarray:
    """Values of a row's distribution at an even grid of deviates, the last entry twice. [unit of the row]"""
    from scipy import special  # heavy to import, and needed only when courses are simulated

    grid = np.linspace(-MOST_DEVIATE, MOST_DEVIATE, round(2 * MOST_DEVIATE * ENTRIES_PER_UNIT) + 1)
    value = float(row.value)
    if row.distribution == "fixed":
        return np.full(grid.size + 1, value)
    low, high = float(row.low), float(row.high)
    cumulative, inverse = _law(special, row.distribution, value, low, high)
    below, above = cumulative(low), cumulative(high)
    values = np.clip(inverse(below + special.ndtr(grid) * (above - below)), low, high)
    table = np.append(values, values[-1])
    table.setflags(write=False)
    return table


def read_table(table: np.ndarray, deviates: np.ndarray) -> np.ndarray:
    """Values at the deviates, by straight lines between the entries. [unit of the row]"""
    position = np.clip(deviates, -MOST_DEVIATE, MOST_DEVIATE)
    position += MOST_DEVIATE
    position *= ENTRIES_PER_UNIT
    index = position.astype(np.int32)
    position -= index
    start = table[index]
    return start + position * (table[index + 1] - start)


def _law(special, distribution: str, value: float, low: float, high: float):
    """Cumulative function and its inverse, before the cut."""
    name, arguments = read_distribution(distribution)
    if name == "uniform":
        return (lambda x: (x - low) / (high - low)), (lambda p: low + p * (high - low))
    if name == "triangular":
        return _triangular(low, value, high)
    if name == "beta":
        a, b = arguments["a"], arguments["b"]
        return (lambda x: special.betainc(a, b, x)), (lambda p: special.betaincinv(a, b, p))
    if name == "normal":
        sd = arguments["sd"]
        return (lambda x: special.ndtr((x - value) / sd)), (lambda p: value + sd * special.ndtri(p))
    if name == "lognormal":
        mean, sd = _of_logarithm(value, arguments)
        return (lambda x: special.ndtr((np.log(x) - mean) / sd)), (lambda p: np.exp(mean + sd * special.ndtri(p)))
    raise ValueError(distribution)


def _triangular(low: float, mode: float, high: float):
    share = (mode - low) / (high - low)

    def cumulative(x: float) -> float:
        return 0.0 if x <= low else 1.0  # only the ends of the range are asked for

    def inverse(p: np.ndarray) -> np.ndarray:
        rising = low + np.sqrt(p * (high - low) * (mode - low))
        falling = high - np.sqrt((1 - p) * (high - low) * (high - mode))
        return np.where(p <= share, rising, falling)

    return cumulative, inverse


def _of_logarithm(value: float, arguments: dict[str, float]) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm; ``factor`` about the median, ``sd`` about the mean."""
    if "factor" in arguments:
        return np.log(value), np.log(arguments["factor"])
    variance = np.log1p((arguments["sd"] / value) ** 2)
    return np.log(value) - variance / 2, np.sqrt(variance)
