"""Laws of a what-if: what it forbids does not happen, and what it allows never makes the plan worse."""

from functools import lru_cache

import pytest

from service.cli.what_if import read_condition, what_if_parameter
from service.evidence.library import load_evidence
from service.planning.decisions import unkept_decisions
from service.preferences.library import load_preferences
from service.settings import Settings
from service.verification.verify import verify_plan
from service.wiring import answer_plan_request, build_parts
from tests.conftest import SAMPLES

PARTS = build_parts(Settings())
PLANNED = ("adult-60-percent-first-plan", "child-3-years-45-percent", "elderly-25-percent", "fixed-decisions")

@lru_cache
def asked(sample: str, *conditions: str):
    body = (SAMPLES / f"{sample}.json").read_bytes()
    return answer_plan_request(PARTS, body, beside=[what_if_parameter([read_condition(c) for c in conditions])]).answer


def plan_under(sample: str, *conditions: str):
    return asked(sample, *conditions).what_if.plan.settled


@pytest.mark.parametrize("sample", PLANNED)
def test_an_excluded_site_gives_nothing(sample):
    sites = {h.site_id for h in asked(sample, "exclude-site=scalp").plan.settled.harvests}
    site = min(sites)
    assert site not in {h.site_id for h in plan_under(sample, f"exclude-site={site}").harvests}


@pytest.mark.parametrize("sample", PLANNED[:3])  # the last one has decided on its first day
def test_no_session_is_held_on_a_dropped_day(sample):
    answer = asked(sample, f"drop-day={_first_day(sample)}")
    days = {answer.case.date_of(s.day).isoformat() for s in answer.what_if.plan.settled.sessions}
    assert days and _first_day(sample) not in days


def _first_day(sample: str) -> str:
    answer = asked(sample, "exclude-site=scalp")
    return answer.case.date_of(answer.plan.settled.firm_sessions[0].day).isoformat()


@pytest.mark.parametrize("sample", PLANNED[:3])
def test_an_unavailable_method_is_not_used(sample):
    answer = asked(sample, "exclude-site=scalp")
    method = max(p.method for p in answer.plan.settled.placements if p.method != "sheet")
    assert method not in {p.method for p in plan_under(sample, f"method-unavailable={method}").placements}


@pytest.mark.parametrize("sample", PLANNED)
def test_a_smaller_session_stays_within_its_area(sample):
    answer = asked(sample, "session-area-limit=5")
    for session in answer.what_if.plan.settled.sessions:
        placed = sum(p.area_cm2 for p in answer.what_if.plan.settled.placements if p.day == session.day)
        assert answer.case.percent_tbsa(placed) <= 5


@pytest.mark.parametrize("sample", PLANNED)
@pytest.mark.parametrize("condition", [
    "transfusion-units=40", "cover-stock=20000", "session-area-limit=25"])
def test_allowing_more_never_makes_it_worse(sample, condition):
    """Blood, cover and area beyond what the samples state."""
    answer = asked(sample, condition)
    what_if, plan = answer.what_if, answer.plan
    assert (what_if.plan.settled.open_cm2, what_if.plan.objective_days) <= (
        plan.settled.open_cm2, plan.objective_days)


@pytest.mark.parametrize("sample", PLANNED)
@pytest.mark.parametrize("condition", ["exclude-site=scalp", "transfusion-units=40", "session-area-limit=5"])
def test_every_plan_under_conditions_passes_verification_of_its_own_case(sample, condition):
    answer = asked(sample, condition)
    case, plan = answer.what_if.case, answer.what_if.plan.settled
    preferences = load_preferences().with_overrides(case.preference_overrides)
    assert verify_plan(case, plan, load_evidence(), preferences) == ()
    assert unkept_decisions(case, plan) == ()


@pytest.mark.parametrize("sample", PLANNED)
def test_a_better_plan_that_needs_no_condition_says_so(sample):
    """What is forbidden by a condition is never needed for a plan that holds without it."""
    answer = asked(sample, "session-area-limit=5")
    what_if = answer.what_if
    preferences = load_preferences().with_overrides(answer.case.preference_overrides)
    holds = verify_plan(answer.case, what_if.plan.settled, load_evidence(), preferences) == ()
    better = (what_if.plan.settled.open_cm2, what_if.plan.objective_days) < (
        answer.plan.settled.open_cm2, answer.plan.objective_days)
    assert what_if.holds_without is (holds and better)
