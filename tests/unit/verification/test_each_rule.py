"""Each rule refuses a plan that breaks it, and only it, by the smallest printable step."""

from __future__ import annotations

from random import Random

import pytest

from service.domain.rule import Rule
from service.verification.verify import RULES, verify_plan
from tests.unit.verification import break_limits, break_sessions, break_skin, break_wounds
from tests.unit.verification.plan_builder import EVIDENCE, PREFERENCES

BREAKAGES = {
    **break_wounds.BREAKAGES, **break_sessions.BREAKAGES, **break_skin.BREAKAGES, **break_limits.BREAKAGES,
}


def test_every_rule_is_verified_and_broken_here() -> None:
    assert set(RULES) == set(BREAKAGES) == set(Rule)


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize("rule", list(Rule))
def test_smallest_step_over_one_rule_is_refused(rule: Rule, seed: int) -> None:
    ways = BREAKAGES[rule]
    breakage = ways[seed % len(ways)](Random(f"{rule}-{seed}"))
    assert verify_plan(breakage.case, breakage.plan, EVIDENCE, PREFERENCES) == ()
    faults = verify_plan(breakage.broken_case, breakage.broken_plan, EVIDENCE, PREFERENCES)
    assert {fault.rule for fault in faults} == {rule}
