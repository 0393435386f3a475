"""RiskAssessments hold what is forecast, Observations what is computed about now."""

import pytest

from service.domain.plan import Closure, SettledPlan
from service.fhir.write_plan import write_plan_bundle
from tests.unit.fhir_out.answers import SERVER, SETTINGS, THIGH_ID, TRUNK_ID, D, answer, plan, read_result
from tests.unit.fhir_out.bundles import coded, resources, walk


def bundle(made=None):
    return write_plan_bundle(made or answer(), read_result(), SETTINGS)


def forecast(kind, made=None):
    return coded(bundle(made), "RiskAssessment", kind)


def texts(assessment):
    return [prediction["outcome"]["text"] for prediction in assessment["prediction"]]


def test_closure_of_each_wound_has_its_interval():
    (closure,) = forecast("closure-forecast")
    assert texts(closure) == [
        "Not every wound is expected to close within the planned horizon",
        "front of trunk, full thickness: closed",
        "left thigh, front, deep partial: not expected to close within the planned horizon",
    ]
    assert closure["prediction"][1]["whenPeriod"] == {"start": "2026-03-30", "end": "2026-04-11"}


def test_overall_closure_ends_with_the_latest_wound():
    made = plan(closure_day=32, closures=(Closure(TRUNK_ID, 32, 28, 40), Closure(THIGH_ID, 14, 12, 20)))
    (closure,) = forecast("closure-forecast", answer(made))
    assert closure["prediction"][0]["whenPeriod"] == {"start": "2026-04-03", "end": "2026-04-11"}


def test_sessions_are_forecast_with_their_days():
    (sessions,) = forecast("session-forecast")
    assert texts(sessions) == ["Session 1", "Session 2", "Possible session 3"]
    assert sessions["prediction"][1]["whenPeriod"] == {"start": "2026-03-22", "end": "2026-03-22"}


def test_shortfall_names_open_wounds_and_unreserved_loss():
    (shortfall,) = forecast("shortfall-forecast")
    assert texts(shortfall) == [
        "front of trunk, full thickness: 60 cm² still open",
        "left thigh, front, deep partial: 811 cm² still open",
        "left thigh: no skin in reserve for 13 cm² of expected graft loss",
    ]


def test_no_shortfall_is_said_too():
    (shortfall,) = forecast("shortfall-forecast", answer(plan(settled=SettledPlan(), skin_prices=()), events=()))
    assert texts(shortfall) == ["Skin suffices for every wound that was planned"]


def test_donor_reserve_by_site_and_date():
    reserves = {r["code"]["text"]: r for r in forecast("donor-reserve-forecast")}
    assert set(reserves) == {"Donor reserve: right thigh, front", "Donor reserve: scalp"}
    thigh = reserves["Donor reserve: right thigh, front"]["prediction"]
    assert [p["whenPeriod"] for p in thigh] == [
        {"start": "2026-03-02", "end": "2026-03-02"}, {"start": "2026-03-03", "end": "2026-05-31"}]
    assert thigh[1]["outcome"]["text"] == "usable 49.7 cm², healing 850.3 cm², spent 0.0 cm²"


def test_no_probability_is_invented():
    names = {name for r in resources(bundle(), "RiskAssessment") for name, _ in walk(r)}
    assert not names & {"probabilityDecimal", "probabilityRange", "relativeRisk", "qualitativeRisk"}


@pytest.mark.parametrize(("code", "value", "unit"), [
    ("computed-body-surface", D("1.801"), "m2"),
    ("computed-burn-extent", D("16.5"), "%"),
])
def test_computed_values_about_now(code, value, unit):
    (observation,) = coded(bundle(), "Observation", code)
    assert (observation["valueQuantity"]["value"], observation["valueQuantity"]["code"]) == (value, unit)
    assert observation["effectiveDateTime"] == "2026-03-02T08:30:00+00:00"
    assert observation["method"]["text"]


def test_body_surface_is_derived_from_weight_and_height():
    (observation,) = coded(bundle(), "Observation", "computed-body-surface")
    assert observation["derivedFrom"] == [
        {"reference": f"{SERVER}/Observation/r4"}, {"reference": f"{SERVER}/Observation/r3"}]


def test_donor_surface_counts_only_what_is_recorded_as_healed():
    total, *sites = coded(bundle(), "Observation", "computed-donor-surface")
    assert [o["valueQuantity"]["value"] for o in sites] == [D("900.0"), D("150.0")]
    assert total["valueQuantity"]["value"] == D("1050.0")
    assert len(total["hasMember"]) == 2 and "bodySite" not in total


def test_donor_surface_of_a_site_names_region_side_and_surface():
    site = coded(bundle(), "Observation", "computed-donor-surface")[1]
    assert [coding["code"] for coding in site["bodySite"]["coding"]] == ["thigh", "right"]
    assert site["component"][0]["valueCodeableConcept"]["coding"][0]["code"] == "front"


def test_forecasts_are_never_observations():
    codes = {o["code"]["coding"][0]["code"] for o in resources(bundle(), "Observation")}
    assert codes == {"computed-body-surface", "computed-burn-extent", "computed-donor-surface"}


def test_what_is_computed_is_not_final():
    """An earlier answer that comes back with the record must not count as history."""
    for resource_type in ("Observation", "RiskAssessment", "DetectedIssue"):
        assert {r["status"] for r in resources(bundle(), resource_type)} == {"preliminary"}
