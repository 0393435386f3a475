from fractions import Fraction

import pytest

from service.formulas.donor_reserve import (
    donor_area_cm2,
    proportional_harvest_limit_percent_tbsa,
    single_harvest_limit_percent_tbsa,
)


@pytest.mark.parametrize("ratio", [Fraction(1), Fraction(3, 2), Fraction(9)])
@pytest.mark.parametrize("never", [15, 20, 30])
def test_at_the_limit_the_donors_cover_exactly_the_burn(never, ratio):
    burn = single_harvest_limit_percent_tbsa(never, ratio)
    assert (100 - never - burn) * ratio == burn


def test_burned_never_donor_regions_leave_more_skin():
    assert proportional_harvest_limit_percent_tbsa(20, 1) > single_harvest_limit_percent_tbsa(20, 1)


def test_donor_area_loses_what_is_burned_unfit_or_out_of_reach():
    assert donor_area_cm2(1000, 0, 0, 1) == 1000
    assert donor_area_cm2(1000, Fraction(1, 4), Fraction(1, 5), Fraction(1, 2)) == 300
    assert donor_area_cm2(1000, 1, 0, 1) == 0
    assert donor_area_cm2(1000, Fraction(11, 10), 0, 1) == 0
