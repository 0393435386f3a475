from decimal import Decimal

import pytest

from service.formulas.blood_loss import (
    allowable_blood_loss_bourke_smith_ml,
    allowable_blood_loss_gross_ml,
    allowable_blood_loss_simple_ml,
    blood_loss_ml,
)

FORMS = [allowable_blood_loss_simple_ml, allowable_blood_loss_gross_ml, allowable_blood_loss_bourke_smith_ml]


def test_excision_and_harvest_both_bleed():
    loss = blood_loss_ml(
        Decimal(100), Decimal(50), excision_ml_per_cm2=Decimal("0.8"), harvest_ml_per_cm2=Decimal("0.5"))
    assert loss == 105


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize(("start", "lowest"), [(7, 8), (8, 0), (8, -1)])
def test_a_start_below_the_lowest_value_is_refused(form, start, lowest):
    with pytest.raises(ValueError):
        form(5000, start, lowest)


@pytest.mark.parametrize("form", FORMS)
def test_at_the_lowest_value_nothing_may_be_lost(form):
    assert form(5000, 8, 8) == 0
