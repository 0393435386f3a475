"""Measurements that hold a session back, and those that are too old to plan with."""

from datetime import date
from decimal import Decimal

import pytest

from service.assessment.assess import assess_case
from service.domain.body_region import Region
from service.domain.patient import BirthDate, Measured
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from tests.records import TODAY, burn, measured, patient, place, record, request


def codes(person):
    case = assess_case(record(burn(place(Region.ANTERIOR_TRUNK), "5"), patient=person), request(),
                       load_evidence(), load_preferences())
    return {f.code for f in case.findings}


@pytest.mark.parametrize(("celsius", "code"), [("34.9", "core-temperature-stop"), ("35.5", "core-temperature-low")])
def test_cold_patient_is_held_back(celsius, code):
    assert code in codes(patient(core_temperature_celsius=measured(celsius)))


@pytest.mark.parametrize("celsius", ["36", "37.2", None])
def test_warm_or_unmeasured_patient_is_not(celsius):
    temperature = None if celsius is None else measured(celsius)
    assert not codes(patient(core_temperature_celsius=temperature)) & {"core-temperature-stop", "core-temperature-low"}


@pytest.mark.parametrize(("haemoglobin", "held"), [("8", True), ("7.4", True), ("8.1", False)])
def test_haemoglobin_at_the_floor_is_a_hold(haemoglobin, held):
    assert ("haemoglobin-low" in codes(patient(haemoglobin_g_dl=measured(haemoglobin)))) is held


@pytest.mark.parametrize(("birth_year", "weighed", "said"), [
    (2022, date(2026, 2, 20), True), (2022, TODAY, False), (1986, date(2026, 2, 1), False)])
def test_old_weight_is_said_of_a_child_only(birth_year, weighed, said):
    weight = Measured(Decimal(16), weighed, "entry[1]")
    height = Measured(Decimal(100), TODAY, "entry[2]")
    person = patient(birth_date=BirthDate(birth_year, 1, 1), weight_kg=weight, height_cm=height)
    assert ("weight-old-in-child" in codes(person)) is said
