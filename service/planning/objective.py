"""What a plan costs: weighted open %TBSA-days and the other terms, each a preference."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from service.domain.body_region import Region
from service.domain.burn_wound import BurnWound
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, Placement
from service.planning.quantities import PlanningQuantities, tenths

VISIBLE = (Region.FACE, Region.NECK, Region.HAND)


class _Cost:
    """Terms of the objective for one plan. [%TBSA-days]"""

    def __init__(self, quantities: PlanningQuantities, plan: SettledPlan) -> None:
        self.quantities, self.plan = quantities, plan
        self.preferences = quantities.preferences
        self.wounds = {w.wound_id: w for w in quantities.case.wounds}
        self.sites = {s.site_id: s for s in quantities.case.donor_sites}
        self.percent_tenths = float(quantities.percent_tenths)
        self.horizon = quantities.case.horizon_day

    def _preference(self, name: str, applies_to: str = "any") -> float:
        return float(self.preferences.value(name, applies_to))

    def _percent(self, area_cm2: Decimal) -> float:
        return tenths(area_cm2) / self.percent_tenths

    def _weight(self, wound: BurnWound) -> float:
        return float(self.quantities.weight(wound.place.region))

    def _regraft_day(self, wound: BurnWound) -> int:
        """When a lost part of a region is grafted again: its contingent session, else never."""
        days = [p.day for p in self.plan.placements
                if p.is_regraft and self.wounds[p.wound_id].place.region_key == wound.place.region_key]
        return min(days, default=self.horizon)

    def open_days(self) -> float:
        """Weighted area times days until closed; the part that fails stays open until its regraft closes."""
        total = 0.0
        for p in self.plan.placements:
            if not p.is_regraft:
                wound = self.wounds[p.wound_id]
                closure = float(self.quantities.closure_days[p.method])
                take = float(self.quantities.take(p.method, wound))
                days = take * (p.day + closure) + (1 - take) * min(self.horizon, self._regraft_day(wound) + closure)
                total += self._weight(wound) * self._percent(p.area_cm2) * days
        for still in self.plan.still_open:
            total += self._weight(self.wounds[still.wound_id]) * self._percent(still.area_cm2) * self.horizon
        return total

    def eschar(self) -> float:
        """Unexcised deep burn, dearer from some day after injury on."""
        rise = self.quantities.case.injury_day + self.preferences.integer("eschar-rise-after-day")
        weight, factor = self._preference("eschar-weight"), self._preference("eschar-rise-factor")

        def until(day: int) -> float:
            late = max(0, day - max(0, rise))
            return weight * (day - late) + weight * factor * late

        total = sum((self._percent(e.area_cm2) * until(e.day) for e in self.plan.excisions), 0.0)
        excised: dict[str, Decimal] = {}
        for e in self.plan.excisions:
            excised[e.wound_id] = excised.get(e.wound_id, Decimal(0)) + e.area_cm2
        for wound in self.wounds.values():
            left = wound.unexcised_cm2 - excised.get(wound.wound_id, Decimal(0))
            total += self._percent(max(Decimal(0), left)) * until(self.horizon)
        return total

    def cover(self) -> float:
        """Days under temporary cover, counted to the end of each cover's life."""
        days = sum((self._percent(c.area_cm2) * (c.until_day - c.day) for c in self.plan.covers
                    if c.kind is CoverKind.TEMPORARY), 0.0)
        return self._preference("cover-weight") * days

    def scar(self) -> float:
        """Pattern that expansion leaves, double where it shows."""
        return sum((self._scar_of(p) for p in self.plan.placements if not p.is_regraft), 0.0)

    def _scar_of(self, placement: Placement) -> float:
        region = self.wounds[placement.wound_id].place.region
        factor = self._preference("scar-visible-factor") if region in VISIBLE else 1
        return self._preference("scar", placement.method) * factor * self._percent(placement.area_cm2)

    def donors(self) -> float:
        """Open donor wounds until healed, and how much a scar shows on each site."""
        total = 0.0
        scale = self._preference("donor-cosmesis-scale")
        for h in self.plan.harvests:
            place = self.sites[h.site_id].place
            percent = self._percent(h.area_cm2)
            healing = self.quantities.healing_days(place, h.thickness, h.harvest_number)
            total += self._preference("open-donor-weight") * percent * healing
            total += self._preference("donor-cosmesis", place.region) * scale * percent
        return total

    def sessions(self) -> float:
        return self._preference("session-weight") * len(self.plan.firm_sessions)

    def total(self) -> float:
        return (self.open_days() + self.eschar() + self.cover() + self.scar() + self.donors() + self.sessions())


def weighted_open_days(quantities: PlanningQuantities, plan: SettledPlan) -> Decimal:
    """The objective of a plan by the preferences, to 0.1. [%TBSA-days]"""
    total = _Cost(quantities, plan).total()
    return Decimal(total).quantize(Decimal("0.1"), ROUND_HALF_UP)


def scar_days(quantities: PlanningQuantities, plan: SettledPlan) -> Decimal:
    """What the scar of a plan costs within its objective, to 0.1. [%TBSA-days]"""
    return Decimal(_Cost(quantities, plan).scar()).quantize(Decimal("0.1"), ROUND_HALF_UP)
