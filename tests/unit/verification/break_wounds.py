"""Plans that break one rule of the wounds by the smallest step."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from random import Random

from service.domain.burn_wound import BedState
from service.domain.case import GraftingCase
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan, StillOpen
from service.domain.rule import Rule
from tests.unit.verification.breakage import Breakage, BreakOnce, break_case, break_plan
from tests.unit.verification.plan_builder import (
    EVIDENCE,
    MEDIUM_ABOVE,
    MEDIUM_BELOW,
    PREFERENCES,
    STEP,
    THIN_BELOW,
    amended,
    harvest_for,
    place_graft,
    roomy_case,
    round_up,
    settle,
    site_on,
    small_area_cm2,
    with_request,
    with_wound,
    wound_on,
)
from tests.unit.verification.small_plans import one_graft

SHEET = GraftMethod.SHEET


def leave_a_step_open_that_is_placed(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    wound_id = case.wounds[0].wound_id
    return break_plan(case, plan, replace(plan, still_open=(StillOpen(wound_id, STEP),)))


def forget_a_step_of_the_wound(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return break_case(case, plan, with_wound(case, area_cm2=case.wounds[0].area_cm2 + STEP))


def leave_open_an_unknown_wound(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return break_plan(case, plan, replace(plan, still_open=(StillOpen("nowhere", STEP),)))


def excise_a_step_too_little(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return break_plan(case, plan, amended(plan, "excisions", area_cm2=plan.excisions[0].area_cm2 - STEP))


def excise_a_step_that_is_excised(rng: Random) -> Breakage:
    case, plan = one_graft(rng, wound={"excised_cm2": Decimal(rng.randint(1, 90))})
    return break_case(case, plan, with_wound(case, excised_cm2=case.wounds[0].excised_cm2 + STEP))


def graft_a_day_before_the_bed_is_ready(rng: Random) -> Breakage:
    case, plan = one_graft(rng, wound={"bed_state": BedState.UNDER_TEMPLATE})
    day = plan.placements[0].day
    return break_case(with_wound(case, ready_from_day=day), plan, with_wound(case, ready_from_day=day + 1))


def excise_a_day_before_the_wait_is_over(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    day = plan.excisions[0].day
    return break_case(with_wound(case, wait_until_day=day), plan, with_wound(case, wait_until_day=day + 1))


def touch_the_face_a_day_early(rng: Random) -> Breakage:
    day = rng.randint(1, 30)
    last_injury_day = day - int(EVIDENCE.value("face-earliest-day"))
    case, plan = one_graft(
        rng, wound_at="face", site_at="scalp", method=SHEET, skin_class=MEDIUM_ABOVE, day=day,
        injury_day=last_injury_day)
    return break_case(case, plan, replace(case, injury_day=last_injury_day + 1))


def use_a_method_that_is_not_available(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    others = frozenset(GraftMethod) - {plan.placements[0].method}
    return break_case(case, plan, with_request(case, methods_available=others))


def expand_one_step_too_far_over_a_joint(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=GraftMethod.MESHED_1_2, wound={"over_joint": True})
    return break_plan(case, plan, amended(plan, "placements", method=GraftMethod.MESHED_1_3))


def put_a_mesh_on_the_face(rng: Random) -> Breakage:
    case, plan = one_graft(
        rng, wound_at="face", site_at="scalp", method=SHEET, skin_class=MEDIUM_ABOVE, injury_day=-20)
    return break_plan(case, plan, amended(plan, "placements", method=GraftMethod.MESHED_1_1))


def leave_a_step_of_a_hand_open(rng: Random) -> Breakage:
    case, plan = _ready_whole_region(rng, rng.choice(("left-hand-front", "right-hand-back", "neck-front")))
    wound = case.wounds[0]
    broken = amended(plan, "placements", area_cm2=wound.area_cm2 - STEP)
    return break_plan(case, plan, replace(broken, still_open=(StillOpen(wound.wound_id, STEP),)))


def graft_a_hand_by_two_methods(rng: Random) -> Breakage:
    case, plan = _ready_whole_region(rng, rng.choice(("left-hand-front", "neck-back")))
    wound, (graft,) = case.wounds[0], plan.placements
    half = round_up(wound.area_cm2 / 2)
    parts = (
        place_graft(graft.day, wound, SHEET, MEDIUM_BELOW, half),
        place_graft(graft.day, wound, GraftMethod.MESHED_1_1_5, MEDIUM_BELOW, wound.area_cm2 - half))
    return break_plan(case, plan, replace(plan, placements=parts))


def _ready_whole_region(rng: Random, place_key: str) -> tuple[GraftingCase, SettledPlan]:
    """A hand or neck with a ready bed, big enough for two pieces, under one sheet."""
    area_cm2 = small_area_cm2(rng) * 2
    return one_graft(
        rng, wound_at=place_key, area_cm2=area_cm2, method=SHEET, skin_class=MEDIUM_BELOW,
        wound={"excised_cm2": area_cm2})


def place_a_piece_that_is_a_step_too_small(rng: Random) -> Breakage:
    """A ready bed, grafted by exactly the smallest piece, the rest left open."""
    wound = wound_on("left-thigh-front", Decimal(400), excised_cm2=Decimal(400))
    case = roomy_case(rng, (wound,), (site_on("right-thigh-front", Decimal(900)),))
    piece = round_up(PREFERENCES.value("smallest-piece") * case.body_surface_m2 * 100)
    graft = place_graft(rng.randint(1, 30), wound, GraftMethod.MESHED_1_1_5, THIN_BELOW, piece)
    plan = settle(case, SettledPlan(
        placements=(graft,), harvests=(harvest_for((graft,), "right-thigh-front"),)))
    smaller = settle(case, amended(plan, "placements", area_cm2=piece - STEP))
    return break_plan(case, plan, smaller)


def graft_an_infected_bed(rng: Random) -> Breakage:
    case, plan = one_graft(rng, wound={"bed_state": rng.choice((BedState.READY, None))})
    state = rng.choice((BedState.STREPTOCOCCUS, BedState.INFECTED))
    return break_case(case, plan, with_wound(case, bed_state=state))


BREAKAGES: dict[Rule, tuple[BreakOnce, ...]] = {
    Rule.PLACE_EACH_WOUND_ONCE: (
        leave_a_step_open_that_is_placed, forget_a_step_of_the_wound, leave_open_an_unknown_wound),
    Rule.GRAFT_ON_READY_BED: (
        excise_a_step_too_little, excise_a_step_that_is_excised, graft_a_day_before_the_bed_is_ready,
        excise_a_day_before_the_wait_is_over, touch_the_face_a_day_early),
    Rule.METHOD_OF_REGION: (
        use_a_method_that_is_not_available, expand_one_step_too_far_over_a_joint, put_a_mesh_on_the_face),
    Rule.WHOLE_REGION: (leave_a_step_of_a_hand_open, graft_a_hand_by_two_methods),
    Rule.SMALLEST_PIECE: (place_a_piece_that_is_a_step_too_small,),
    Rule.INFECTED_BED: (graft_an_infected_bed,),
}
