"""Plans that break one limit of a session, of cover, of losses or of decisions by the smallest step."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from random import Random

from service.domain.body_region import Region, Side
from service.domain.case import Act, FixedDecision, GraftingCase, SkinLimitAge
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan, UnreservedLoss
from service.domain.rule import Rule
from service.domain.session import CoverKind, CoverPlacement, Excision
from tests.random_cases import date_of, decimal_between
from tests.unit.verification.breakage import Breakage, BreakOnce, break_case, break_plan
from tests.unit.verification.plan_builder import (
    EVIDENCE,
    STEP,
    THIN_BELOW,
    amended,
    blood_loss_ml,
    expected_loss_cm2,
    harvest_for,
    place_graft,
    roomy_case,
    settle,
    site_on,
    small_area_cm2,
    temporary_cover,
    with_limits,
    with_request,
    wound_on,
)
from tests.unit.verification.small_plans import SIMPLE_METHODS, moved, one_graft

COVER_LIFE_DAYS = int(EVIDENCE.value("cover-life"))


def excise_a_step_above_the_limit(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return _shift_limit(case, plan, "excised_cm2", plan.excisions[0].area_cm2, STEP)


def graft_a_step_above_the_limit(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return _shift_limit(case, plan, "grafted_cm2", plan.placements[0].area_cm2, STEP)


def bleed_a_step_above_the_limit(rng: Random) -> Breakage:
    case, plan = one_graft(rng, age_band=rng.choice(tuple(SkinLimitAge)))
    loss_ml = blood_loss_ml(case, plan, plan.sessions[0].day)
    return _shift_limit(case, plan, "blood_ml", loss_ml, Decimal("0.001"))


def state_a_millilitre_too_little(rng: Random) -> Breakage:
    case, plan = one_graft(rng, age_band=rng.choice(tuple(SkinLimitAge)))
    stated = plan.sessions[0].blood_loss_ml
    return break_plan(case, plan, amended(plan, "sessions", blood_loss_ml=stated - 1))


def operate_a_minute_above_the_limit(rng: Random) -> Breakage:
    return _a_minute_above_the_limit(*one_graft(rng))


def turn_a_minute_above_the_limit(rng: Random) -> Breakage:
    return _a_minute_above_the_limit(*one_graft(rng, site_at="right-thigh-back"))


def operate_on_a_hand_a_minute_above_the_limit(rng: Random) -> Breakage:
    case, plan = one_graft(rng, wound_at="left-hand-back", method=GraftMethod.MESHED_1_1_5)
    return _a_minute_above_the_limit(case, plan)


def _a_minute_above_the_limit(case: GraftingCase, plan: SettledPlan) -> Breakage:
    return _shift_limit(case, plan, "procedure_minutes", plan.sessions[0].procedure_minutes, 1)


def state_a_minute_too_little(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    stated = plan.sessions[0].procedure_minutes
    return break_plan(case, plan, amended(plan, "sessions", procedure_minutes=stated - 1))


def _shift_limit(case: GraftingCase, plan: SettledPlan, limit: str, used, step) -> Breakage:
    """The limit is exactly what the plan uses, then one step less."""
    return break_case(
        with_limits(case, **{limit: used}), plan, with_limits(case, **{limit: used - step}))


def cover_a_step_too_little(rng: Random) -> Breakage:
    case, plan = _excised_then_grafted(rng)
    return break_plan(case, plan, amended(plan, "covers", area_cm2=plan.covers[0].area_cm2 - STEP))


def let_the_cover_end_a_day_early(rng: Random) -> Breakage:
    case, plan = _excised_then_grafted(rng)
    return break_plan(case, plan, amended(plan, "covers", until_day=plan.covers[0].until_day - 1))


def let_the_cover_lie_a_day_too_long(rng: Random) -> Breakage:
    case, plan = _excised_then_grafted(rng)
    plan = amended(plan, "covers", until_day=plan.covers[0].day + COVER_LIFE_DAYS)
    return break_plan(case, plan, amended(plan, "covers", until_day=plan.covers[0].until_day + 1))


def use_a_step_more_than_the_stock(rng: Random) -> Breakage:
    case, plan = _excised_then_grafted(rng)
    return break_case(case, plan, with_request(case, cover_stock_cm2=case.request.cover_stock_cm2 - STEP))


def use_stock_that_is_not_stated(rng: Random) -> Breakage:
    case, plan = _excised_then_grafted(rng)
    return break_case(case, plan, with_request(case, cover_stock_cm2=None))


def _excised_then_grafted(rng: Random) -> tuple[GraftingCase, SettledPlan]:
    """Excised and covered in one session, grafted in the next; the cover lasts just long enough."""
    first, gap = rng.randint(1, 20), rng.randint(2, 12)
    wound = wound_on("left-thigh-front", small_area_cm2(rng))
    graft = place_graft(first + gap, wound, rng.choice(SIMPLE_METHODS), THIN_BELOW)
    case = roomy_case(rng, (wound,), (site_on("right-thigh-front", Decimal(900)),))
    acts = SettledPlan(
        excisions=(Excision(first, wound.wound_id, wound.area_cm2),), placements=(graft,),
        harvests=(harvest_for((graft,), "right-thigh-front"),),
        covers=(temporary_cover(first, wound, wound.area_cm2, first + gap - 1),))
    return with_request(case, cover_stock_cm2=wound.area_cm2), settle(case, acts)


def overlay_a_step_too_little(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=GraftMethod.MESHED_1_6)
    graft = plan.placements[0]
    overlay = CoverPlacement(graft.day, graft.wound_id, CoverKind.OVERLAY, graft.area_cm2, graft.day + 5)
    plan = replace(plan, covers=(overlay,))
    case = with_request(case, cover_stock_cm2=graft.area_cm2)
    return break_plan(case, plan, amended(plan, "covers", area_cm2=graft.area_cm2 - STEP))


def reserve_a_step_off_the_loss(rng: Random) -> Breakage:
    case, plan = _large_graft(rng)
    loss = plan.unreserved[0].area_cm2 + rng.choice((STEP, -STEP))
    return break_plan(case, plan, amended(plan, "unreserved", area_cm2=loss))


def reserve_a_loss_that_heals_by_dressing(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    loss = UnreservedLoss(case.wounds[0].place.region_key, STEP)
    return break_plan(case, plan, replace(plan, unreserved=(loss,)))


def regraft_a_day_before_the_graft_is_read(rng: Random) -> Breakage:
    case, plan = _large_graft(rng)
    wound, first = case.wounds[0], plan.placements[0]
    read_day = first.day + int(EVIDENCE.value("read-day", first.method.kind.value))
    lost = expected_loss_cm2(case, plan, wound.place.region_key)
    regraft = place_graft(read_day, wound, first.method, THIN_BELOW, lost, is_regraft=True)
    plan = settle(case, replace(
        plan, placements=(first, regraft),
        harvests=(*plan.harvests, harvest_for((regraft,), "right-thigh-front"))))
    return break_plan(case, plan, moved(plan, read_day, -1))


def regraft_a_step_more_than_is_read(rng: Random) -> Breakage:
    """The first of two grafts is read; the second is not, and its loss must wait."""
    case, plan = _large_graft(rng)
    first = plan.placements[0]
    wound = replace(case.wounds[0], wound_id="left-thigh-front:deep-partial")
    case = replace(case, wounds=(*case.wounds, wound))
    read_day = first.day + int(EVIDENCE.value("read-day", first.method.kind.value))
    lost = expected_loss_cm2(case, plan, wound.place.region_key)
    later = replace(first, wound_id=wound.wound_id, day=read_day + 2)
    excision = Excision(later.day, wound.wound_id, wound.area_cm2)
    harvests = tuple(replace(harvest, day=later.day) for harvest in plan.harvests)

    def with_regraft(area_cm2: Decimal) -> SettledPlan:
        regraft = place_graft(read_day, wound, first.method, THIN_BELOW, area_cm2, is_regraft=True)
        return settle(case, replace(
            plan, excisions=(*plan.excisions, excision), placements=(first, regraft, later),
            harvests=(*plan.harvests, *harvests, harvest_for((regraft,), "right-thigh-front"))))

    return break_plan(case, with_regraft(lost), with_regraft(lost + STEP))


def _large_graft(rng: Random) -> tuple[GraftingCase, SettledPlan]:
    """A graft so large that its expected loss is worth a regraft."""
    area_cm2 = decimal_between(rng, Decimal(2400), Decimal(2900), "0.1")
    method = rng.choice((GraftMethod.MESHED_1_4, *SIMPLE_METHODS[-2:]))
    case, plan = one_graft(rng, area_cm2=area_cm2, method=method)
    case = replace(case, donor_sites=(site_on("right-thigh-front", Decimal(4000)),))
    return case, plan


def act_a_day_off_the_decision(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    day = plan.sessions[0].day
    act, side = _decided_act(rng)
    return break_case(
        _decided(case, FixedDecision(act, Region.THIGH, side, date_of(day))), plan,
        _decided(case, FixedDecision(act, Region.THIGH, side, date_of(day + rng.choice((-1, 1))))))


def act_on_the_other_side(rng: Random) -> Breakage:
    """A thigh is placed or harvested on one side; the decision meant the other."""
    case, plan = one_graft(rng)
    act, side = rng.choice(((Act.PLACE, Side.LEFT), (Act.HARVEST, Side.RIGHT)))
    other = Side.RIGHT if side is Side.LEFT else Side.LEFT
    return break_case(
        _decided(case, FixedDecision(act, Region.THIGH, side)), plan,
        _decided(case, FixedDecision(act, Region.THIGH, other)))


def graft_by_another_method_than_decided(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    method = plan.placements[0].method
    other = rng.choice([m for m in GraftMethod if m is not method])
    return break_case(
        _decided(case, FixedDecision(Act.PLACE, Region.THIGH, Side.LEFT, method=method)), plan,
        _decided(case, FixedDecision(Act.PLACE, Region.THIGH, Side.LEFT, method=other)))


def _decided_act(rng: Random) -> tuple[Act, Side]:
    return rng.choice(((Act.PLACE, Side.LEFT), (Act.EXCISE, Side.LEFT), (Act.HARVEST, Side.RIGHT)))


def _decided(case: GraftingCase, decision: FixedDecision) -> GraftingCase:
    return with_request(case, fixed_decisions=(decision,))


BREAKAGES: dict[Rule, tuple[BreakOnce, ...]] = {
    Rule.SESSION_AREA: (excise_a_step_above_the_limit, graft_a_step_above_the_limit),
    Rule.SESSION_BLOOD: (bleed_a_step_above_the_limit, state_a_millilitre_too_little),
    Rule.SESSION_MINUTES: (
        operate_a_minute_above_the_limit, turn_a_minute_above_the_limit,
        operate_on_a_hand_a_minute_above_the_limit, state_a_minute_too_little),
    Rule.COVER_EXCISED_BED: (
        cover_a_step_too_little, let_the_cover_end_a_day_early, let_the_cover_lie_a_day_too_long,
        use_a_step_more_than_the_stock, use_stock_that_is_not_stated),
    Rule.OVERLAY_ON_WIDE_EXPANSION: (overlay_a_step_too_little,),
    Rule.FAILED_GRAFTS_COME_BACK: (
        reserve_a_step_off_the_loss, reserve_a_loss_that_heals_by_dressing,
        regraft_a_day_before_the_graft_is_read, regraft_a_step_more_than_is_read),
    Rule.FIXED_DECISION: (
        act_a_day_off_the_decision, act_on_the_other_side, graft_by_another_method_than_decided),
}
