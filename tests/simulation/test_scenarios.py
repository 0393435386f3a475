"""What is drawn: spreads, correlations, and what moves together."""

import numpy as np
import pytest
from scipy import stats

from service.domain.body_region import Region, Side, Surface
from service.domain.case import SkinLimitAge
from service.domain.graft import GraftKind, GraftMethod, Thickness
from service.simulation.scenarios import Parameters
from tests.records import place
from tests.simulation.books import EVIDENCE, scenarios_of

SIZE = 20_000
THIGH = place(Region.THIGH, Side.LEFT, Surface.FRONT)


@pytest.fixture(scope="module")
def fixed():
    return scenarios_of(SIZE, parameters=Parameters.VALUES)


def rank_correlation(first, second) -> float:
    return stats.spearmanr(first, second).statistic


def test_takes_of_one_patient_hang_together_as_the_source_says(fixed):
    first, second = (fixed.take(session, 0, GraftKind.ISLAND, is_colonised=False) for session in (0, 1))
    shared = float(EVIDENCE.value("take-correlation", "within-patient"))
    expected = 6 / np.pi * np.arcsin(shared / 2)  # rank correlation of a normal copula
    assert rank_correlation(first, second) == pytest.approx(expected, abs=0.02)


def test_takes_spread_as_single_grafts_and_not_as_means(fixed):
    island = fixed.take(0, 0, GraftKind.ISLAND, is_colonised=False)
    assert (island.mean(), island.std()) == pytest.approx((0.79, 0.25), abs=0.01)
    meshed = fixed.take(0, 0, GraftKind.MESHED, is_colonised=False)
    assert meshed.mean() > island.mean() and meshed.std() < island.std()


def test_a_colonised_bed_takes_less(fixed):
    clean, colonised = (fixed.take(0, 0, GraftKind.MESHED, is_colonised=c) for c in (False, True))
    assert colonised == pytest.approx(clean * float(EVIDENCE.value("take-multiplier", "colonised")))


def test_healing_is_slow_in_the_same_patients_on_donor_sites_and_grafts(fixed):
    first = fixed.healing_days(1, 0, THIGH, Thickness.THIN, SkinLimitAge.ADULT, 1)
    other = fixed.healing_days(1, 1, THIGH, Thickness.THIN, SkinLimitAge.ADULT, 1)
    closing = fixed.closure_days(1, 0, GraftMethod.MESHED_1_3)
    assert rank_correlation(first, other) == pytest.approx(0.48, abs=0.03)
    assert rank_correlation(first, closing) == pytest.approx(0.48, abs=0.03)


def test_skin_harvested_before_heals_later(fixed):
    first, second = (fixed.healing_days(1, 0, THIGH, Thickness.THIN, SkinLimitAge.ADULT, n) for n in (1, 2))
    assert (second >= first).all() and second.mean() > first.mean()


def test_expansion_differs_by_session_and_method(fixed):
    ratios = [fixed.ratio(session, method) for session in (0, 1) for method in (
        GraftMethod.MESHED_1_3, GraftMethod.ISLAND_1_3)]
    for index, ratio in enumerate(ratios):
        for other in ratios[index + 1:]:
            assert abs(rank_correlation(ratio, other)) < 0.03
    assert fixed.ratio(0, GraftMethod.MESHED_1_3) is ratios[0]  # the same session is the same draw


def test_burn_size_error_grows_with_the_burn_up_to_its_points(fixed):
    small, large = (fixed.size_factor(percent) * percent - percent for percent in (10.0, 60.0))
    assert small.std() == pytest.approx(1.5, abs=0.03)
    assert large.std() == pytest.approx(3.0, abs=0.05)
    assert large.mean() == pytest.approx(0, abs=0.07)
    assert (fixed.size_factor(1.0) >= 0).all()


def test_parameters_are_held_or_drawn_from_their_ranges(fixed):
    drawn = scenarios_of(SIZE)
    for parameter, applies_to in (("handling-loss", "any"), ("shape-factor", "concave"),
                                  ("take-correlation", "within-patient"), ("burn-size-error", "points")):
        row = EVIDENCE.row(parameter, applies_to)
        assert set(fixed.constant(parameter, applies_to)) == {float(row.value)}
        values = drawn.constant(parameter, applies_to)
        assert values.min() >= float(row.low) and values.max() <= float(row.high)
        assert values.std() > 0.1 * float(row.high - row.low) / 2
