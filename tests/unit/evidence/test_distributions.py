"""Quantiles of the tables against an independent library, and against draws."""

import math
import random
from decimal import Decimal

import pytest
from scipy import stats

from service.evidence.distributions import UnknownDistribution, quantile_of, read_distribution
from service.evidence.library import load_evidence

SPREAD = [row for row in load_evidence() if row.distribution != "fixed"]
PROBABILITIES = ("0.01", "0.25", "0.5", "0.8", "0.975")


def law_from_scipy(row):
    value, low, high = float(row.value), float(row.low), float(row.high)
    name, arguments = read_distribution(row.distribution)
    if name == "uniform":
        return stats.uniform(low, high - low)
    if name == "triangular":
        return stats.triang((value - low) / (high - low), low, high - low)
    if name == "normal":
        return stats.norm(value, arguments["sd"])
    if name == "beta":
        return stats.beta(arguments["a"], arguments["b"])
    if "factor" in arguments:
        return stats.lognorm(math.log(arguments["factor"]), scale=value)
    return stats.lognorm(math.sqrt(math.log1p((arguments["sd"] / value) ** 2)), scale=value
                         / math.sqrt(1 + (arguments["sd"] / value) ** 2))


def quantile(row, probability: str) -> Decimal:
    return quantile_of(row.distribution, row.value, row.low, row.high, Decimal(probability))


@pytest.mark.parametrize("row", SPREAD, ids=lambda row: row.row_id)
def test_quantiles_agree_with_an_independent_library(row):
    law = law_from_scipy(row)
    below, above = law.cdf(float(row.low)), law.cdf(float(row.high))
    expected = law.ppf([below + float(p) * (above - below) for p in PROBABILITIES])
    ours = [float(quantile(row, p)) for p in PROBABILITIES]
    assert ours == pytest.approx(list(expected), abs=1.001e-3)


@pytest.mark.parametrize("row", SPREAD, ids=lambda row: row.row_id)
def test_quantiles_rise_and_stay_in_range(row):
    quantiles = [quantile(row, p) for p in ("0", *PROBABILITIES, "1")]
    assert quantiles == sorted(quantiles)
    assert row.low - Decimal("0.001") <= quantiles[0] and quantiles[-1] <= row.high


@pytest.mark.parametrize(
    "row_id", ["take/island", "donor-healing-days/body-thin-adult", "achieved-expansion-ratio/meshed-1-6"]
)
def test_quantiles_agree_with_draws(row_id):
    row = load_evidence().row(*row_id.split("/"))
    law, generator = law_from_scipy(row), random.Random(20260101)
    draws = law.ppf([generator.random() for _ in range(20_000)])
    kept = sorted(x for x in draws if row.low <= x <= row.high)
    for probability in ("0.25", "0.8"):
        drawn = kept[int(float(probability) * len(kept))]
        assert float(quantile(row, probability)) == pytest.approx(drawn, rel=0.03)


def test_mean_of_a_lognormal_with_sd_is_its_value():
    law = law_from_scipy(load_evidence().row("donor-healing-days", "body-thin-adult"))
    assert (law.mean(), law.std()) == pytest.approx((13, 3))


def test_rounds_down_to_thousandths():
    assert quantile_of("uniform", Decimal(1), Decimal(0), Decimal(2), Decimal("0.33335")) == Decimal("0.666")


def test_fixed_has_one_value():
    for probability in ("0", "0.25", "1"):
        assert quantile_of("fixed", Decimal("0.05"), None, None, Decimal(probability)) == Decimal("0.050")


@pytest.mark.parametrize(
    "distribution", ["gamma(sd=1)", "normal", "normal(mean=1)", "beta(2)", "uniform(0,1)", "normal(sd=x)", ""]
)
def test_unknown_distribution_is_refused(distribution):
    with pytest.raises(ValueError):
        quantile_of(distribution, Decimal(1), Decimal(0), Decimal(2), Decimal("0.5"))


def test_a_spread_without_a_range_is_refused():
    with pytest.raises(UnknownDistribution):
        quantile_of("uniform", Decimal(1), None, None, Decimal("0.5"))


@pytest.mark.parametrize("probability", ["-0.1", "1.1"])
def test_a_probability_outside_its_range_is_refused(probability):
    with pytest.raises(ValueError):
        quantile_of("fixed", Decimal(1), None, None, Decimal(probability))
