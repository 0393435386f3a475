"""The edges of rules that one printable step alone does not show."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from random import Random

import pytest

from service.domain.body_region import Position, Region, Side
from service.domain.burn_wound import PlacedGraft
from service.domain.case import Act, FixedDecision, GraftingCase, KeepFor, SkinLimitAge, TheatreDay
from service.domain.donor_site import DonorParcel
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan, StillOpen, UnreservedLoss
from service.domain.rule import Rule
from service.domain.session import CoverKind, CoverPlacement, Excision
from service.evidence.library import Evidence
from service.verification.verify import verify_plan
from tests.random_cases import date_of
from tests.unit.verification.plan_builder import (
    EVIDENCE,
    MEDIUM_BELOW,
    PREFERENCES,
    STEP,
    THIN_BELOW,
    amended,
    expected_loss_cm2,
    harvest_for,
    place_graft,
    roomy_case,
    settle,
    site_on,
    temporary_cover,
    with_limits,
    with_request,
    wound_on,
)
from tests.unit.verification.small_plans import one_graft, two_grafts

COVER_LIFE_DAYS = int(EVIDENCE.value("cover-life"))


def broken_rules(
    case: GraftingCase, plan: SettledPlan, preferences=PREFERENCES, evidence=EVIDENCE
) -> set[Rule]:
    return {fault.rule for fault in verify_plan(case, plan, evidence, preferences)}


def evidence_with(values: dict[str, Decimal]) -> Evidence:
    """The evidence with some rows fixed at another value."""
    fixed = {"low": None, "high": None, "distribution": "fixed"}
    rows = (
        replace(row, value=values[row.row_id], **fixed) if row.row_id in values else row for row in EVIDENCE)
    return Evidence(tuple(rows), "altered")


def excised_and_left(horizon_day: int, until_day: int) -> tuple[GraftingCase, SettledPlan]:
    """A wound that is excised on day 1, covered, and not grafted within the horizon."""
    wound = wound_on("left-thigh-front", Decimal(150))
    case = roomy_case(Random(1), (wound,), (), horizon_day=horizon_day)
    case = with_request(case, cover_stock_cm2=Decimal(150))
    acts = SettledPlan(
        excisions=(Excision(1, wound.wound_id, wound.area_cm2),),
        covers=(temporary_cover(1, wound, wound.area_cm2, until_day),))
    return case, settle(case, acts)


def test_cover_must_last_through_the_horizon_and_no_longer() -> None:
    assert broken_rules(*excised_and_left(horizon_day=8, until_day=8)) == set()
    assert broken_rules(*excised_and_left(horizon_day=9, until_day=8)) == {Rule.COVER_EXCISED_BED}


def test_cover_of_one_day_is_cover() -> None:
    assert broken_rules(*excised_and_left(horizon_day=1, until_day=1)) == set()
    assert broken_rules(*excised_and_left(horizon_day=1, until_day=0)) == {Rule.COVER_EXCISED_BED}


def test_a_graft_on_ready_bed_does_not_cover_what_is_excised_later() -> None:
    half = Decimal(150)
    wound = wound_on("left-thigh-front", 2 * half, excised_cm2=half)
    graft = place_graft(1, wound, GraftMethod.MESHED_1_2, THIN_BELOW, half)
    case = roomy_case(Random(1), (wound,), (site_on("right-thigh-front", Decimal(900)),), horizon_day=9)
    case = with_request(case, cover_stock_cm2=half)
    acts = SettledPlan(
        excisions=(Excision(5, wound.wound_id, half),), placements=(graft,),
        harvests=(harvest_for((graft,), "right-thigh-front"),), covers=(temporary_cover(5, wound, half, 9),))
    assert broken_rules(case, settle(case, acts)) == set()
    assert broken_rules(case, settle(case, replace(acts, covers=()))) == {Rule.COVER_EXCISED_BED}


def test_an_overlay_does_not_cover_an_excised_bed() -> None:
    case, plan = excised_and_left(horizon_day=5, until_day=8)
    overlay = amended(plan, "covers", kind=CoverKind.OVERLAY)
    assert broken_rules(case, overlay) == {Rule.COVER_EXCISED_BED}


def test_temporary_cover_is_no_overlay_and_an_overlay_of_another_day_neither() -> None:
    case, plan = one_graft(Random(2), method=GraftMethod.MESHED_1_6)
    case = with_request(case, cover_stock_cm2=Decimal(1000))
    graft = plan.placements[0]
    cover = CoverPlacement(graft.day, graft.wound_id, CoverKind.OVERLAY, graft.area_cm2, graft.day + 2)
    plan = replace(plan, covers=(cover,))
    assert broken_rules(case, plan) == set()
    temporary = amended(plan, "covers", kind=CoverKind.TEMPORARY)
    assert broken_rules(case, temporary) == {Rule.OVERLAY_ON_WIDE_EXPANSION}
    before = amended(plan, "covers", day=graft.day - 1)
    assert Rule.OVERLAY_ON_WIDE_EXPANSION in broken_rules(case, before)


@pytest.mark.parametrize("stock_cm2", [None, Decimal(0)])
def test_no_stock_means_not_a_step_of_cover(stock_cm2: Decimal | None) -> None:
    case, plan = one_graft(Random(3))
    graft = plan.placements[0]
    cover = CoverPlacement(graft.day, graft.wound_id, CoverKind.OVERLAY, STEP, graft.day)
    faults = broken_rules(with_request(case, cover_stock_cm2=stock_cm2), replace(plan, covers=(cover,)))
    assert faults == {Rule.COVER_EXCISED_BED}


def test_a_decided_excision_of_a_bed_that_needs_none_is_kept() -> None:
    case, plan = one_graft(Random(4), area_cm2=Decimal(150), wound={"excised_cm2": Decimal(150)})
    decision = FixedDecision(Act.EXCISE, Region.THIGH, Side.LEFT, date(2031, 4, 4))
    assert broken_rules(with_request(case, fixed_decisions=(decision,)), plan) == set()


@pytest.mark.parametrize("act", [Act.EXCISE, Act.PLACE, Act.HARVEST])
def test_a_decision_without_its_act_is_refused(act: Act) -> None:
    wound = wound_on("left-thigh-front", Decimal(150))
    case = roomy_case(Random(5), (wound,), (site_on("left-thigh-back", Decimal(150)),))
    case = with_request(case, fixed_decisions=(FixedDecision(act, Region.THIGH, Side.LEFT),))
    assert broken_rules(case, settle(case, SettledPlan())) == {Rule.FIXED_DECISION}


def test_a_decided_day_holds_for_both_surfaces_of_a_region() -> None:
    case, plan = two_grafts(Random(6), 7, first_at="left-thigh-front", second_at="left-thigh-back")
    decision = FixedDecision(Act.PLACE, Region.THIGH, Side.LEFT, date_of(plan.sessions[0].day))
    assert broken_rules(with_request(case, fixed_decisions=(decision,)), plan) == {Rule.FIXED_DECISION}


def test_two_rooms_stated_for_one_day_must_both_suit() -> None:
    case, plan = one_graft(Random(7))
    day = date_of(plan.sessions[0].day)
    rooms = (TheatreDay(day), TheatreDay(day, minutes=10))
    assert broken_rules(with_request(case, theatre_days=rooms), plan) == {Rule.THEATRE_DAY}


def regrafts_only(**parcel) -> tuple[GraftingCase, SettledPlan]:
    """Grafts on the wound that are not read, and a regraft of their loss as the only session."""
    graft = PlacedGraft(-2, GraftMethod.ISLAND_1_4, Decimal(2500))
    wound = wound_on("left-thigh-front", Decimal(0), placed=(graft,))
    site = site_on("right-thigh-front", Decimal(900), (DonorParcel(Decimal(900), **parcel),))
    case = roomy_case(Random(8), (wound,), (site,))
    lost_cm2 = expected_loss_cm2(case, SettledPlan(), "left-thigh")
    regraft = place_graft(5, wound, GraftMethod.ISLAND_1_4, THIN_BELOW, lost_cm2, is_regraft=True)
    number = parcel.get("harvest_count", 0) + 1
    acts = SettledPlan(placements=(regraft,), harvests=(harvest_for((regraft,), site.site_id, number),))
    return case, settle(case, acts)


def test_the_loss_of_grafts_that_are_not_read_is_reserved() -> None:
    case, plan = regrafts_only()
    assert broken_rules(case, plan) == set()
    nothing = settle(case, SettledPlan())
    assert broken_rules(case, nothing) == set()
    assert broken_rules(case, replace(nothing, unreserved=())) == {Rule.FAILED_GRAFTS_COME_BACK}


def test_the_loss_of_grafts_that_are_read_is_not_reserved() -> None:
    case, plan = regrafts_only()
    wound = case.wounds[0]
    read = replace(wound, placed=(replace(wound.placed[0], take_fraction=Decimal("0.9")),))
    assert broken_rules(replace(case, wounds=(read,)), plan) == {Rule.FAILED_GRAFTS_COME_BACK}


def test_healing_that_is_only_expected_does_not_serve_a_contingent_first_session() -> None:
    healing = {"harvest_count": 1, "harvested_day": -30, "healed_day": 0}
    assert broken_rules(*regrafts_only(**healing, healed_recorded=True)) == set()
    assert broken_rules(*regrafts_only(**healing, healed_recorded=False)) == {Rule.DONOR_REGROWTH}


def test_a_contingent_session_before_it_does_not_make_the_first_firm_one_the_second() -> None:
    case, plan = regrafts_only()
    burn = wound_on("right-lower-leg-front", Decimal(150))
    parcels = (DonorParcel(Decimal(900), 1, -30, healed_recorded=False, healed_day=0),)
    site = site_on("left-upper-arm-front", Decimal(900), parcels)
    case = replace(case, wounds=(*case.wounds, burn), donor_sites=(*case.donor_sites, site))
    graft = place_graft(12, burn, GraftMethod.MESHED_1_2, THIN_BELOW)
    plan = settle(case, replace(
        plan, excisions=(Excision(12, burn.wound_id, burn.area_cm2),),
        placements=(*plan.placements, graft),
        harvests=(*plan.harvests, harvest_for((graft,), site.site_id, 2))))
    assert [session.is_contingent for session in plan.sessions] == [True, False]
    assert broken_rules(case, plan) == {Rule.DONOR_REGROWTH}
    healed = replace(site, parcels=(replace(parcels[0], healed_recorded=True),))
    assert broken_rules(replace(case, donor_sites=(case.donor_sites[0], healed)), plan) == set()


def test_loss_counts_from_the_preferred_fraction_on() -> None:
    """Losing a tenth is worth a regraft at a fraction of a tenth, and not above it."""
    case, plan = one_graft(Random(9), area_cm2=Decimal(2500), method=GraftMethod.MESHED_1_4)
    case = replace(case, donor_sites=(site_on("right-thigh-front", Decimal(4000)),))
    a_tenth = PREFERENCES.with_overrides((("regraft-fraction", Decimal("0.1")),))
    above = PREFERENCES.with_overrides((("regraft-fraction", Decimal("0.1001")),))
    assert broken_rules(case, plan, a_tenth) == set()
    assert broken_rules(case, plan, above) == {Rule.FAILED_GRAFTS_COME_BACK}
    assert broken_rules(case, replace(plan, unreserved=()), above) == set()


def test_loss_counts_from_the_preferred_percent_on() -> None:
    case, plan = one_graft(Random(10), area_cm2=Decimal(2000), method=GraftMethod.MESHED_1_4)
    case = replace(case, donor_sites=(site_on("right-thigh-front", Decimal(4000)),))
    at_bound = replace(case, body_surface_m2=Decimal(2))
    below = replace(case, body_surface_m2=Decimal("2.001"))
    loss = (UnreservedLoss("left-thigh", Decimal(200)),)
    assert broken_rules(at_bound, settle(at_bound, replace(plan, unreserved=loss))) == set()
    assert broken_rules(below, replace(plan, unreserved=loss)) == {Rule.FAILED_GRAFTS_COME_BACK}


def test_the_overrides_of_a_caller_are_what_is_verified() -> None:
    case, plan = one_graft(Random(11), method=GraftMethod.ISLAND_1_9)
    plan = amended(plan, "harvests", area_cm2=Decimal(40))
    stricter = PREFERENCES.with_overrides((("smallest-harvest", Decimal("40.1")),))
    assert broken_rules(case, plan) == set()
    assert broken_rules(case, plan, stricter) == {Rule.SMALLEST_HARVEST}


def test_a_small_wound_or_site_may_be_used_up_whole() -> None:
    wound = wound_on("left-thigh-front", Decimal("7.3"), excised_cm2=Decimal("7.3"))
    case = roomy_case(Random(12), (wound,), (site_on("right-thigh-front", Decimal(20)),))
    graft = place_graft(3, wound, GraftMethod.MESHED_1_1_5, THIN_BELOW)
    harvest = replace(harvest_for((graft,), "right-thigh-front"), area_cm2=Decimal(20))
    plan = settle(case, SettledPlan(placements=(graft,), harvests=(harvest,)))
    assert broken_rules(case, plan) == set()
    assert broken_rules(case, amended(plan, "harvests", area_cm2=Decimal("19.9"))) == {Rule.SMALLEST_HARVEST}


def test_skin_kept_for_the_face_may_lie_below_where_nothing_lies_above() -> None:
    case, plan = one_graft(Random(13))
    left = case.donor_sites[0].area_cm2 - plan.harvests[0].area_cm2
    kept = with_request(case, keep_for=(KeepFor(Region.FACE, left),))
    assert broken_rules(kept, plan) == set()
    case = replace(kept, donor_sites=(*kept.donor_sites, site_on("scalp", Decimal(500))))
    scalp = replace(plan.harvests[0], site_id="scalp", area_cm2=Decimal(40))
    plan = settle(case, replace(plan, harvests=(*plan.harvests, scalp)))
    assert broken_rules(with_request(case, keep_for=(KeepFor(Region.FACE, Decimal(460)),)), plan) == set()
    above = with_request(case, keep_for=(KeepFor(Region.FACE, Decimal("460.1")),))
    assert broken_rules(above, plan) == {Rule.KEEP_FOR}


def test_where_more_is_to_be_kept_than_there_is_all_of_it_is_kept() -> None:
    case, plan = one_graft(Random(15))
    nothing = settle(case, SettledPlan())
    kept = with_request(case, keep_for=(KeepFor(Region.HAND, case.donor_sites[0].area_cm2 + 1000),))
    assert broken_rules(kept, nothing) == set()
    assert broken_rules(kept, plan) == {Rule.KEEP_FOR}


def test_kept_skin_is_free_once_its_region_is_closed() -> None:
    case, plan = one_graft(
        Random(16), wound_at="left-hand-back", method=GraftMethod.SHEET, skin_class=MEDIUM_BELOW)
    kept = with_request(case, keep_for=(KeepFor(Region.HAND, case.donor_sites[0].area_cm2),))
    assert broken_rules(kept, plan) == set()
    other_hand = replace(kept, wounds=(*kept.wounds, wound_on("right-hand-back", Decimal(50))))
    assert broken_rules(other_hand, settle(other_hand, plan)) == {Rule.KEEP_FOR}


def test_only_skin_never_harvested_is_kept() -> None:
    case, plan = one_graft(Random(14))
    kept = with_request(case, keep_for=(KeepFor(Region.HAND, Decimal(1)),))
    site = kept.donor_sites[0]
    used = plan.harvests[0].area_cm2
    parcels = (DonorParcel(used), DonorParcel(site.area_cm2 - used, harvest_count=1, harvested_day=-9))
    rest_harvested = replace(kept, donor_sites=(replace(site, parcels=parcels),))
    assert broken_rules(kept, plan) == set()
    assert broken_rules(rest_harvested, plan) == {Rule.KEEP_FOR}


def test_two_sessions_on_one_day_are_not_two_sessions() -> None:
    case, plan = one_graft(Random(17))
    session = plan.sessions[0]
    twice = replace(plan, sessions=(session, replace(session, ordinal=2)))
    assert broken_rules(with_limits(case, rest_days=0), twice) == {Rule.NOTHING_WITHOUT_A_SESSION}


def test_temporary_cover_is_laid_where_the_patient_lies_open() -> None:
    case, plan = excised_and_left(horizon_day=8, until_day=8)
    back = wound_on("posterior-trunk", Decimal(20), excised_cm2=Decimal(20))
    case = with_request(replace(case, wounds=(*case.wounds, back)), cover_stock_cm2=Decimal(170))
    plan = settle(case, replace(plan, covers=(*plan.covers, temporary_cover(1, back, Decimal(20), 8))))
    assert broken_rules(case, plan) == set()
    supine = amended(plan, "sessions", positions=(Position.SUPINE,))
    assert broken_rules(case, supine) == {Rule.POSITION}


def test_minutes_may_reach_the_limit_exactly() -> None:
    case, plan = one_graft(Random(18), area_cm2=Decimal(200), body_surface_m2=Decimal(2))
    used = plan.sessions[0].procedure_minutes
    parts = (EVIDENCE.value("theatre-minutes", part) for part in ("fixed", "per-percent"))
    assert used == sum(parts)
    assert broken_rules(with_limits(case, procedure_minutes=used), plan) == set()


@pytest.mark.parametrize(("band", "bleeds_as"), [
    (SkinLimitAge.INFANT, "child"), (SkinLimitAge.SMALL_CHILD, "child"), (SkinLimitAge.CHILD, "child"),
    (SkinLimitAge.ADULT, "adult"), (SkinLimitAge.OLD, "adult"),
])
@pytest.mark.parametrize("act", ["excision", "harvest"])
def test_children_bleed_as_children_and_adults_as_adults(
    band: SkinLimitAge, bleeds_as: str, act: str
) -> None:
    case, plan = one_graft(Random(19), age_band=band)
    other = {"child": "adult", "adult": "child"}[bleeds_as]
    row = f"blood-loss-per-cm2/{act}-"
    assert broken_rules(case, plan, evidence=evidence_with({row + bleeds_as: Decimal(9)})) == {
        Rule.SESSION_BLOOD}
    assert broken_rules(case, plan, evidence=evidence_with({row + other: Decimal(9)})) == set()


def test_a_scalp_that_just_covers_the_face_must_serve_it() -> None:
    """Without any loss 150 cm² of scalp are exactly enough for 150 cm² of face."""
    lossless = evidence_with({
        "handling-loss/any": Decimal(0), "shape-factor/concave": Decimal(1),
        "achieved-expansion-ratio/sheet": Decimal(1)})
    case, plan = one_graft(
        Random(20), wound_at="face", area_cm2=Decimal(150), method=GraftMethod.SHEET,
        skin_class=MEDIUM_BELOW, injury_day=-20)
    thigh = case.donor_sites[0]
    almost = replace(case, donor_sites=(thigh, site_on("scalp", Decimal("149.9"))))
    enough = replace(case, donor_sites=(thigh, site_on("scalp", Decimal(150))))
    assert broken_rules(almost, plan, evidence=lossless) == set()
    assert broken_rules(enough, plan, evidence=lossless) == {Rule.SKIN_CLASS}


def test_kept_skin_waits_for_its_own_region_and_for_its_last_step() -> None:
    """The hand is closed: a thigh left open does not hold its skin, a step of the other hand does."""
    case, plan = one_graft(
        Random(21), wound_at="left-hand-back", method=GraftMethod.SHEET, skin_class=MEDIUM_BELOW)
    kept = with_request(case, keep_for=(KeepFor(Region.HAND, case.donor_sites[0].area_cm2),))
    nothing_left = replace(plan, still_open=(StillOpen(kept.wounds[0].wound_id, Decimal(0)),))
    assert broken_rules(kept, nothing_left) == set()
    thigh = replace(kept, wounds=(*kept.wounds, wound_on("left-thigh-front", Decimal(50))))
    assert broken_rules(thigh, settle(thigh, plan)) == set()
    hand = replace(kept, wounds=(*kept.wounds, wound_on("right-hand-back", STEP)))
    assert broken_rules(hand, settle(hand, plan)) == {Rule.KEEP_FOR}


def test_a_decided_excision_is_due_for_the_last_step_of_eschar() -> None:
    wound = wound_on("left-thigh-front", Decimal(150), excised_cm2=Decimal("149.9"))
    case = roomy_case(Random(22), (wound,), ())
    case = with_request(case, fixed_decisions=(FixedDecision(Act.EXCISE, Region.THIGH, Side.LEFT),))
    assert broken_rules(case, settle(case, SettledPlan())) == {Rule.FIXED_DECISION}
