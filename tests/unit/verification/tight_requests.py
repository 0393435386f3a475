"""A request that states just what a plan uses: days, minutes, cover, kept skin and decisions."""

from __future__ import annotations

from decimal import Decimal
from random import Random

from service.domain.body_region import Region
from service.domain.case import Act, FixedDecision, GraftingCase, KeepFor, PlanRequest, TheatreDay
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan
from tests.random_cases import date_of, plan_request
from tests.unit.verification.plan_builder import EVIDENCE


def tight_request(rng: Random, case: GraftingCase, plan: SettledPlan) -> PlanRequest:
    """Each statement is made in about half of the requests."""
    changes: dict = {}
    covered = sum((cover.area_cm2 for cover in plan.covers), Decimal(0))
    if covered or rng.random() < 0.5:
        changes["cover_stock_cm2"] = covered
    if rng.random() < 0.5:
        changes["theatre_days"] = _theatre_days(plan)
    if rng.random() < 0.5:
        changes["methods_available"] = frozenset(p.method for p in plan.placements) or frozenset(GraftMethod)
    if rng.random() < 0.5:
        changes["keep_for"] = (KeepFor(Region.HAND, _left_for_hands(case, plan)),)
    if rng.random() < 0.5:
        changes["fixed_decisions"] = _decisions(case, plan)
    return plan_request(**changes)


def _theatre_days(plan: SettledPlan) -> tuple[TheatreDay, ...]:
    around = sum(EVIDENCE.value("theatre-minutes", part) for part in ("induction", "preparation", "exit"))
    return tuple(
        TheatreDay(date_of(session.day), int(around) + 1 + session.procedure_minutes, len(session.positions))
        for session in plan.sessions)


def _left_for_hands(case: GraftingCase, plan: SettledPlan) -> Decimal:
    """Skin never harvested that is left, and skin that hands already get. [cm²]"""
    hands = {wound.wound_id for wound in case.wounds if wound.place.region is Region.HAND}
    held = sum((p.area_cm2 for s in case.donor_sites for p in s.parcels if not p.harvest_count), Decimal(0))
    taken = sum((h.area_cm2 for h in plan.harvests if h.harvest_number == 1), Decimal(0))
    placed = sum((p.skin_cm2 for p in plan.placements if p.wound_id in hands), Decimal(0))
    return held - taken + placed


def _decisions(case: GraftingCase, plan: SettledPlan) -> tuple[FixedDecision, ...]:
    """What the plan does on the region of its first graft, first excision and first harvest."""
    places = {wound.wound_id: wound.place for wound in case.wounds}
    places |= {site.site_id: site.place for site in case.donor_sites}
    firm = [p for p in plan.placements if not p.is_regraft]
    decisions = []
    for act, acts in ((Act.PLACE, firm), (Act.EXCISE, plan.excisions)):
        if acts:
            place = places[acts[0].wound_id]
            same = [a for a in acts if places[a.wound_id].region_key == place.region_key]
            days = {a.day for a in same}
            methods = {a.method for a in same} if act is Act.PLACE else set()
            decisions.append(FixedDecision(
                act, place.region, place.side, date_of(same[0].day) if len(days) == 1 else None,
                methods.pop() if len(methods) == 1 else None))
    if plan.harvests:
        first = plan.harvests[0]
        place = places[first.site_id]
        decisions.append(FixedDecision(Act.HARVEST, place.region, place.side, date_of(first.day)))
    return tuple(decisions)
