"""The horizon moves on while that changes the first two sessions or leaves less open, and no further."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from service.domain.burn_wound import BedState
from service.domain.case import GraftingCase, TheatreDay
from service.domain.graft import GraftMethod, SkinClass, Thickness
from service.domain.plan import PlanOutcome, SettledPlan, StillOpen
from service.domain.session import Placement, Session
from service.evidence.library import load_evidence
from service.planning.horizon import FarSeeing, plan_far_enough
from service.planning.optimise import OptimisedPlan, optimise_course
from service.preferences.library import load_preferences
from service.verification.verify import verify_plan
from tests.random_cases import random_case

EVIDENCE, PREFERENCES = load_evidence(), load_preferences()
STEP, FURTHEST = PREFERENCES.integer("horizon-step"), int(PREFERENCES.row("horizon-days").high)
DRAWN = random_case(3)
CASE = replace(DRAWN, horizon_day=60, request=replace(DRAWN.request, theatre_days=()))
WOUND = CASE.wounds[0].wound_id


def course(*areas: int, left_open: int = 0, last_day: int = 20) -> SettledPlan:
    """A session for each area grafted, the last on a day. [cm²]"""
    days = [3 * n + 1 for n in range(len(areas) - 1)] + [last_day]
    return SettledPlan(
        sessions=tuple(Session(n + 1, day, (), False, 60, 100, 0) for n, day in enumerate(days)),
        placements=tuple(Placement(day, WOUND, GraftMethod.SHEET, Decimal(area), SkinClass(Thickness.MEDIUM, False),
                                   Decimal(area)) for day, area in zip(days, areas, strict=True)),
        still_open=(StillOpen(WOUND, Decimal(left_open)),) if left_open else ())


def look(case: GraftingCase, *plans: SettledPlan) -> tuple[FarSeeing, list[int]]:
    """What comes of a case whose plans, one for each horizon, are these; and the horizons planned for."""
    planned: list[int] = []

    def plan(longer: GraftingCase, in_hand: SettledPlan | None) -> OptimisedPlan:
        assert in_hand == (plans[len(planned) - 1] if planned else None)
        planned.append(longer.horizon_day)
        return OptimisedPlan(plans[len(planned) - 1], Decimal(0), None, None, PlanOutcome.BEST_FOUND, Decimal(0),
                             Decimal(0))

    return plan_far_enough(case, PREFERENCES, plan), planned


def codes(seen: FarSeeing) -> list[str]:
    return [finding.code for finding in seen.findings]


def test_a_course_that_closes_early_is_planned_once():
    seen, planned = look(CASE, course(300, 300))
    assert planned == [CASE.horizon_day] and seen.case == CASE and not codes(seen)


@pytest.mark.parametrize("first", [course(300, left_open=200), course(300, 300, last_day=CASE.horizon_day - STEP + 1)])
def test_what_is_open_or_late_is_looked_at_further_and_stays_if_nothing_changes(first):
    seen, planned = look(CASE, first, first)
    assert planned == [CASE.horizon_day, CASE.horizon_day + STEP]
    assert seen.case == CASE and seen.found.plan == first and codes(seen) == ["horizon-far-enough"]


def test_it_moves_on_until_the_first_two_sessions_stay_as_they_are():
    seen, planned = look(CASE, course(300, left_open=200), course(500, left_open=200), course(500, left_open=200))
    assert planned == [CASE.horizon_day + n * STEP for n in range(3)]
    assert seen.case.horizon_day == CASE.horizon_day + STEP
    assert codes(seen) == ["horizon-moved", "horizon-far-enough"]


def test_a_later_session_alone_moves_nothing_but_less_left_open_does():
    """Only the third session differs; then it closes more too."""
    first, other = course(300, 300, 300, left_open=900), course(300, 300, 200, left_open=900)
    assert look(CASE, first, other)[0].found.plan == first
    closing = course(300, 300, 900, left_open=100)
    assert look(CASE, first, closing, closing)[0].found.plan == closing


def test_it_stops_at_the_furthest_day_that_is_allowed():
    plans = [course(300 + 100 * n, left_open=200) for n in range(99)]
    seen, planned = look(CASE, *plans)
    assert planned[-1] == seen.case.horizon_day == FURTHEST
    assert codes(seen) == ["horizon-moved"]


def test_no_further_day_is_tried_where_no_theatre_is_known():
    day = TheatreDay(CASE.day_zero + timedelta(days=CASE.horizon_day))
    known = replace(CASE, request=replace(CASE.request, theatre_days=(day,)))
    assert look(known, course(300, left_open=200))[1] == [CASE.horizon_day]


def test_an_infected_bed_is_no_reason_to_look_further():
    infected = replace(CASE, wounds=tuple(replace(w, bed_state=BedState.STREPTOCOCCUS) for w in CASE.wounds))
    assert look(infected, course(300, left_open=200))[1] == [CASE.horizon_day]


@pytest.mark.parametrize("seed", range(700, 712))
def test_a_short_horizon_spends_no_skin_that_a_later_wound_needs(seed):
    """A wound that may not be grafted before the end asked for gets its skin all the same."""
    case = random_case(seed)
    first_day = case.first_session_day
    late = replace(case.wounds[-1], ready_from_day=first_day + 20)
    case = replace(case, wounds=(*case.wounds[:-1], late), request=replace(case.request, theatre_days=()))

    def plan(longer: GraftingCase, in_hand: SettledPlan | None) -> OptimisedPlan:
        return optimise_course(longer, EVIDENCE, PREFERENCES, in_hand=in_hand, seconds=0.3, accepts=lambda other: not (
            verify_plan(longer, other, EVIDENCE, PREFERENCES)))

    short = plan_far_enough(replace(case, horizon_day=first_day + 10), PREFERENCES, plan)
    long = plan_far_enough(replace(case, horizon_day=FURTHEST), PREFERENCES, plan)
    assert not verify_plan(short.case, short.found.plan, EVIDENCE, PREFERENCES)
    assert short.case.horizon_day > late.ready_from_day
    assert case.percent_tbsa(short.found.plan.open_cm2 - long.found.plan.open_cm2) <= PREFERENCES.value(
        "smallest-piece")
