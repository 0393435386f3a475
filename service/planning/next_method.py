"""What the next narrower and the next wider method would take and cost, wound by wound."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from service.domain.body_region import Place
from service.domain.burn_wound import BurnWound
from service.domain.graft import GraftMethod
from service.domain.method_change import MethodChange, WoundChange
from service.domain.plan import SettledPlan
from service.domain.session import Placement, Session
from service.planning.candidates import allowed_by_expansion
from service.planning.objective import weighted_open_days
from service.planning.quantities import PlanningQuantities, cm2, tenths
from service.wording.rounding import WHOLE

Methods = tuple[GraftMethod, GraftMethod]


def find_method_changes(quantities: PlanningQuantities, plan: SettledPlan) -> tuple[MethodChange, ...]:
    """For each wound of a firm session its neighbours in expansion, wounds with the same effect together.

    A wound is what is grafted that day by one method on one region of one side, front and back: limbs are
    grafted all round, and whole regions by one method. What takes or spares less than 1 cm² is left out.
    [cm², %TBSA-days]
    """
    days = weighted_open_days(quantities, plan)
    return tuple(change for session in plan.firm_sessions for change in _changes(quantities, plan, days, session))


def _changes(quantities: PlanningQuantities, plan: SettledPlan, planned_days: Decimal,
             session: Session) -> Iterator[MethodChange]:
    alike: dict[tuple[Methods, bool], list[WoundChange]] = defaultdict(list)
    for methods, wound in _wound_changes(quantities, plan, planned_days, session.day):
        if abs(wound.skin_cm2) >= WHOLE:
            alike[methods, wound.days < 0].append(wound)
    for ((planned, other), _), wounds in alike.items():
        yield MethodChange(session.ordinal, planned, other, tuple(wounds))


def _wound_changes(quantities: PlanningQuantities, plan: SettledPlan, planned_days: Decimal,
                   day: int) -> Iterator[tuple[Methods, WoundChange]]:
    wounds = {wound.wound_id: wound for wound in quantities.case.wounds}
    for (region_key, planned), placements in _by_wound(plan, wounds, day).items():
        changes: dict[GraftMethod, list[Placement]] = defaultdict(list)
        for placement in placements:
            for other in _neighbours(quantities, wounds[placement.wound_id], planned):
                changes[other].append(placement)
        for other, changed in changes.items():
            part = _name_part([wounds[p.wound_id] for p in changed], [wounds[p.wound_id] for p in placements])
            skin = sum((_harvest_cm2(quantities, wounds[p.wound_id].place, p.area_cm2, other)
                        - _harvest_cm2(quantities, wounds[p.wound_id].place, p.area_cm2, planned) for p in changed),
                       Decimal(0))
            days = weighted_open_days(quantities, _with_method(plan, changed, other)) - planned_days
            yield (planned, other), WoundChange(f"{region_key}{part}", skin, days)


def _by_wound(plan: SettledPlan, wounds: dict[str, BurnWound],
              day: int) -> dict[tuple[str, GraftMethod], list[Placement]]:
    """What is grafted for the first time on a day, by region, side and method."""
    found: dict[tuple[str, GraftMethod], list[Placement]] = defaultdict(list)
    for placement in plan.placements:
        if placement.day == day and not placement.is_regraft:
            found[wounds[placement.wound_id].place.region_key, placement.method].append(placement)
    return found


def _name_part(changed: list[BurnWound], planned: list[BurnWound]) -> str:
    """The part that a change is about, where skin over a joint stands apart: it takes other methods."""
    if all(wound.over_joint for wound in changed):
        return ":joint"
    is_apart = any(wound.over_joint for wound in planned) and not any(wound.over_joint for wound in changed)
    return ":beside-joint" if is_apart else ""


def _with_method(plan: SettledPlan, changed: list[Placement], method: GraftMethod) -> SettledPlan:
    return replace(plan, placements=tuple(
        replace(p, method=method) if p in changed else p for p in plan.placements))


def _neighbours(quantities: PlanningQuantities, wound: BurnWound, planned: GraftMethod) -> Iterator[GraftMethod]:
    """The closest methods on either side of the planned one that a wound may take."""
    allowed = allowed_by_expansion(quantities, wound)
    own = quantities.ratio(planned)
    yield from [method for method in allowed if quantities.ratio(method) < own][-1:]
    yield from [method for method in allowed if quantities.ratio(method) > own][:1]


def _harvest_cm2(quantities: PlanningQuantities, place: Place, area_cm2: Decimal, method: GraftMethod) -> Decimal:
    """Skin to take so that an area is covered by a method. [cm²]"""
    return cm2(quantities.harvest_for(quantities.skin_hundredths(method, place, tenths(area_cm2))))
