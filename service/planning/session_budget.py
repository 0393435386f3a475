"""What a session can still hold while it is being filled."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import floor

from service.domain.body_region import Position
from service.domain.rule import Rule
from service.planning.quantities import PlanningQuantities
from service.planning.wound_facts import MethodFacts, WoundFacts

_HAIR = 1e-9  # keeps a floating quotient on the safe side of its limit


def minutes_limit(quantities: PlanningQuantities, day: int) -> float:
    """Procedure minutes available on a day, less its in-room minutes where the day is limited."""
    case = quantities.case
    limit = float(case.limits.procedure_minutes)
    for theatre_day in case.request.theatre_days:
        if theatre_day.day == case.date_of(day) and theatre_day.minutes is not None:
            limit = min(limit, theatre_day.minutes - float(quantities.minutes.in_room))
    return limit


@dataclass
class SessionBudget:
    """Areas left in tenths of a cm², blood in mL, minutes; costs per tenth of a cm²."""

    excise_left: int
    graft_left: int
    blood_left_ml: float
    minutes_left: float
    harvest_ml: float
    per_tenth_minutes: float
    special_minutes: float
    special_regions: set[str] = field(default_factory=set)

    def holds(self, area: int) -> bool:
        """Whether an area, in tenths of a cm², could still be grafted on a ready bed."""
        return (self.graft_left >= area and self.minutes_left >= area * self.per_tenth_minutes
                and self.blood_left_ml > 0)

    def special_cost(self, wound: WoundFacts) -> float:
        """Minutes that a special area adds, once a region. [minutes]"""
        is_new = wound.special_region is not None and wound.special_region not in self.special_regions
        return self.special_minutes if is_new else 0.0

    def largest_area(self, wound: WoundFacts, open_bed: int, method: MethodFacts) -> tuple[int, Rule]:
        """Largest area of a wound that area, blood and minutes allow, and the rule that sets it.

        ``open_bed`` needs no excision.
        """
        by_area = float(min(self.graft_left, open_bed + self.excise_left))
        by_blood = self._by_blood(open_bed, method.harvest_per_area, wound.excision_ml)
        by_minutes = (self.minutes_left - self.special_cost(wound)) / self.per_tenth_minutes
        limit, rule = min((by_area, Rule.SESSION_AREA), (by_blood, Rule.SESSION_BLOOD),
                          (by_minutes, Rule.SESSION_MINUTES))
        return max(0, floor(limit - _HAIR)), rule

    def _by_blood(self, open_bed: int, harvest_per_area: float, excision_ml: float) -> float:
        on_bed = self.harvest_ml * harvest_per_area
        if self.blood_left_ml <= on_bed * open_bed:
            return self.blood_left_ml / on_bed
        return open_bed + (self.blood_left_ml - on_bed * open_bed) / (on_bed + excision_ml)

    def largest_excision(self, wound: WoundFacts) -> int:
        """Largest area that may be excised without grafting it. [tenths of a cm²]"""
        by_minutes = (self.minutes_left - self.special_cost(wound)) / self.per_tenth_minutes
        return floor(min(self.excise_left, self.blood_left_ml / wound.excision_ml, by_minutes) - _HAIR)

    def spend(self, wound: WoundFacts, operated: int, *, grafted: int, excised: int, harvested: int) -> None:
        self.graft_left -= grafted
        self.excise_left -= excised
        self.blood_left_ml -= excised * wound.excision_ml + harvested * self.harvest_ml
        self.minutes_left -= operated * self.per_tenth_minutes + self.special_cost(wound)
        if wound.special_region is not None:
            self.special_regions.add(wound.special_region)


def open_budget(quantities: PlanningQuantities, day: int, positions: tuple[Position, ...],
                blood_margin_ml: float) -> SessionBudget:
    """Budget of a session in which nothing has been done yet but lying down and turning."""
    whole = quantities.whole_budget
    turns = len(positions) - 1
    return SessionBudget(
        excise_left=whole.excise,
        graft_left=whole.graft,
        blood_left_ml=whole.blood_ml - blood_margin_ml,
        minutes_left=minutes_limit(quantities, day) - whole.fixed_minutes - whole.turn_minutes * turns,
        harvest_ml=whole.harvest_ml,
        per_tenth_minutes=whole.per_tenth_minutes,
        special_minutes=whole.special_minutes,
    )
