"""The samples that integrators copy are read without a fault."""

from datetime import date
from decimal import Decimal

import pytest

from service.domain.body_region import Region
from service.domain.burn_wound import BedState
from service.domain.case import Act
from service.domain.donor_site import DonorState
from service.domain.graft import GraftMethod
from service.domain.patient import TreatmentIntent
from service.fhir.read_case import read_request
from tests.conftest import ANSWERED_SAMPLES, SAMPLES

COMPLETE = [path.name for path in ANSWERED_SAMPLES if path.stem != "missing-weight"]


def read(name: str):
    return read_request((SAMPLES / f"{name}.json").read_bytes())


@pytest.mark.parametrize("name", COMPLETE)
def test_a_complete_sample_gives_a_record_without_notes(name):
    result = read_request((SAMPLES / name).read_bytes())
    assert result.record is not None
    assert (result.missing, result.notes, result.faults) == ((), (), ())
    assert {one.reason for one in result.set_aside} <= {
        "superseded", "entered-in-error", "status-not-final", "own-answer"}
    assert result.request.time_zone == "Europe/Zurich"


def test_the_sample_without_weight_names_the_weight_and_gives_no_record():
    result = read("missing-weight")
    assert result.record is None
    assert [missing.datum for missing in result.missing] == ["weight"]


def test_the_history_sample_links_takes_to_their_grafts():
    record = read("adult-60-percent-after-session-1").record
    takes = {str(p.place.key): p.take_fraction for p in record.placements}
    assert {key: str(value) for key, value in takes.items()} == {
        "anterior-trunk": "0.88", "right-thigh-front": "0.93", "right-lower-leg-front": "None"}
    assert len(record.excisions) == 3 and len(record.harvests) == 3 and len(record.covers) == 3


def test_the_poor_takes_are_those_read_last():
    record = read("adult-60-percent-after-session-2-poor-take").record
    takes = [(p.place.key, p.day.day, str(p.take_fraction)) for p in record.placements]
    assert takes == [
        ("anterior-trunk", 5, "0.72"), ("right-thigh-front", 5, "0.93"), ("right-lower-leg-front", 5, "0.55"),
        ("anterior-trunk", 13, "0.65"), ("posterior-trunk", 13, "0.52")]
    assert {b.state for b in record.beds} == {BedState.COLONISED, BedState.READY}
    assert {s.state for s in record.donor_states} == {DonorState.HEALED, DonorState.HEALING}
    assert [h.place.key for h in record.harvests].count("scalp") == 2


def test_pounds_inches_grams_per_litre_and_fahrenheit_become_house_units():
    patient = read("pounds-and-inches").record.patient
    measured = (patient.weight_kg, patient.height_cm, patient.haemoglobin_g_dl, patient.core_temperature_celsius)
    assert [round(m.value, 1) for m in measured] == [
        Decimal("85.0"), Decimal("179.1"), Decimal("14.8"), Decimal("36.9")]


def test_percent_of_region_is_kept_as_it_was_given():
    extents = read("percent-of-region-input").record.extents
    assert all(e.percent_tbsa is None and e.percent_of_region for e in extents)
    assert [e.over_joint_fraction for e in extents if e.place.key == "left-thigh-front"] == [Decimal("0.15")]


def test_a_bed_under_cover_comes_with_the_stock_that_is_left():
    result = read("cover-stock-given")
    assert result.request.cover_stock_cm2 == 2400
    assert [(c.place.key, c.area_cm2) for c in result.record.covers] == [("anterior-trunk", 1600)]


def test_each_infected_bed_keeps_its_own_state():
    beds = {b.place.key: b.state for b in read("infected-bed").record.beds}
    assert beds["right-thigh-front"] is BedState.STREPTOCOCCUS
    assert beds["right-lower-leg-front"] is BedState.INFECTED


def test_comfort_care_is_read_as_the_intent():
    assert read("comfort-care").record.patient.treatment_intent is TreatmentIntent.COMFORT


def test_decisions_already_taken_are_read_with_what_is_watched_and_kept():
    result = read("fixed-decisions")
    request = result.request
    assert [(d.act, d.region, d.day, d.method) for d in request.fixed_decisions] == [
        (Act.PLACE, Region.HAND, date(2026, 3, 10), GraftMethod.SHEET),
        (Act.HARVEST, Region.THIGH, None, None),
        (Act.EXCISE, Region.THIGH, date(2026, 3, 13), None)]
    assert len(request.theatre_days) == 6 and request.limb_tourniquet is True
    assert [(k.region, k.area_cm2) for k in request.keep_for] == [(Region.FACE, 360)]
    watched = {e.place.key: e.watch_until for e in result.record.extents if e.watch_until}
    assert watched == {"face": date(2026, 3, 18), "anterior-trunk": date(2026, 3, 16)}


@pytest.mark.parametrize(("name", "born", "kilograms"), [
    ("infant-20-percent", date(2025, 7, 10), "8.3"),
    ("elderly-25-percent", date(1947, 11, 2), "58.5"),
    ("obese-40-percent", date(1979, 9, 25), "142"),
])
def test_ages_and_weights_that_change_a_rule(name, born, kilograms):
    patient = read(name).record.patient
    assert patient.birth_date.earliest() == patient.birth_date.latest() == born
    assert patient.weight_kg.value == Decimal(kilograms)
