from decimal import Decimal

import pytest

from service.domain.body_region import Place, Region, Side, Surface
from service.domain.case import SkinLimitAge
from service.domain.graft import Thickness
from service.evidence.donor_healing import healing_days, healing_row
from service.evidence.library import load_evidence

EVIDENCE = load_evidence()
SCALP = Place(Region.SCALP, None, Surface.BACK)
THIGH = Place(Region.THIGH, Side.LEFT, Surface.FRONT)
BACK = Place(Region.POSTERIOR_TRUNK, None, Surface.BACK)
CAUTIOUS = Decimal("0.80")


def days(place, thickness=Thickness.THIN, age=SkinLimitAge.ADULT, number=1, probability=CAUTIOUS):
    return healing_days(EVIDENCE, place, thickness, age, number, probability)


@pytest.mark.parametrize(
    ("place", "thickness", "age", "row"),
    [
        (SCALP, Thickness.THIN, SkinLimitAge.INFANT, "scalp-thin-child"),
        (THIGH, Thickness.MEDIUM, SkinLimitAge.ADULT, "thigh-medium-adult"),
        (BACK, Thickness.THICK, SkinLimitAge.OLD, "body-thick-old"),
        (BACK, Thickness.THIN, SkinLimitAge.SMALL_CHILD, "body-thin-child"),
    ],
)
def test_row_follows_site_class_and_age(place, thickness, age, row):
    assert healing_row(place, thickness, age) == row


def test_days_are_the_quantile_rounded_up():
    assert EVIDENCE.quantile("donor-healing-days", "body-thin-adult", CAUTIOUS) == Decimal("14.923")
    assert days(BACK) == 15


def test_each_further_harvest_heals_slower_on_the_body():
    assert days(BACK, number=2) == 23  # 14.923 x 1.5, rounded up
    assert days(BACK, number=3) > days(BACK, number=2) > days(BACK, number=1)


def test_scalp_of_a_child_heals_alike_each_time():
    assert days(SCALP, age=SkinLimitAge.CHILD, number=3) == days(SCALP, age=SkinLimitAge.CHILD) == 7
    assert days(SCALP, number=2) > days(SCALP)


@pytest.mark.parametrize("place", [SCALP, THIGH, BACK])
@pytest.mark.parametrize("age", list(SkinLimitAge))
def test_thicker_skin_never_heals_faster(place, age):
    by_class = [days(place, thickness, age) for thickness in Thickness]
    assert by_class == sorted(by_class)


@pytest.mark.parametrize("place", [SCALP, THIGH, BACK])
@pytest.mark.parametrize("thickness", list(Thickness))
def test_older_skin_never_heals_faster(place, thickness):
    ages = (SkinLimitAge.CHILD, SkinLimitAge.ADULT, SkinLimitAge.OLD)
    by_age = [days(place, thickness, age) for age in ages]
    assert by_age == sorted(by_age)


def test_harvest_number_counts_from_one():
    with pytest.raises(ValueError):
        days(BACK, number=0)
