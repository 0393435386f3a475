"""Other plans: each is best for something, none is beaten in everything, all are verified."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.alternative import Goal
from service.domain.course_figures import CourseFigures, SiteHarvest
from service.domain.plan import SettledPlan
from service.evidence.library import load_evidence
from service.planning.alternatives import find_alternatives, is_dominated
from service.planning.beside import look_beside
from service.planning.figures import course_figures
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb, courses_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.verification.verify import verify_plan
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
PLAN = CourseFigures((1, 3, 5), (SiteHarvest(1, "scalp", Decimal(1000)),), (), 30, Decimal(0), Decimal(50),
                     Decimal(1000))


def course(number: int, **changes):
    """A course with the figures of the plan but for some; the number tells plans apart."""
    return SettledPlan(unreserved=(number,)), replace(PLAN, objective_days=Decimal(1100), **changes)


def alternatives(*courses, verified=lambda plan: True):
    return find_alternatives(PLAN, courses, PREFERENCES, verified)


def taken(area: int) -> tuple[SiteHarvest, ...]:
    return (SiteHarvest(1, "scalp", Decimal(area)),)


@pytest.mark.parametrize(("better", "goal"), [
    ({"closure_day": 20}, Goal.EARLIEST_CLOSURE), ({"session_days": (1, 3)}, Goal.FEWEST_SESSIONS),
    ({"scar_days": Decimal(40)}, Goal.LEAST_SCAR), ({"harvests": taken(800)}, Goal.MOST_SKIN_KEPT),
])
def test_each_goal_finds_its_course(better, goal):
    (found,) = alternatives(course(1, **better))
    assert found.goals == (goal,)


def test_one_course_may_serve_two_goals():
    (found,) = alternatives(course(1, closure_day=20, session_days=(1, 3)))
    assert found.goals == (Goal.EARLIEST_CLOSURE, Goal.FEWEST_SESSIONS)


@pytest.mark.parametrize("worse", [
    {"scar_days": Decimal(40), "open_cm2": Decimal(1)},  # leaves more open
    {"scar_days": Decimal(40), "objective_days": Decimal(1501)},  # costs half as much again
    {"scar_days": Decimal("47.6")},  # less than a twentieth gained
    {"closure_day": None, "scar_days": Decimal(50)},
])
def test_what_is_no_sensible_choice_is_not_named(worse):
    plan, figures = course(1)
    assert alternatives((plan, replace(figures, **worse))) == ()


def test_a_course_that_another_betters_in_everything_is_dropped():
    good, beaten = course(1, scar_days=Decimal(30), session_days=(1, 3)), course(2, scar_days=Decimal(31))
    assert [found.plan for found in alternatives(beaten, good)] == [good[0]]
    assert is_dominated(beaten[1], [good[1]]) and not is_dominated(good[1], [beaten[1], good[1]])


def test_what_verification_refuses_does_not_leave():
    assert alternatives(course(1, closure_day=20), verified=lambda plan: False) == ()


@pytest.mark.parametrize("seed", [0, 2, 3, 4, 19, 21])
def test_alternatives_of_random_cases_keep_every_rule_and_leave_no_more_open(seed):
    case = random_case(seed)
    preferences = PREFERENCES.with_overrides(case.preference_overrides)
    plan = best_by_rule_of_thumb(case, EVIDENCE, preferences).plan
    beside = look_beside(case, plan, EVIDENCE, preferences,
                         is_verified=lambda other: not verify_plan(case, other, EVIDENCE, preferences))
    assert beside.figures == course_figures(PlanningQuantities(case, EVIDENCE, preferences), plan)
    for one in beside.alternatives:
        assert one.goals and one.plan != plan
        assert verify_plan(case, one.plan, EVIDENCE, preferences) == ()
        assert one.plan.open_cm2 <= plan.open_cm2
        others = [beside.figures, *(other.figures for other in beside.alternatives)]
        assert not is_dominated(one.figures, others)


def test_no_more_courses_are_played_than_allowed_and_always_the_same():
    case = random_case(2)
    assert courses_by_rule_of_thumb(case, EVIDENCE, PREFERENCES, 0) == ()
    three = courses_by_rule_of_thumb(case, EVIDENCE, PREFERENCES, 3)
    assert len(three) <= 3
    assert courses_by_rule_of_thumb(case, EVIDENCE, PREFERENCES, 6)[:len(three)] == three
