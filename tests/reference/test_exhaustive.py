"""Small cases searched exhaustively: nobody beats the exact problems, no bound lies, and what is called best is."""

from __future__ import annotations

import os
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from statistics import median

import pytest

from service.domain.case import GraftingCase
from service.domain.plan import PlanOutcome, SettledPlan
from service.planning.optimise import OptimisedPlan, optimise_course
from service.planning.rule_of_thumb import best_by_rule_of_thumb
from service.verification.verify import verify_plan
from tests.reference.exhaustive import CRUMB_CM2, Exhaustive, search_exhaustively
from tests.reference.planned import EVIDENCE, PREFERENCES
from tests.reference.replay import Replay
from tests.reference.tiny_cases import tiny_case

#: Each takes about a quarter of a second; ``EXHAUSTIVE_CASES`` sets how many.
CASES = range(int(os.environ.get("EXHAUSTIVE_CASES", "300")))
#: Time for one small case: it sets the work that the search may do.
SECONDS = 0.3
#: What rounding to 0.1 cm² and to whole plates may cost or save: so many %TBSA-days, or that share of all.
ROUNDING_DAYS = Decimal(2)
ROUNDING_SHARE = Decimal("0.005")


@dataclass(frozen=True)
class Judged:
    case: GraftingCase
    exhaustive: Exhaustive
    thumb: SettledPlan
    found: OptimisedPlan

    def objective_days(self, plan: SettledPlan) -> Decimal:
        return Replay(self.case, plan, EVIDENCE, PREFERENCES).objective_days()


@lru_cache(maxsize=len(CASES))
def judged(seed: int) -> Judged:
    case = tiny_case(seed)
    thumb = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)
    found = optimise_course(
        case, EVIDENCE, PREFERENCES, thumb, seconds=SECONDS,
        accepts=lambda plan: verify_plan(case, plan, EVIDENCE, PREFERENCES) == ())
    return Judged(case, search_exhaustively(case, EVIDENCE, PREFERENCES), thumb.plan, found)


def test_the_best_exact_problems_become_plans_that_verify():
    """So that the reference is a plan somebody could carry out, and costs about what its problem says.

    In a few cases skin or blood is so tight that rounding to 0.1 cm² finds no room.
    """
    assert len(built()) >= 0.95 * len(CASES)
    for one in built():
        best, percent_cm2 = one.exhaustive.day_sets[0], float(one.case.body_surface_m2) * 100
        assert float(one.exhaustive.plan.open_cm2) == pytest.approx(best.open_percent * percent_cm2, rel=0.02, abs=40)
    beyond = [float(one.exhaustive.objective_days) / one.exhaustive.day_sets[0].objective_days for one in built()]
    assert 0.999 < median(beyond) < 1.001


@pytest.mark.parametrize("seed", CASES)
def test_no_plan_of_the_service_beats_the_exact_problems(seed):
    """Neither the rule of thumb nor the optimiser: less open, or as much for less, than any set of days allows.

    The exact problems put a price on what is left open: where a crumb of it would cost more days, they leave it.
    """
    case, best = judged(seed).case, judged(seed).exhaustive.day_sets[0]
    least_open = Decimal(best.open_percent) * case.body_surface_m2 * 100
    for plan in (judged(seed).thumb, judged(seed).found.plan):
        assert verify_plan(case, plan, EVIDENCE, PREFERENCES) == ()
        if plan.open_cm2 < least_open - CRUMB_CM2:
            price = Decimal((best.with_price_of_open - best.objective_days) / best.open_percent)
            priced = judged(seed).objective_days(plan) + price * case.percent_tbsa(plan.open_cm2)
            assert priced >= Decimal(best.with_price_of_open) - ROUNDING_DAYS
        elif plan.open_cm2 <= least_open + CRUMB_CM2:
            least = Decimal(best.objective_days)
            assert judged(seed).objective_days(plan) >= least - max(ROUNDING_DAYS, least * ROUNDING_SHARE)


@pytest.mark.parametrize("seed", CASES)
def test_no_plan_costs_less_than_the_bound(seed):
    """The bound speaks of plans that leave as little open as the plan that was found."""
    exhaustive, found = judged(seed).exhaustive, judged(seed).found
    if found.bound_days is not None:
        assert found.bound_days <= found.objective_days
        if exhaustive.plan is not None and exhaustive.plan.open_cm2 <= found.plan.open_cm2:
            assert found.bound_days <= exhaustive.objective_days


@pytest.mark.parametrize("seed", CASES)
def test_what_is_called_optimal_is_not_beaten_by_more_than_its_gap(seed):
    exhaustive, found = judged(seed).exhaustive, judged(seed).found
    assert found.outcome in (PlanOutcome.OPTIMAL, PlanOutcome.BEST_FOUND, PlanOutcome.RULE_OF_THUMB)
    if found.outcome is PlanOutcome.OPTIMAL and exhaustive.plan is not None:
        percent_cm2 = judged(seed).case.body_surface_m2 * 100
        assert exhaustive.plan.open_cm2 >= found.plan.open_cm2 - percent_cm2 / 20
        if exhaustive.plan.open_cm2 <= found.plan.open_cm2:
            assert found.objective_days - exhaustive.objective_days <= found.gap_days


def built() -> list[Judged]:
    return [judged(seed) for seed in CASES if judged(seed).exhaustive.plan is not None]


def test_the_set_asks_something():
    """Best plans of one, two and three sessions, some that leave wound open, and optimal answers to hold to."""
    assert {1, 2, 3} <= {len(one.exhaustive.plan.firm_sessions) for one in built()}
    assert 0.1 <= sum(one.exhaustive.plan.open_cm2 > 0 for one in built()) / len(CASES) <= 0.7
    assert sum(one.found.outcome is PlanOutcome.OPTIMAL for one in built()) >= len(CASES) / 10


def test_most_plans_are_near_the_best():
    """Where the service leaves as little open as can be."""
    beyond = [float(one.found.objective_days / one.exhaustive.objective_days - 1) for one in built()
              if one.found.plan.open_cm2 <= one.exhaustive.plan.open_cm2 + CRUMB_CM2]
    assert len(beyond) >= len(CASES) / 2
    assert median(beyond) < 0.02
