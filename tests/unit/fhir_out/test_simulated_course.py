"""Simulated courses as forecasts: probabilities are percentages, intervals periods and words."""

from decimal import Decimal

from tests.simulation.forecasts import course_forecast, session_forecast, spread
from tests.unit.fhir_out.answers import answer, plan
from tests.unit.fhir_out.test_forecasts_and_computed import forecast


def simulated(**changes):
    return answer(plan(forecast=course_forecast(**changes)))


def test_no_course_is_forecast_where_none_was_simulated():
    assert forecast("course-forecast") == []


def test_the_course_says_how_it_was_made():
    (course,) = forecast("course-forecast", simulated())
    assert course["method"]["text"].startswith("1000 simulated courses, seed 1. In 8 of 10 of 1,000")
    assert course["status"] == "preliminary"


def test_closure_is_a_period_from_low_to_high():
    made = simulated()
    (course,) = forecast("course-forecast", made)
    dates = [made.case.date_of(day).isoformat() for day in (20, 31)]
    assert course["prediction"][0]["whenPeriod"] == {"start": dates[0], "end": dates[1]}
    (late,) = forecast("course-forecast", simulated(closure_day=spread(20, None, None)))
    assert late["prediction"][0]["whenPeriod"] == {"start": dates[0]}
    (never,) = forecast("course-forecast", simulated(closure_day=spread(None, None, None)))
    assert "whenPeriod" not in never["prediction"][0]


def test_probabilities_are_percentages():
    sessions = (session_forecast(covers_fraction=Decimal("0.62")),)
    (course,) = forecast("course-forecast", simulated(
        session_forecasts=sessions, cover_lapse_fraction=Decimal("0.07"), bottleneck_site_id="scalp-back",
        bottleneck_fraction=Decimal("0.5")))
    given = [p["probabilityDecimal"] for p in course["prediction"] if "probabilityDecimal" in p]
    assert given == [97, 62, 50, 7]
    (harvest,) = [p for p in course["prediction"] if p["outcome"]["text"].startswith("Session 1")]
    assert harvest["rationale"] == "Skin needed: 380 cm² (330-450); planned 400 cm²."


def test_a_possible_session_has_its_probability_and_a_firm_one_none():
    (sessions,) = forecast("session-forecast", simulated())
    given = {p["outcome"]["text"]: p.get("probabilityDecimal") for p in sessions["prediction"]}
    assert [chance for name, chance in given.items() if name.startswith("Possible")] == [31]
    assert {chance for name, chance in given.items() if name.startswith("Session")} == {None}
