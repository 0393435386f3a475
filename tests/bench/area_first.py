"""The second baseline: the largest open wound first, by mesh, wide under an overlay where stock allows.

A session on every day that rest and theatre allow. Face, neck and hands as sheets; elsewhere the narrowest mesh
by which one harvest of all free skin would close everything, up to 1:3, and 1:6 under an overlay while stock
lasts once that does not suffice. No islands, no waiting for a better day. Sessions are filled by the planner's
own rules, so that it differs in what it wants and in nothing else.
"""

from __future__ import annotations

from service.domain.case import GraftingCase
from service.domain.graft import GraftMethod, SkinClass, thickness_for
from service.domain.plan import SettledPlan
from service.evidence.library import Evidence
from service.planning.calendar import next_theatre_day
from service.planning.candidates import candidate_methods
from service.planning.course import Course, Policy, start_course
from service.planning.hold_session import hold_session
from service.planning.losses import reserve_for_losses
from service.planning.positions import best_draft
from service.planning.quantities import PlanningQuantities, tenths
from service.planning.session_filling import SessionAim, Wish
from service.planning.settle import settle
from service.planning.wound_facts import MethodFacts, WoundFacts
from service.preferences.library import Preferences

MESHES = (GraftMethod.MESHED_1_1, GraftMethod.MESHED_1_1_5, GraftMethod.MESHED_1_2, GraftMethod.MESHED_1_3)
UNDER_OVERLAY = GraftMethod.MESHED_1_6


def plan_area_first(case: GraftingCase, evidence: Evidence, preferences: Preferences) -> SettledPlan:
    """The settled plan of the second baseline; it keeps every rule."""
    quantities = PlanningQuantities(case, evidence, preferences)
    wounds = tuple(WoundFacts(wound, quantities) for wound in case.wounds)
    course, level = start_course(quantities, wounds), _level(quantities, wounds)
    day = next_theatre_day(case, case.first_session_day)
    while day is not None and course.demand():
        draft = best_draft(course, _aim(course, day, level))
        if draft is None:
            event = course.next_event(day)
            day = None if event is None else next_theatre_day(case, event)
        else:
            hold_session(course, draft)
            day = next_theatre_day(case, day + case.limits.rest_days)
    return settle(course, reserve_for_losses(course, Policy(level)))


def _level(quantities: PlanningQuantities, wounds: tuple[WoundFacts, ...]) -> GraftMethod:
    """The narrowest mesh by which one harvest of all free skin would close everything, else the widest."""
    need = sum(wound.area for wound in wounds)
    supply = quantities.kept_fraction * sum(tenths(site.area_cm2) for site in quantities.case.donor_sites)
    return next((mesh for mesh in MESHES if supply * quantities.ratio(mesh) >= need), MESHES[-1])


def _aim(course: Course, day: int, level: GraftMethod) -> SessionAim:
    """All that is open, the largest first."""
    demand, case = course.demand(), course.quantities.case
    wanted = (wound for wound in course.wounds if wound.wound_id in demand)
    ordered = sorted(wanted, key=lambda wound: (-demand[wound.wound_id], wound.wound_id))
    stock_left, wishes = course.cover_left, []
    for wound in ordered:
        area, method = demand[wound.wound_id], wound.at_level(level)
        if level is MESHES[-1] and area <= stock_left and UNDER_OVERLAY in candidate_methods(case, wound.wound):
            method = _under_overlay(wound)
            stock_left -= area
        if method is not None:
            wishes.append(Wish(wound, method, area))
    return SessionAim(day, tuple(wishes), demand)


def _under_overlay(wound: WoundFacts) -> MethodFacts:
    thickness = thickness_for(UNDER_OVERLAY, wound.place, thick_allowed=False)[0]
    covered = wound.quantities.coverage(UNDER_OVERLAY, wound.place) * wound.quantities.kept_fraction
    return MethodFacts(UNDER_OVERLAY, SkinClass(thickness, False), SkinClass(thickness, True), float(1 / covered))
