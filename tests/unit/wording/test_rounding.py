"""Needs are rounded up, supplies down, and the unit is always there."""

from decimal import Decimal

import pytest

from service.wording.rounding import interval, need_cm2, need_cm2_with_interval, percent_tbsa, supply_cm2

D = Decimal


@pytest.mark.parametrize(("area", "need", "supply"), [
    ("1234.1", "1,235 cm²", "1,234 cm²"), ("1234.0", "1,234 cm²", "1,234 cm²"),
    ("0.1", "1 cm²", "0 cm²"), ("999.9", "1,000 cm²", "999 cm²"),
])
def test_need_up_supply_down(area, need, supply):
    assert need_cm2(D(area)) == need
    assert supply_cm2(D(area)) == supply


def test_interval_is_a_need_at_both_ends():
    assert need_cm2_with_interval(D(820), D("699.5"), D("939.2")) == "820 cm² (700-940)"
    assert interval(None, D(1)) == ""


def test_percent_has_one_decimal():
    assert percent_tbsa(D("20.04")) == "20.0 %TBSA"
