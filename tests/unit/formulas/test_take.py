from decimal import Decimal

from service.evidence.library import load_evidence
from service.formulas.take import expected_take_fraction, lost_area_cm2

EVIDENCE = load_evidence()


def test_a_colonised_bed_takes_less():
    good = EVIDENCE.value("take", "island")
    assert expected_take_fraction(good, EVIDENCE.value("take-multiplier", "colonised")) == Decimal("0.6150")
    assert expected_take_fraction(good, 1) == good


def test_what_does_not_take_is_open_again():
    assert lost_area_cm2(Decimal("1000"), Decimal("0.82")) == Decimal("180")
    assert lost_area_cm2(500, 1) == 0
    assert lost_area_cm2(500, 0) == 500
