"""Plans that break one rule of the sessions by the smallest step."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from random import Random

from service.domain.body_region import Position
from service.domain.case import GraftingCase, TheatreDay
from service.domain.plan import SettledPlan
from service.domain.rule import Rule
from tests.random_cases import date_of
from tests.unit.verification.breakage import Breakage, BreakOnce, break_case, break_plan
from tests.unit.verification.plan_builder import (
    EVIDENCE,
    amended,
    round_up,
    with_limits,
    with_request,
)
from tests.unit.verification.small_plans import moved, one_graft, two_grafts


def hold_the_session_a_day_off_its_acts(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    day = plan.sessions[0].day + rng.choice((-1, 1))
    return break_plan(case, plan, amended(plan, "sessions", day=day))


def start_a_day_too_early(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    day = plan.sessions[0].day
    return break_case(replace(case, first_session_day=day), plan, replace(case, first_session_day=day + 1))


def end_a_day_after_the_horizon(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    day = plan.sessions[0].day
    return break_case(replace(case, horizon_day=day), plan, replace(case, horizon_day=day - 1))


def count_sessions_from_two(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return break_plan(case, plan, amended(plan, "sessions", ordinal=2))


def hold_a_session_without_acts(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    only = plan.sessions[0]
    idle = replace(only, ordinal=2, day=only.day + case.limits.rest_days)
    return break_plan(case, plan, replace(plan, sessions=(only, idle)))


def place_a_firm_graft_in_a_contingent_session(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return break_plan(case, plan, amended(plan, "sessions", is_contingent=True))


def operate_a_day_off_the_theatre_day(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    day = plan.sessions[0].day
    return break_case(_with_room(case, day), plan, _with_room(case, day + rng.choice((-1, 1))))


def have_the_room_a_minute_too_short(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    session = plan.sessions[0]
    parts = ("induction", "preparation", "exit")
    around = sum(EVIDENCE.value("theatre-minutes", part) for part in parts)
    minutes = int(round_up(around + session.procedure_minutes, Decimal(1)))
    return break_case(
        _with_room(case, session.day, minutes=minutes), plan,
        _with_room(case, session.day, minutes=minutes - 1))


def turn_where_the_room_allows_one_position(rng: Random) -> Breakage:
    case, plan = one_graft(rng, site_at="right-thigh-back")
    day = plan.sessions[0].day
    return break_case(_with_room(case, day, positions=2), plan, _with_room(case, day, positions=1))


def _with_room(case: GraftingCase, day: int, **changes) -> GraftingCase:
    return with_request(case, theatre_days=(TheatreDay(date_of(day), **changes),))


def rest_a_day_less(rng: Random) -> Breakage:
    rest_days = rng.randint(2, 6)
    case, plan = two_grafts(rng, rest_days)
    case = with_limits(case, rest_days=rest_days)
    last = plan.sessions[-1]
    return break_plan(case, plan, moved(plan, last.day, -1))


def require_a_day_more_of_rest(rng: Random) -> Breakage:
    rest_days = rng.randint(2, 6)
    case, plan = two_grafts(rng, rest_days)
    return break_case(
        with_limits(case, rest_days=rest_days), plan, with_limits(case, rest_days=rest_days + 1))


def lie_on_the_wrong_side(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return break_plan(case, plan, amended(plan, "sessions", positions=(Position.PRONE,)))


def turn_once_too_often(rng: Random) -> Breakage:
    case, plan = one_graft(rng, site_at="right-thigh-back")
    return break_case(case, plan, with_limits(case, positions=1))


def lie_in_no_position(rng: Random) -> Breakage:
    """Acts on a place that is reached from both positions still need one of them."""
    case, plan = one_graft(rng, wound_at="left-forearm-front", site_at="right-upper-arm-front")
    return break_plan(case, plan, amended(plan, "sessions", positions=()))


def lie_on_a_fresh_graft_a_day_too_early(rng: Random) -> Breakage:
    case, plan = _back_then_front(rng)
    return break_plan(case, plan, moved(plan, plan.sessions[-1].day, -1))


def lose_the_off_loading(rng: Random) -> Breakage:
    case, plan = _back_then_front(rng)
    closer = moved(plan, plan.sessions[-1].day, -1)
    return break_case(replace(case, off_loading=True), closer, case)


def _back_then_front(rng: Random) -> tuple[GraftingCase, SettledPlan]:
    """Grafts that need opposite lying, exactly the protect days apart, and no off-loading."""
    protect_days = int(EVIDENCE.value("protect-days"))
    back = rng.choice(("posterior-trunk", "left-buttock"))
    front = rng.choice(("anterior-trunk", "left-thigh-front"))
    places = rng.sample((back, front), 2)
    return two_grafts(rng, protect_days, first_at=places[0], second_at=places[1], off_loading=False)


BREAKAGES: dict[Rule, tuple[BreakOnce, ...]] = {
    Rule.NOTHING_WITHOUT_A_SESSION: (
        hold_the_session_a_day_off_its_acts, start_a_day_too_early, end_a_day_after_the_horizon,
        count_sessions_from_two, hold_a_session_without_acts, place_a_firm_graft_in_a_contingent_session),
    Rule.THEATRE_DAY: (
        operate_a_day_off_the_theatre_day, have_the_room_a_minute_too_short,
        turn_where_the_room_allows_one_position),
    Rule.REST_BETWEEN_SESSIONS: (rest_a_day_less, require_a_day_more_of_rest),
    Rule.POSITION: (lie_on_the_wrong_side, turn_once_too_often, lie_in_no_position),
    Rule.BEARING_SURFACE: (lie_on_a_fresh_graft_a_day_too_early, lose_the_off_loading),
}
