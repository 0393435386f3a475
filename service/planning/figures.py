"""What a course amounts to, in the figures by which courses are compared."""

from __future__ import annotations

from decimal import Decimal

from service.domain.course_figures import CourseFigures, SiteHarvest
from service.domain.graft import GraftMethod
from service.domain.plan import SettledPlan
from service.planning.closures import expected_closures, last_closure_day
from service.planning.objective import scar_days, weighted_open_days
from service.planning.quantities import PlanningQuantities


def course_figures(quantities: PlanningQuantities, plan: SettledPlan) -> CourseFigures:
    """Figures of the firm sessions, by the weights of ``quantities``; possible sessions do not count."""
    days = tuple(session.day for session in plan.firm_sessions)
    taken: dict[tuple[int, str], Decimal] = {}
    for h in plan.harvests:
        if h.day in days:
            taken[h.day, h.site_id] = taken.get((h.day, h.site_id), Decimal(0)) + h.area_cm2
    placed: dict[GraftMethod, Decimal] = {}
    for p in plan.placements:
        if not p.is_regraft:
            placed[p.method] = placed.get(p.method, Decimal(0)) + p.area_cm2
    return CourseFigures(
        session_days=days,
        harvests=tuple(SiteHarvest(day, site, area) for (day, site), area in sorted(taken.items())),
        area_by_method=tuple((m, placed[m]) for m in GraftMethod if m in placed),
        closure_day=last_closure_day(expected_closures(quantities, plan)),
        open_cm2=plan.open_cm2,
        scar_days=scar_days(quantities, plan),
        objective_days=weighted_open_days(quantities, plan),
    )
