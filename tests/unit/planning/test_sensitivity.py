"""Which weights matter for the first session: what is claimed holds when the objective is computed anew."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.evidence.library import load_evidence
from service.planning.figures import course_figures
from service.planning.objective import weighted_open_days
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb, courses_by_rule_of_thumb
from service.planning.sensitivity import WEIGHTS, find_sensitivity, first_session
from service.preferences.library import load_preferences
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
SEEDS = [0, 2, 3, 4, 19, 21, 27, 29]


def tried(seed: int, preferences=PREFERENCES):
    case = random_case(seed)
    quantities = PlanningQuantities(case, EVIDENCE, preferences)
    plan = best_by_rule_of_thumb(case, EVIDENCE, preferences).plan
    courses = [c for c in courses_by_rule_of_thumb(case, EVIDENCE, preferences, 9)
               if c != plan and c.open_cm2 <= plan.open_cm2]
    found = find_sensitivity(case, (plan, course_figures(quantities, plan)),
                             [(c, course_figures(quantities, c)) for c in courses], EVIDENCE, preferences)
    return case, plan, courses, found


def changed(weight: str, is_doubled: bool):
    name, _, region = weight.partition("/")
    rows = [row for row in PREFERENCES if row.name == name and region in ("", row.applies_to)]
    return PREFERENCES.with_overrides(tuple(
        (row.key, min(row.high, max(row.low, row.value * 2 if is_doubled else row.value / 2))) for row in rows))


def test_some_of_the_cases_have_an_effect_and_some_have_none():
    effects = [bool(tried(seed)[3].effects) for seed in SEEDS]
    assert any(effects) and not all(effects)


@pytest.mark.parametrize("seed", SEEDS)
def test_an_effect_is_another_first_session_that_costs_less_under_the_weight(seed):
    case, plan, courses, found = tried(seed)
    for effect in found.effects:
        quantities = PlanningQuantities(case, EVIDENCE, changed(effect.weight, effect.is_doubled))
        cost = {c: weighted_open_days(quantities, c) for c in (plan, *courses)}
        assert effect.first != found.recommended
        assert any(first_session(c) == effect.first and cost[c] < cost[plan] for c in courses)


def test_a_weight_of_nothing_or_at_the_end_of_its_range_is_not_tried_in_that_direction():
    overrides = (("session-weight", Decimal(0)), ("cover-weight", Decimal(5)))
    preferences = PREFERENCES.with_overrides(overrides)
    found, usual = tried(2, preferences)[3], tried(2)[3]
    assert usual.tried_count - found.tried_count == 1
    assert not [e for e in found.effects if (e.weight, e.is_doubled) == ("cover-weight", True)]


def test_a_weight_names_its_family():
    assert {row.name for row in PREFERENCES} >= set(WEIGHTS)


def test_a_little_more_skin_is_the_same_first_session():
    case, plan, _, _ = tried(2)
    figures = course_figures(PlanningQuantities(case, EVIDENCE, PREFERENCES), plan)
    day = plan.firm_sessions[0].day
    harvests = tuple(replace(h, area_cm2=h.area_cm2 * Decimal("1.05")) if h.day == day else h for h in plan.harvests)
    found = find_sensitivity(case, (plan, figures), [(replace(plan, harvests=harvests), figures)], EVIDENCE,
                             PREFERENCES)
    assert found.compared_count == 0
