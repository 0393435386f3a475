"""Tables of quantiles against an independent library, and against the quantiles that planning uses."""

from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from service.evidence.distributions import quantile_of
from service.evidence.library import load_evidence
from service.simulation.quantile_tables import MOST_DEVIATE, quantile_table, read_table
from tests.unit.evidence.test_distributions import law_from_scipy

SPREAD = [row for row in load_evidence() if row.distribution != "fixed"]
DEVIATES = np.array([-3.2, -1.2816, -0.3, 0.0, 0.5244, 1.2816, 2.9])


@pytest.mark.parametrize("row", SPREAD, ids=lambda row: row.row_id)
def test_tables_agree_with_scipy(row):
    law = law_from_scipy(row)
    below, above = law.cdf(float(row.low)), law.cdf(float(row.high))
    expected = law.ppf(below + stats.norm.cdf(DEVIATES) * (above - below))
    width = float(row.high - row.low)
    assert read_table(quantile_table(row), DEVIATES) == pytest.approx(expected, abs=2e-4 * width)


@pytest.mark.parametrize("row", SPREAD, ids=lambda row: row.row_id)
def test_tables_agree_with_the_quantiles_of_planning(row):
    quarter = quantile_of(row.distribution, row.value, row.low, row.high, Decimal("0.25"))
    drawn = read_table(quantile_table(row), np.array([stats.norm.ppf(0.25)]))[0]
    assert drawn == pytest.approx(float(quarter), abs=1.1e-3 + 2e-4 * float(row.high - row.low))


@pytest.mark.parametrize("row", SPREAD, ids=lambda row: row.row_id)
def test_no_draw_leaves_the_range(row):
    far = read_table(quantile_table(row), np.array([-9.0, -MOST_DEVIATE, MOST_DEVIATE, 9.0]))
    assert (far >= float(row.low)).all() and (far <= float(row.high)).all()


def test_a_fixed_number_is_always_the_same():
    row = load_evidence().row("shape-factor", "flat")
    assert set(read_table(quantile_table(row), DEVIATES)) == {float(row.value)}
