from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.formulas.expansion import (
    covered_area_cm2,
    harvest_area_cm2,
    plate_area_cm2,
    plates_count,
    skin_placed_cm2,
    squares_of_strip_count,
)

UNITS = pint.UnitRegistry()
areas = st.fractions(min_value=1, max_value=20_000)
ratios = st.fractions(min_value=Fraction(9, 10), max_value=9)
shapes = st.fractions(min_value=Fraction(3, 4), max_value=1)
losses = st.fractions(min_value=0, max_value=Fraction(1, 5))


@pytest.mark.parametrize("side_mm", [1, 30, 42, 55.5])
def test_plate_area_agrees_with_a_unit_library(side_mm):
    expected = ((side_mm * UNITS.mm) ** 2).to("cm^2").magnitude
    assert plate_area_cm2(side_mm) == pytest.approx(expected)


@given(areas, ratios, shapes, losses)
def test_what_is_harvested_covers_exactly_the_wound(area, ratio, shape, loss):
    harvested = harvest_area_cm2(area, ratio, shape, loss)
    assert covered_area_cm2(skin_placed_cm2(harvested, loss), ratio, shape) == area


@given(areas, ratios, shapes)
def test_plates_suffice_and_one_less_does_not(area, ratio, shape):
    plate = Fraction("17.64")
    count = plates_count(area, plate, ratio, shape)
    assert covered_area_cm2(count * plate, ratio, shape) >= area
    assert covered_area_cm2((count - 1) * plate, ratio, shape) < area


def test_more_loss_less_shape_or_less_expansion_need_more_skin():
    easy = harvest_area_cm2(1000, 1.6, 1.0, 0.0)
    assert harvest_area_cm2(1000, 1.6, 1.0, 0.1) > easy
    assert harvest_area_cm2(1000, 1.6, 0.85, 0.0) > easy
    assert harvest_area_cm2(1000, 1.3, 1.0, 0.0) > easy


def test_exact_numbers_stay_exact():
    assert plate_area_cm2(Decimal(42)) == Decimal("17.64")
    assert skin_placed_cm2(Decimal("100.0"), Decimal("0.05")) == Decimal("95")


@pytest.mark.parametrize(
    ("width_mm", "across"), [(25, 0), (51, 1), (76, 1), (84, 2), (100, 2), (102, 2)]
)
def test_squares_across_a_strip(width_mm, across):
    assert squares_of_strip_count(width_mm, 250, 42) == across * 5
