"""Laws of the optimised course over random cases: verified, never worse than the rule, bound never above a plan."""

from functools import lru_cache

import pytest

from service.domain.plan import PlanOutcome, SearchEnd
from service.domain.session import CoverKind
from service.evidence.library import load_evidence
from service.planning.candidates import LADDER
from service.planning.choose_days import course_slots
from service.planning.course import Policy
from service.planning.course_bound import branch, solve_root
from service.planning.course_classes import merged_sites, merged_wounds
from service.planning.course_model import Facts
from service.planning.losses import reserve_for_losses
from service.planning.objective import weighted_open_days
from service.planning.optimise import optimise_course
from service.planning.quantities import PlanningQuantities
from service.planning.rule_of_thumb import best_by_rule_of_thumb, cover_holds, play_course
from service.planning.settle import settle
from service.planning.wound_facts import WoundFacts
from service.preferences.library import load_preferences
from service.solver.highs import HighsSolver
from service.solver.limits import SEARCH
from service.verification.verify import verify_plan
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
SEEDS = range(400, 415)


@lru_cache(maxsize=64)
def optimised(seed):
    case = random_case(seed)
    return case, optimise_course(case, EVIDENCE, PREFERENCES, seconds=0.5, accepts=lambda plan: not verify_plan(
        case, plan, EVIDENCE, PREFERENCES))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_plan_is_verified_and_never_worse_than_the_rule_of_thumb(seed):
    case, found = optimised(seed)
    thumb = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)
    assert not verify_plan(case, found.plan, EVIDENCE, PREFERENCES)
    assert (found.plan.open_cm2, found.objective_days) <= (thumb.plan.open_cm2, thumb.objective_days)
    assert (found.thumb_open_cm2, found.thumb_days) == (thumb.plan.open_cm2, thumb.objective_days)
    assert found.objective_days == weighted_open_days(PlanningQuantities(case, EVIDENCE, PREFERENCES), found.plan)


def test_what_is_excised_ahead_can_be_reached():
    case, refused = random_case(35), []
    assert case.request.cover_stock_cm2

    def accepts(plan) -> bool:
        refused.extend(verify_plan(case, plan, EVIDENCE, PREFERENCES))
        return not refused

    found = optimise_course(case, EVIDENCE, PREFERENCES, seconds=1, accepts=accepts)
    assert any(c.kind is CoverKind.TEMPORARY for c in found.plan.covers) and not refused


@pytest.mark.parametrize("seed", SEEDS)
def test_the_bound_is_not_above_the_plan_and_the_outcome_follows_from_it(seed):
    _, found = optimised(seed)
    assert found.search_end is SearchEnd.WORK
    assert found.bound_days is not None and found.bound_days <= found.objective_days
    assert 0 <= found.gap <= 1
    if found.outcome is PlanOutcome.OPTIMAL:
        assert found.gap <= PREFERENCES.value("optimal-gap")


@pytest.mark.parametrize("seed", range(500, 540))
def test_no_plan_that_leaves_as_little_open_costs_less_than_the_bound(seed):
    """Plans of every level of expansion, with and without excising ahead, beside the bound for what they leave."""
    case = random_case(seed)
    quantities = PlanningQuantities(case, EVIDENCE, PREFERENCES)
    wounds = tuple(WoundFacts(w, quantities) for w in case.wounds)
    facts = Facts(quantities, merged_wounds(quantities, wounds), merged_sites(quantities), case.first_session_day)
    for level in LADDER[::3]:
        for ahead in (False, True):
            policy = Policy(level, excises_ahead=ahead)
            course = play_course(quantities, wounds, policy)
            if not cover_holds(course):
                continue
            plan, solver = settle(course, reserve_for_losses(course, policy)), HighsSolver()
            open_percent = float(plan.open_cm2) * 10 / float(quantities.percent_tenths)
            root = solve_root(facts, course_slots(facts, SEARCH.single_days, SEARCH.fine_slots), open_percent, solver)
            cost = float(weighted_open_days(quantities, plan))
            assert root.bound <= cost + 0.05
            assert root.bound <= branch(root, cost, 8, solver) <= cost + 0.05


def test_the_same_case_gives_the_same_plan():
    case = random_case(30)
    plans = [optimise_course(case, EVIDENCE, PREFERENCES, seconds=0.5, accepts=lambda plan: True) for _ in range(3)]
    assert len({(str(p.plan), p.bound_days, p.gap) for p in plans}) == 1
