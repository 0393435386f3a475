"""Expected graft loss comes back: skin and a contingent session are held for it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from service.domain.graft import GraftMethod
from service.domain.plan import UnreservedLoss
from service.planning.calendar import next_theatre_day
from service.planning.course import Course, Policy
from service.planning.hold_session import hold_session
from service.planning.positions import best_draft
from service.planning.quantities import PlanningQuantities, cm2, tenths
from service.planning.session_filling import aim_by_policy
from service.planning.wound_facts import WoundFacts


@dataclass
class _RegionLoss:
    """Grafts of one region on one side, both surfaces together. Areas in tenths of a cm²."""

    grafted: int = 0
    lost: Fraction = Fraction(0)
    read_day: int = 0
    largest_wound: WoundFacts | None = None
    largest_area: int = 0

    def add(self, quantities: PlanningQuantities, wound: WoundFacts, method: GraftMethod, area: int,
            placed_day: int) -> None:
        self.grafted += area
        self.lost += area * (1 - quantities.take(method, wound.wound))
        self.read_day = max(self.read_day, placed_day + quantities.read_days[method.kind])
        if area > self.largest_area:
            self.largest_wound, self.largest_area = wound, area


def expected_losses(course: Course) -> dict[str, _RegionLoss]:
    """Loss to expect by region, of the grafts planned and of those placed and not read yet."""
    quantities = course.quantities
    wounds = {w.wound_id: w for w in course.wounds}
    losses: dict[str, _RegionLoss] = {}
    for wound in wounds.values():
        for graft in wound.wound.placed:
            if graft.take_fraction is None:
                losses.setdefault(wound.place.region_key, _RegionLoss()).add(
                    quantities, wound, graft.method, tenths(graft.area_cm2), graft.placed_day)
    for placement in course.placements:
        wound = wounds[placement.wound_id]
        losses.setdefault(wound.place.region_key, _RegionLoss()).add(
            quantities, wound, placement.method, tenths(placement.area_cm2), placement.day)
    return losses


def is_regrafted(quantities: PlanningQuantities, loss: _RegionLoss) -> bool:
    """A small loss heals by dressing: below a share of body surface or a share of the graft."""
    return (loss.lost >= quantities.regraft_percent * quantities.percent_tenths
            and loss.lost >= quantities.regraft_fraction * loss.grafted)


def skin_owed(course: Course, level: GraftMethod) -> float:
    """Skin to harvest, at a level of expansion, for losses that may come to need a regraft. [tenths of a cm²]"""
    owed = 0.0
    for loss in expected_losses(course).values():
        method = loss.largest_wound.at_level(level) if loss.largest_wound.is_reserved else None
        owed += 0.0 if method is None else float(loss.lost) * method.harvest_per_area
    return owed


def reserve_for_losses(course: Course, policy: Policy) -> tuple[UnreservedLoss, ...]:
    """Add contingent sessions that regraft the expected loss; what finds no skin is returned.

    The first contingent session waits for the last read and for rest after the last session.
    """
    quantities = course.quantities
    losses = {key: loss for key, loss in expected_losses(course).items() if is_regrafted(quantities, loss)}
    owed = {key: ceil(loss.lost) for key, loss in losses.items()}
    by_wound = {loss.largest_wound.wound_id: key for key, loss in losses.items()}
    rest = quantities.case.limits.rest_days
    after_last = course.sessions[-1].day + rest if course.sessions else quantities.case.first_session_day
    day = next_theatre_day(quantities.case, max([after_last, *(loss.read_day for loss in losses.values())]))
    while day is not None and any(owed.values()):
        demand = {wound_id: owed[key] for wound_id, key in by_wound.items()}
        draft = best_draft(course, aim_by_policy(course, day, policy, demand, is_regraft=True))
        if draft is None:
            event = course.reserve.next_release(day)
            clear = [course.loaded_clear_day(losses[k].largest_wound) for k, area in owed.items() if area > 0]
            later = [d for d in (event, *clear) if d is not None and d > day]
            day = next_theatre_day(quantities.case, min(later)) if later else None
            continue
        for graft in draft.grafts:
            owed[by_wound[graft.wound.wound_id]] -= graft.area
        hold_session(course, draft, is_regraft=True)
        day = next_theatre_day(quantities.case, day + rest)
    return tuple(UnreservedLoss(key, cm2(area)) for key, area in sorted(owed.items()) if area > 0)
