"""Limits of a session: area by age, blood by what can be replaced, never more for less data."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region
from service.domain.patient import BirthDate, Sex
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from tests.records import burn, measured, patient, place, record, request

TRUNK = place(Region.ANTERIOR_TRUNK)


def case_of(person, **changes):
    return assess_case(record(burn(TRUNK, "5"), patient=person), request(**changes), load_evidence(),
                       load_preferences())


@pytest.mark.parametrize(("birth_year", "percent"), [(1986, 20), (1960, 10), (2024, 15), (2026, 10)])
def test_area_by_age(birth_year, percent):
    case = case_of(patient(birth_date=BirthDate(birth_year, 1, 1)))
    assert case.percent_tbsa(case.limits.grafted_cm2) == pytest.approx(Decimal(percent), abs=Decimal("0.01"))


def test_callers_area_is_kept_below_the_hard_limit():
    assert case_of(patient(), session_area_limit_percent_tbsa=Decimal(12)).limits.grafted_cm2 == Decimal("2400.0")
    assert case_of(patient(), session_area_limit_percent_tbsa=Decimal(40)).limits.grafted_cm2 == Decimal("5000.0")


def test_blood_is_the_smaller_of_half_the_volume_and_what_is_replaced():
    # 75 mL/kg × 80 kg = 6,000 mL; 12 to 8 g/dL allows 2,000 mL (simple form); each unit adds 300
    assert case_of(patient(), transfusion_units=0).limits.blood_ml == 2000
    assert case_of(patient(), transfusion_units=2).limits.blood_ml == 2600
    assert case_of(patient(), transfusion_units=20).limits.blood_ml == 3000


def test_units_not_stated_add_nothing():
    assert case_of(patient(), transfusion_units=None).limits.blood_ml == 2000


def test_low_haemoglobin_without_units_allows_no_loss():
    assert case_of(patient(haemoglobin_g_dl=measured("7.5")), transfusion_units=0).limits.blood_ml == 0


@pytest.mark.parametrize("sex", [Sex.OTHER, Sex.UNKNOWN])
def test_unknown_sex_takes_the_smaller_volume(sex):
    assert case_of(patient(sex=sex)).blood_volume_ml == case_of(patient(sex=Sex.FEMALE)).blood_volume_ml


def test_birth_year_alone_is_read_at_both_ends():
    """Born some day in 1966: 59 or 60; the limit of the older reading holds, and it is said."""
    case = case_of(patient(birth_date=BirthDate(1965)))
    exact = case_of(patient(birth_date=BirthDate(1965, 1, 1)))
    assert case.limits.grafted_cm2 == exact.limits.grafted_cm2
    assert "birth-date-imprecise" in {f.code for f in case.findings}


def test_hard_minutes_hold():
    assert case_of(patient(), session_minutes_limit=Decimal(500)).limits.procedure_minutes == 240
    assert case_of(patient(), session_minutes_limit=Decimal(120)).limits.procedure_minutes == 120


def test_obesity_shows_both_formulas():
    heavy = replace(patient(), weight_kg=measured("150"))
    assert "body-surface-formulas-differ" in {f.code for f in case_of(heavy).findings}
