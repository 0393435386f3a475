import pytest
from scipy import stats

from service.evidence.beta import beta_cumulative, beta_quantile

SHAPES = [(23.9, 5.2), (1.9, 0.28), (39.1, 4.3), (0.5, 0.5), (12, 6)]


@pytest.mark.parametrize(("a", "b"), SHAPES)
def test_cumulative_agrees_with_an_independent_library(a, b):
    for x in (0.0, 0.001, 0.3, 0.62, 0.9, 0.9999, 1.0):
        assert beta_cumulative(a, b, x) == pytest.approx(stats.beta.cdf(x, a, b), abs=1e-11)


@pytest.mark.parametrize(("a", "b"), SHAPES)
def test_quantile_is_the_inverse(a, b):
    for probability in (0.01, 0.25, 0.5, 0.8, 0.99):
        assert beta_cumulative(a, b, beta_quantile(a, b, probability)) == pytest.approx(probability, abs=1e-9)
