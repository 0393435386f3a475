"""Plans made by hand around one invented adult: islands, mesh and sheet over two sessions."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from service.domain.answer import PlanAnswer, Versions
from service.domain.body_region import Place, Position, Region, Side, Surface
from service.domain.burn_wound import BurnWound, Depth, PlacedGraft
from service.domain.case import CarrierRemovalRecord, ExcisionRecord, GraftingCase, SessionLimits
from service.domain.donor_site import DonorParcel, DonorSite, Harvest, HarvestRecord
from service.domain.graft import GraftMethod, SkinClass, Thickness
from service.domain.plan import Closure, GraftPlan, LedgerEntry, PlanOutcome, SettledPlan, StillOpen
from service.domain.session import CoverKind, CoverPlacement, Excision, Placement, Session
from service.evidence.library import load_evidence
from service.preferences.library import load_preferences
from service.schedule.dressings import schedule_care
from service.schedule.theatre_list import make_theatre_list
from tests.random_cases import grafting_case, plan_request

D = Decimal
TRUNK = Place(Region.ANTERIOR_TRUNK, None, Surface.FRONT)
BACK = Place(Region.POSTERIOR_TRUNK, None, Surface.BACK)
LEFT_THIGH = Place(Region.THIGH, Side.LEFT, Surface.FRONT)
LEFT_HAND = Place(Region.HAND, Side.LEFT, Surface.BACK)
RIGHT_THIGH = Place(Region.THIGH, Side.RIGHT, Surface.FRONT)
RIGHT_THIGH_BACK = Place(Region.THIGH, Side.RIGHT, Surface.BACK)
TRUNK_ID = "anterior-trunk:full-thickness"
THIGH_ID = "left-thigh-front:deep-partial"
HAND_ID = "left-hand-back:full-thickness"
THIN = SkinClass(Thickness.THIN, False)
MEDIUM = SkinClass(Thickness.MEDIUM, False)


def hand_made_case(*, past: bool = False, **changes) -> GraftingCase:
    """Three wounds and two donor sites; ``past`` adds islands placed three days ago and their harvest."""
    placed = (PlacedGraft(-3, GraftMethod.ISLAND_1_4, D("300.0")),) if past else ()
    wounds = (
        BurnWound(TRUNK_ID, TRUNK, Depth.FULL_THICKNESS, False, D("1200.0"), placed=placed),
        BurnWound(THIGH_ID, LEFT_THIGH, Depth.DEEP_PARTIAL, False, D("500.0")),
        BurnWound(HAND_ID, LEFT_HAND, Depth.FULL_THICKNESS, False, D("150.0")),
    )
    open_parcel = DonorParcel(D("100.0"), 1, -3, healed_recorded=False, healed_day=12)
    sites = (
        DonorSite("right-thigh-front", RIGHT_THIGH, D("800.0"), 2,
                  (DonorParcel(D("700.0")), open_parcel) if past else (DonorParcel(D("800.0")),)),
        DonorSite("right-thigh-back", RIGHT_THIGH_BACK, D("700.0"), 2, (DonorParcel(D("700.0")),)),
    )
    made = grafting_case(wounds, sites, limits=_limits(), **changes)
    if past:
        day = made.date_of(-3)
        made = replace(made, record=replace(
            made.record,
            excisions=(ExcisionRecord(TRUNK, day, D("300.0"), "Procedure/1"),),
            harvests=(HarvestRecord(RIGHT_THIGH, day, D("100.0"), D("0.2"), "Procedure/2"),)))
    return made


def _limits():
    return SessionLimits(D("3600"), D("3600"), D("2500"), 240, 2, 2)


def hand_made_plan() -> SettledPlan:
    """Islands and a hand sheet first, then meshed skin from the other side, then a possible session."""
    return SettledPlan(
        sessions=(
            Session(1, 2, (Position.SUPINE,), False, 180, 1900, 6, ("session-area", "donor-regrowth")),
            Session(2, 20, (Position.SUPINE, Position.PRONE), False, 120, 700, 2),
            Session(3, 30, (Position.SUPINE,), True, 60, 150, 1),
        ),
        excisions=(
            Excision(2, TRUNK_ID, D("1200.0")), Excision(2, HAND_ID, D("150.0")),
            Excision(20, THIGH_ID, D("400.0")),
        ),
        harvests=(
            Harvest(2, "right-thigh-front", Thickness.THIN, D("360.0"), 1),
            Harvest(2, "right-thigh-front", Thickness.MEDIUM, D("190.0"), 1),
            Harvest(20, "right-thigh-back", Thickness.THIN, D("250.0"), 1),
            Harvest(20, "right-thigh-front", Thickness.THIN, D("100.0"), 2),
            Harvest(30, "right-thigh-front", Thickness.THIN, D("60.0"), 1),
        ),
        placements=(
            Placement(2, TRUNK_ID, GraftMethod.ISLAND_1_4, D("1200.0"), THIN, D("335.16"), plates=D(19)),
            Placement(2, HAND_ID, GraftMethod.SHEET, D("150.0"), MEDIUM, D("180.0")),
            Placement(20, THIGH_ID, GraftMethod.MESHED_1_1_5, D("400.0"), THIN, D("330.0")),
            Placement(30, TRUNK_ID, GraftMethod.MESHED_1_1, D("50.0"), THIN, D("55.0"), is_regraft=True),
        ),
        covers=(CoverPlacement(2, TRUNK_ID, CoverKind.OVERLAY, D("200.0"), 16),),
        still_open=(StillOpen(THIGH_ID, D("100.0")),),
    )


def hand_made_answer(case: GraftingCase | None = None, plan: SettledPlan | None = None,
                     outcome: PlanOutcome = PlanOutcome.RULE_OF_THUMB, **plan_changes) -> PlanAnswer:
    """A whole answer with real events and theatre lists."""
    case = case or hand_made_case(request=plan_request(cover_stock_cm2=D("400")))
    plan = hand_made_plan() if plan is None else plan
    evidence, preferences = load_evidence(), load_preferences()
    care = schedule_care(case, plan, evidence, preferences)
    graft_plan = GraftPlan(
        outcome, plan,
        closures=tuple(Closure(w.wound_id, 30, 22, 41) for w in case.wounds),
        ledger=tuple(
            LedgerEntry(day, site.site_id, site.area_cm2 - D("20.5"), D("20.5"), D(0))
            for day in (0, *(s.day for s in plan.sessions)) for site in case.donor_sites),
    )
    return PlanAnswer(
        case, replace(graft_plan, **plan_changes),
        care.events,
        tuple(make_theatre_list(case, plan, s, evidence, preferences) for s in plan.sessions),
        case.findings, Versions("0.1.0", evidence.version, evidence.sha256, preferences.sha256, "a" * 64, 7),
        disturbances_saved_count=care.disturbances_saved_count)


def carriers_removed(case: GraftingCase, day: int) -> GraftingCase:
    removal = CarrierRemovalRecord(TRUNK, case.date_of(day), "Procedure/9")
    return replace(case, record=replace(case.record, carrier_removals=(removal,)))
