"""Plans that break one rule of the skin or of the donor sites by the smallest step."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from math import ceil
from random import Random

from service.domain.body_region import Region
from service.domain.case import GraftingCase, KeepFor
from service.domain.donor_site import DonorParcel, Harvest
from service.domain.graft import GraftMethod, SkinClass, Thickness
from service.domain.plan import SettledPlan
from service.domain.rule import Rule
from service.evidence.donor_healing import healing_days
from tests.unit.verification.breakage import Breakage, BreakOnce, break_case, break_plan
from tests.unit.verification.plan_builder import (
    EVIDENCE,
    MEDIUM_ABOVE,
    MEDIUM_BELOW,
    PLACES,
    PREFERENCES,
    STEP,
    amended,
    area_per_skin,
    plate_cm2,
    settle,
    site_on,
    small_area_cm2,
    with_request,
    wound_on,
)
from tests.unit.verification.small_plans import moved, one_graft, two_grafts

SHEET = GraftMethod.SHEET
ISLANDS = (GraftMethod.ISLAND_1_3, GraftMethod.ISLAND_1_4, GraftMethod.ISLAND_1_6, GraftMethod.ISLAND_1_9)
#: Methods that need more than the smallest harvest for the small wounds of these plans.
SKIN_HUNGRY = (GraftMethod.MESHED_1_1, GraftMethod.MESHED_1_1_5, GraftMethod.MESHED_1_2)


def count_a_plate_too_many(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=rng.choice(ISLANDS))
    return break_plan(case, plan, amended(plan, "placements", plates=plan.placements[0].plates + 1))


def forget_the_plates(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=rng.choice(ISLANDS))
    return break_plan(case, plan, amended(plan, "placements", plates=None, skin_cm2=_whole_steps(plan)))


def _whole_steps(plan: SettledPlan) -> Decimal:
    """Skin that is printable without plates and still covers. [cm²]"""
    return ceil(plan.placements[0].skin_cm2 / STEP) * STEP


def leave_a_plate_begun(rng: Random) -> Breakage:
    case, plan = _with_a_plate_more_harvested(*one_graft(rng, method=rng.choice(ISLANDS)))
    plates = plan.placements[0].plates + 1 / PREFERENCES.value("plate-parts")
    return break_plan(case, plan, amended(plan, "placements", plates=plates, skin_cm2=plates * plate_cm2()))


def cut_finer_than_a_carrier_is_cut(rng: Random) -> Breakage:
    """Two grafts of a wound share whole plates, one of them by half a part too much."""
    case, plan = _with_a_plate_more_harvested(*one_graft(
        rng, method=rng.choice(ISLANDS[:3]), area_cm2=Decimal(300)))
    graft = plan.placements[0]
    first = Decimal(ceil(graft.plates / 2)) + 1 / (2 * PREFERENCES.value("plate-parts"))
    halves = tuple(
        replace(graft, area_cm2=graft.area_cm2 / 2, plates=plates, skin_cm2=plates * plate_cm2())
        for plates in (first, graft.plates + 1 - first))
    return break_plan(case, plan, replace(plan, placements=halves))


def _with_a_plate_more_harvested(case: GraftingCase, plan: SettledPlan) -> tuple[GraftingCase, SettledPlan]:
    more = amended(plan, "harvests", area_cm2=plan.harvests[0].area_cm2 + 2 * ceil(plate_cm2()))
    return case, settle(case, replace(more, sessions=()))


def cut_a_mesh_from_a_plate(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=GraftMethod.MESHED_1_3)
    return break_plan(case, plan, amended(plan, "placements", plates=1))


def place_a_step_of_skin_too_little(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=rng.choice(SKIN_HUNGRY))
    skin_cm2 = plan.placements[0].skin_cm2 - STEP
    return break_plan(case, plan, amended(plan, "placements", skin_cm2=skin_cm2))


def place_a_plate_too_few(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=rng.choice(ISLANDS[:3]))
    plates = plan.placements[0].plates - 1
    fewer = amended(plan, "placements", plates=plates, skin_cm2=plates * plate_cm2())
    return break_plan(case, plan, fewer)


def harvest_a_step_too_little(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=rng.choice(SKIN_HUNGRY))
    return break_plan(case, plan, amended(plan, "harvests", area_cm2=plan.harvests[0].area_cm2 - STEP))


def harvest_the_class_next_to_it(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    return break_plan(case, plan, amended(plan, "harvests", thickness=Thickness.MEDIUM))


def cut_islands_medium(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=rng.choice(ISLANDS))
    thicker = amended(plan, "placements", skin_class=MEDIUM_BELOW)
    return break_plan(case, plan, amended(thicker, "harvests", thickness=Thickness.MEDIUM))


def take_thick_skin_where_it_is_not_allowed(rng: Random) -> Breakage:
    thick = SkinClass(Thickness.THICK, above_clavicle=False)
    case, plan = one_graft(
        rng, wound_at="left-hand-back", method=SHEET, skin_class=thick, thick_skin_allowed=True)
    return break_case(case, plan, replace(case, thick_skin_allowed=False))


def leave_skin_from_above_unused_for_the_face(rng: Random) -> Breakage:
    """The scalp is one step too small to cover the face; with that step it would cover it."""
    case, plan = one_graft(rng, wound_at="face", method=SHEET, skin_class=MEDIUM_BELOW, injury_day=-20)
    share = Fraction(area_per_skin(SHEET, PLACES["face"])) * Fraction(1 - EVIDENCE.value("handling-loss"))
    enough = ceil(Fraction(case.wounds[0].area_cm2) / share / Fraction(STEP)) * STEP
    return break_case(_with_site(case, site_on("scalp", enough - STEP)), plan,
                      _with_site(case, site_on("scalp", enough)))


def _with_site(case: GraftingCase, *sites) -> GraftingCase:
    return replace(case, donor_sites=(*case.donor_sites, *sites))


def harvest_a_step_more_than_there_is(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    taken = plan.harvests[0].area_cm2
    return break_case(_only_parcel(case, DonorParcel(taken)), plan,
                      _only_parcel(case, DonorParcel(taken - STEP), DonorParcel(STEP, harvest_count=1)))


def harvest_healing_skin_a_day_early(rng: Random) -> Breakage:
    """A site still healing, taken in the second session, on the day it is expected healed."""
    case, plan = two_grafts(rng, rng.randint(3, 9))
    plan = amended(plan, "harvests", 1, harvest_number=2)
    parcel = DonorParcel(
        Decimal(900), harvest_count=1, harvested_day=-9, healed_recorded=False,
        healed_day=plan.sessions[1].day)
    late = replace(parcel, healed_day=parcel.healed_day + 1)
    return break_case(_only_parcel(case, parcel, index=1), plan, _only_parcel(case, late, index=1))


def trust_an_expected_healing_in_the_first_session(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    plan = amended(plan, "harvests", harvest_number=2)
    parcel = DonorParcel(Decimal(900), harvest_count=1, harvested_day=-20, healed_day=0)
    expected = replace(parcel, healed_recorded=False)
    return break_case(_only_parcel(case, parcel), plan, _only_parcel(case, expected))


def reharvest_a_day_before_it_has_healed(rng: Random) -> Breakage:
    case, plan = _harvested_twice(rng)
    return break_plan(case, plan, moved(plan, plan.sessions[-1].day, -1))


def reharvest_where_once_is_allowed(rng: Random) -> Breakage:
    case, plan = _harvested_twice(rng)
    first, second = case.donor_sites
    once = replace(case, donor_sites=(replace(first, harvests_allowed=1), second))
    return break_case(case, plan, once)


def _harvested_twice(rng: Random) -> tuple[GraftingCase, SettledPlan]:
    """All skin of one site is taken in the first session and again when it has healed."""
    days = healing_days(
        EVIDENCE, PLACES["right-upper-arm-front"], Thickness.THIN,
        two_grafts(rng, 2)[0].age_band, 1, PREFERENCES.value("healing-quantile"))
    case, plan = two_grafts(rng, days)
    area_cm2 = max(harvest.area_cm2 for harvest in plan.harvests)
    site_id = plan.harvests[0].site_id
    harvests = tuple(
        Harvest(session.day, site_id, Thickness.THIN, area_cm2, session.ordinal) for session in plan.sessions)
    plan = settle(case, replace(plan, harvests=harvests))
    return _only_parcel(case, DonorParcel(area_cm2)), plan


def _only_parcel(case: GraftingCase, *parcels: DonorParcel, index: int = 0) -> GraftingCase:
    """The case whose site holds these parcels."""
    sites = list(case.donor_sites)
    total = sum((parcel.area_cm2 for parcel in parcels), Decimal(0))
    sites[index] = replace(sites[index], area_cm2=total, parcels=parcels)
    return replace(case, donor_sites=tuple(sites))


def harvest_once_more_than_allowed(rng: Random) -> Breakage:
    number = rng.randint(2, 4)
    case, plan = one_graft(rng)
    plan = amended(plan, "harvests", harvest_number=number)
    case = _only_parcel(case, DonorParcel(Decimal(900), harvest_count=number - 1, harvested_day=-30))
    return break_case(_harvests_allowed(case, number), plan, _harvests_allowed(case, number - 1))


def _harvests_allowed(case: GraftingCase, count: int) -> GraftingCase:
    return replace(case, donor_sites=(replace(case.donor_sites[0], harvests_allowed=count),))


def harvest_a_step_less_than_is_worth_it(rng: Random) -> Breakage:
    case, plan = one_graft(rng, method=GraftMethod.ISLAND_1_9)
    smallest_cm2 = PREFERENCES.value("smallest-harvest")
    at_bound = amended(plan, "harvests", area_cm2=smallest_cm2)
    return break_plan(case, at_bound, amended(plan, "harvests", area_cm2=smallest_cm2 - STEP))


def take_a_step_of_the_skin_that_is_kept(rng: Random) -> Breakage:
    case, plan = one_graft(rng)
    region = rng.choice((Region.HAND, Region.NECK, Region.FACE))
    left = case.donor_sites[0].area_cm2 - plan.harvests[0].area_cm2
    return break_case(_keeping(case, region, left), plan, _keeping(case, region, left + STEP))


def take_a_step_of_the_scalp_kept_for_the_face(rng: Random) -> Breakage:
    """One face wound is grafted, one waits; what lies on the face counts, skin from below does not."""
    case, plan = one_graft(
        rng, wound_at="face", site_at="scalp", method=SHEET, skin_class=MEDIUM_ABOVE, injury_day=-20)
    case = _with_site(case, site_on("left-thigh-front", Decimal(500)))
    waiting = replace(wound_on("face", small_area_cm2(rng)), wound_id="face:deep-partial")
    case = replace(case, wounds=(*case.wounds, waiting))
    left = case.donor_sites[0].area_cm2 - plan.harvests[0].area_cm2 + plan.placements[0].skin_cm2
    return break_case(
        _keeping(case, Region.FACE, left), settle(case, plan), _keeping(case, Region.FACE, left + STEP))


def _keeping(case: GraftingCase, region: Region, area_cm2: Decimal) -> GraftingCase:
    return with_request(case, keep_for=(KeepFor(region, area_cm2),))


BREAKAGES: dict[Rule, tuple[BreakOnce, ...]] = {
    Rule.WHOLE_PLATES: (
        count_a_plate_too_many, forget_the_plates, leave_a_plate_begun, cut_finer_than_a_carrier_is_cut,
        cut_a_mesh_from_a_plate),
    Rule.SKIN_BALANCE: (
        place_a_step_of_skin_too_little, place_a_plate_too_few, harvest_a_step_too_little,
        harvest_the_class_next_to_it),
    Rule.SKIN_CLASS: (
        cut_islands_medium, take_thick_skin_where_it_is_not_allowed,
        leave_skin_from_above_unused_for_the_face),
    Rule.DONOR_REGROWTH: (
        harvest_a_step_more_than_there_is, harvest_healing_skin_a_day_early,
        trust_an_expected_healing_in_the_first_session, reharvest_a_day_before_it_has_healed),
    Rule.DONOR_HARVEST_COUNT: (harvest_once_more_than_allowed, reharvest_where_once_is_allowed),
    Rule.SMALLEST_HARVEST: (harvest_a_step_less_than_is_worth_it,),
    Rule.KEEP_FOR: (take_a_step_of_the_skin_that_is_kept, take_a_step_of_the_scalp_kept_for_the_face),
}
