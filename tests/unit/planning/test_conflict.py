"""Limits behind what is missed: found by lifting them, in as few as possible, and counted."""

from dataclasses import replace
from decimal import Decimal

import pytest

from service.domain.plan import SettledPlan, StillOpen
from service.evidence.library import load_evidence
from service.planning.conflict import find_conflict
from service.planning.conflict_findings import closable_open_cm2, find_behind_open
from service.planning.limits_lifted import LIFTS, lifted, limits_of
from service.planning.rule_of_thumb import best_by_rule_of_thumb, widest_by_rule_of_thumb
from service.preferences.library import load_preferences
from service.verification.verify import verify_plan
from service.wording.findings import word_finding
from tests.random_cases import random_case

CASE = random_case(12)
OPEN, CLOSED = SettledPlan(still_open=(StillOpen("wound", Decimal(10)),)), SettledPlan()


class Planner:
    """Closes a case once one of some sets of limits is lifted, and counts how often it is asked."""

    def __init__(self, *enough: set[str]) -> None:
        self.enough, self.asked = enough, 0

    def choose(self, case):
        self.asked += 1
        gone = {name for name in limits_of(CASE) if LIFTS[name](case) == case}
        return CLOSED if any(names <= gone for names in self.enough) else OPEN


def conflict_of(planner: Planner, most_runs: int = 100):
    return find_conflict(CASE, lambda case, plan: not plan.still_open, planner.choose, most_runs)


def test_every_limit_that_is_enough_alone_is_named():
    found = conflict_of(Planner({"session-blood"}, {"theatre-days"}, {"session-area", "session-minutes"}))
    assert (found.alone, found.together, found.is_complete) == (("theatre-days", "session-blood"), (), True)


def test_else_the_set_from_which_nothing_can_be_left_out():
    found = conflict_of(Planner({"session-area", "session-minutes"}))
    assert (found.alone, found.together) == ((), ("session-minutes", "session-area"))
    assert found.is_complete


def test_when_all_limits_are_not_enough_the_best_plan_says_what_stays_open():
    found = conflict_of(Planner())
    assert (found.alone, found.together, found.best) == ((), (), OPEN)
    assert found.tried == limits_of(CASE)


@pytest.mark.parametrize("most_runs", [0, 1, 4, 9])
def test_no_more_plans_than_allowed_and_it_is_said(most_runs):
    planner = Planner({"session-area", "session-minutes"})
    found = conflict_of(planner, most_runs)
    assert planner.asked <= most_runs
    assert found is None if most_runs == 0 else not found.is_complete
    if found:
        assert {"session-area", "session-minutes"} <= set(found.together)


def test_a_plan_that_verification_refuses_counts_for_nothing():
    assert find_conflict(CASE, lambda case, plan: True, lambda case: None, 100).best is None


@pytest.mark.parametrize("name", LIFTS)
def test_lifting_a_limit_twice_changes_no_more(name):
    once = lifted(CASE, (name,))
    assert lifted(once, (name,)) == once


def test_healing_and_beds_are_no_limits_that_anybody_could_lift():
    everything = lifted(CASE, tuple(LIFTS))
    assert everything.wounds == CASE.wounds
    assert [s.parcels for s in everything.donor_sites] == [s.parcels for s in CASE.donor_sites]
    assert everything.horizon_day == CASE.horizon_day


EVIDENCE, PREFERENCES = load_evidence(), load_preferences()


@pytest.mark.parametrize("seed", [12, 36, 37])
def test_what_is_named_closes_the_case_in_a_plan_that_verification_passes(seed):
    case = random_case(seed)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    assert closable_open_cm2(case, plan) > 0

    def choose(other):
        return widest_by_rule_of_thumb(other, EVIDENCE, PREFERENCES)

    (finding,) = find_behind_open(case, plan, choose, 100)
    assert finding.code == "limit-keeps-open"
    for name in dict(finding.values)["either"].split():
        other = lifted(case, (name,))
        closed = choose(other)
        assert closable_open_cm2(other, closed) == 0
        assert verify_plan(other, closed, EVIDENCE, PREFERENCES) == ()


def test_a_closed_case_has_no_conflict():
    case = random_case(2)
    plan = best_by_rule_of_thumb(case, EVIDENCE, PREFERENCES).plan
    assert closable_open_cm2(case, plan) == 0
    assert find_behind_open(case, plan, lambda other: pytest.fail("nothing to plan"), 100) == ()


def test_the_words_name_the_limits():
    case = replace(CASE, findings=())
    (finding,) = find_behind_open(case, OPEN, Planner({"session-area", "session-minutes"}).choose, 100)
    assert finding.code == "limits-keep-open"
    limits = case.limits
    assert word_finding(finding).text == (
        "10 cm² stay open. To close every wound in the time planned for, these would have to be lifted together, and "
        "none of them alone was found to be enough: the minutes that one session may take (at most "
        f"{limits.procedure_minutes} min) and the area that one session may hold (excised {limits.excised_cm2:,.0f} "
        f"cm², grafted {limits.grafted_cm2:,.0f} cm²) (each limit was tried alone).")
    (finding,) = find_behind_open(case, OPEN, Planner().choose, 100)
    assert "10 cm² would still stay open in the best plan that was found, instead of 10 cm²" in (
        word_finding(finding).text)
