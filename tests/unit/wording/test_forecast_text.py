"""Simulated courses in words: tenths, low to high, and what either error costs."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.forecast import CourseForecast
from service.wording.forecast_text import (
    courses_in_words,
    forecast_rows,
    further_fraction,
    word_bottleneck,
    word_course,
    word_coverage,
    word_lapse,
    word_need,
    word_possible,
    write_forecast,
)
from service.wording.plan_text import write_plan_text
from tests.simulation.forecasts import course_forecast, session_forecast, spread
from tests.unit.schedule.plans import hand_made_answer, hand_made_case, hand_made_plan

WANTED = Decimal("0.9")


@pytest.mark.parametrize(("fraction", "words"), [
    ("0", "none of the simulated courses"), ("0.01", "fewer than 1 of 20 simulated courses"),
    ("0.05", "about 1 of 10 simulated courses"), ("0.31", "about 3 of 10 simulated courses"),
    ("0.95", "about 9 of 10 simulated courses"), ("0.96", "nearly all simulated courses"),
    ("0.99", "nearly all simulated courses"), ("1", "all simulated courses"),
])
def test_a_chance_is_said_in_tenths_and_never_surer_than_it_is(fraction, words):
    assert courses_in_words(Decimal(fraction)) == words


def test_a_harvest_says_whether_it_covers_and_what_lacks():
    first, second = word_coverage(session_forecast(), WANTED)
    assert first == ("This harvest covers what is planned in about 7 of 10 simulated courses; 450 cm² would in 9 of "
                     "10.")
    assert "In the others about 25 cm² is lacking" in second


def test_a_harvest_that_covers_surely_enough_names_no_other():
    words = word_coverage(session_forecast(harvest_for_wanted_cm2=Decimal(390)), WANTED)
    assert "would" not in words[0]
    assert word_coverage(session_forecast(harvest_cm2=Decimal(0)), WANTED) == []
    assert len(word_coverage(session_forecast(too_little_cm2=Decimal(0)), WANTED)) == 1


def test_the_course_in_one_sentence():
    case = hand_made_case()
    day = {n: case.date_of(n).isoformat() for n in (20, 31)}
    words = word_course(case, course_forecast())
    assert words.startswith("In 8 of 10 simulated courses: 2 to 3 sessions, closed between ")
    assert all(date in words for date in day.values())
    late = word_course(case, course_forecast(closure_day=spread(20, 24, None)))
    assert late.endswith("on, or not by the end of the plan.")
    never = word_course(case, course_forecast(closure_day=spread(None, None, None), sessions=spread(1, 1, 1)))
    assert never == "In 8 of 10 simulated courses: 1 session, some wound is still open at the end of the plan."


def test_rows_give_low_and_high_and_leave_out_cover_that_is_not_used():
    case = hand_made_case()
    rows = {name: (middle, span) for name, middle, span in forecast_rows(case, course_forecast())}
    assert rows["Sessions"] == ("2", "2 to 3")
    assert rows["Graft lost, all grafts"] == ("70 cm²", "20 to 190 cm²")
    assert "Days with bed under cover" not in rows
    with_cover = forecast_rows(case, course_forecast(cover_days=spread(3, 5, 5)))
    assert ("Days with bed under cover", "5", "3 to 5") in with_cover
    open_end = {name: (middle, span) for name, middle, span in forecast_rows(
        case, course_forecast(closure_day=spread(20, None, None)))}
    assert open_end["Last wound closed"] == ("still open at end", f"{case.date_of(20)} or later")


def test_possible_sessions_say_how_often_they_are_held():
    plan = hand_made_plan()
    possible = [replace(plan.sessions[0], ordinal=n, day=n + 20, is_contingent=True) for n in (3, 4, 5)]
    plan = replace(plan, sessions=(*plan.firm_sessions, *possible))
    fractions = [further_fraction(plan, session, course_forecast()) for session in possible]
    assert fractions == [Decimal("0.31"), Decimal("0.02"), 0]
    assert word_possible(plan, possible[0], course_forecast()) == "possible, in about 3 of 10 simulated courses"


def test_what_holds_a_course_up_is_named_only_where_it_does():
    assert word_bottleneck(course_forecast()) == word_lapse(course_forecast()) == ""
    slow = course_forecast(bottleneck_site_id="left-thigh-front", bottleneck_fraction=Decimal("0.4"))
    assert "left thigh, front: in about 4 of 10 simulated courses" in word_bottleneck(slow)
    assert "have more cover at hand" in word_lapse(course_forecast(cover_lapse_fraction=Decimal("0.12")))


def test_need_is_rounded_up_and_has_its_interval():
    assert word_need(session_forecast()) == "Skin needed: 380 cm² (330-450); planned 400 cm²."


def with_forecast(forecast: CourseForecast | None):
    answer = hand_made_answer()
    return replace(answer, plan=replace(answer.plan, forecast=forecast))


def test_the_text_holds_the_forecast_and_does_without_one():
    assert write_forecast(with_forecast(None)) == []
    text = write_plan_text(with_forecast(course_forecast()))
    for words in ("How sure this is", "In 8 of 10 simulated courses: 2 to 3 sessions",
                  "This harvest covers what is planned in about 7 of 10"):
        assert words in text
    assert "simulated" not in write_plan_text(with_forecast(None))
