"""Expected closure of each wound, with the spread of the sources."""

from __future__ import annotations

from decimal import Decimal
from math import ceil, floor

from service.domain.burn_wound import BurnWound
from service.domain.graft import GraftMethod
from service.domain.plan import Closure, SettledPlan
from service.planning.quantities import PlanningQuantities


def _span(quantities: PlanningQuantities, method: GraftMethod, placed_day: int) -> tuple[int, int, int]:
    """Low, expected and high closure day of a graft. [days]"""
    row = quantities.evidence.row("closure-days", method)
    low, high = (row.value if bound is None else bound for bound in (row.low, row.high))
    return placed_day + floor(low), placed_day + ceil(row.value), placed_day + ceil(high)


def _grafts_of(plan: SettledPlan, wound: BurnWound) -> list[tuple[GraftMethod, int]]:
    planned = [(p.method, p.day) for p in plan.placements if p.wound_id == wound.wound_id and not p.is_regraft]
    return planned + [(g.method, g.placed_day) for g in wound.placed]


def _regrafts_of(quantities: PlanningQuantities, plan: SettledPlan, wound: BurnWound) -> list[tuple[GraftMethod, int]]:
    """Contingent regrafts of the wound's region, which its loss may need."""
    places = {w.wound_id: w.place.region_key for w in quantities.case.wounds}
    return [(p.method, p.day) for p in plan.placements
            if p.is_regraft and places[p.wound_id] == wound.place.region_key]


def expected_closures(quantities: PlanningQuantities, plan: SettledPlan) -> tuple[Closure, ...]:
    """When each wound is expected to be closed; ``None`` while part of it is not grafted.

    The high end counts a contingent regraft of the region. A closure is confirmed only by a
    record: this is an expectation.
    """
    open_cm2 = {s.wound_id: s.area_cm2 for s in plan.still_open}
    closures = []
    for wound in quantities.case.wounds:
        grafts = _grafts_of(plan, wound)
        if open_cm2.get(wound.wound_id, Decimal(0)) > 0 or not grafts:
            closures.append(Closure(wound.wound_id, None, None, None))
            continue
        spans = [_span(quantities, method, day) for method, day in grafts]
        regrafts = [_span(quantities, method, day) for method, day in _regrafts_of(quantities, plan, wound)]
        high = max(high for _, _, high in spans + regrafts)
        closures.append(Closure(wound.wound_id, max(e for _, e, _ in spans), max(low for low, _, _ in spans), high))
    return tuple(closures)


def last_closure_day(closures: tuple[Closure, ...]) -> int | None:
    """Day on which the last wound is expected to close; ``None`` while one stays open."""
    days = [c.day for c in closures]
    return None if not days or None in days else max(days)
