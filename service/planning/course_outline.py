"""A plan by what it is compared with an earlier one."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

from service.domain.case import Act, GraftingCase
from service.domain.plan import SettledPlan
from service.domain.plan_difference import CourseOutline, SessionOutline
from service.domain.session import Session


def outline_course(case: GraftingCase, plan: SettledPlan, closure_day: int | None) -> CourseOutline:
    """Firm sessions with their areas by place, and when the course ends.

    Parameters
    ----------
    case : GraftingCase
    plan : SettledPlan
    closure_day : int or None
        Last expected closure; the end of the horizon stands for none.
    """
    ends = case.horizon_day if closure_day is None else closure_day
    return CourseOutline(tuple(_outline(case, plan, s) for s in plan.firm_sessions), case.date_of(ends))


def _outline(case: GraftingCase, plan: SettledPlan, session: Session) -> SessionOutline:
    places = {w.wound_id: w.place.key for w in case.wounds}
    areas: dict[tuple[Act, str], Decimal] = defaultdict(Decimal)
    for act, done in ((Act.EXCISE, plan.excisions), (Act.HARVEST, plan.harvests), (Act.PLACE, plan.placements)):
        for one in done:
            if one.day == session.day:
                areas[act, one.site_id if act is Act.HARVEST else places[one.wound_id]] += one.area_cm2
    skin = sum((area for (act, _), area in areas.items() if act is Act.HARVEST), Decimal(0))
    return SessionOutline(case.date_of(session.day), skin, tuple((*key, area) for key, area in sorted(areas.items())))
