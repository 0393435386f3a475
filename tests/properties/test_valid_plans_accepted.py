"""Verification refuses no valid plan: neither the planner's nor plans built without it."""

from __future__ import annotations

import pytest

from service.domain.case import GraftingCase
from service.domain.plan import SettledPlan
from service.domain.rule import Rule
from service.planning.rule_of_thumb import plan_by_rule_of_thumb
from service.verification.verify import verify_plan
from service.verification.violation import Violation
from tests.random_cases import random_case, random_decided_case
from tests.unit.verification.plan_builder import EVIDENCE, PREFERENCES
from tests.unit.verification.random_courses import random_course

BATCH = 50


def batch_of_seeds(batch: int) -> range:
    return range(batch * BATCH, (batch + 1) * BATCH)


def faults_of(case: GraftingCase, plan: SettledPlan) -> tuple[Violation, ...]:
    return verify_plan(case, plan, EVIDENCE, PREFERENCES)


def plan_of(case: GraftingCase) -> SettledPlan:
    return plan_by_rule_of_thumb(case, EVIDENCE, PREFERENCES)


@pytest.mark.parametrize("batch", range(20))
def test_thousand_courses_built_without_the_planner_are_accepted(batch: int) -> None:
    refused = {seed: faults for seed in batch_of_seeds(batch) if (faults := faults_of(*random_course(seed)))}
    assert refused == {}


@pytest.mark.parametrize("batch", range(20))
def test_thousand_plans_of_the_planner_are_accepted(batch: int) -> None:
    refused = {}
    for seed in batch_of_seeds(batch):
        case = random_case(seed)
        if faults := faults_of(case, plan_of(case)):
            refused[seed] = faults
    assert refused == {}


@pytest.mark.parametrize("batch", range(2))
def test_a_decision_that_cannot_be_kept_is_the_only_thing_refused(batch: int) -> None:
    broken = set()
    for seed in batch_of_seeds(batch):
        case = random_decided_case(seed)
        broken |= {fault.rule for fault in faults_of(case, plan_of(case))}
    assert broken <= {Rule.FIXED_DECISION}
