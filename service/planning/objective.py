"""What a plan costs: weighted open %TBSA-days and the other terms, each a preference.

What a possible (contingent) session does is not counted: a lost part is charged with the days
until a regraft, whenever that session is held.
"""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from service.domain.burn_wound import BurnWound
from service.domain.graft import GraftMethod, methods_of_place
from service.domain.plan import SettledPlan
from service.domain.session import CoverKind, Placement
from service.planning.quantities import PlanningQuantities, tenths


def shares_without_reserve(quantities: PlanningQuantities, plan: SettledPlan) -> dict[str, float]:
    """Share of each region's expected loss for which no skin is in reserve: it stays open. [0-1]"""
    lost: dict[str, float] = {}
    wounds = {w.wound_id: w for w in quantities.case.wounds}
    planned = [(wounds[p.wound_id], p.method, p.area_cm2) for p in plan.placements if not p.is_regraft]
    unread = [(w, g.method, g.area_cm2) for w in wounds.values() for g in w.placed if g.take_fraction is None]
    for wound, method, area_cm2 in planned + unread:
        loss = float(area_cm2) * float(1 - quantities.take(method, wound))
        lost[wound.place.region_key] = lost.get(wound.place.region_key, 0.0) + loss
    return {u.region_key: min(1.0, float(u.area_cm2) / lost[u.region_key])
            for u in plan.unreserved if u.region_key in lost}


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

    def percent(self, area_cm2: Decimal) -> float:
        return tenths(area_cm2) / self.percent_tenths

    def _weight(self, wound: BurnWound) -> float:
        return float(self.quantities.weight(wound.place.region))

    def open_days(self) -> float:
        """Weighted area times days until closed; the part that fails, until its regraft has closed."""
        shortage = shares_without_reserve(self.quantities, self.plan)
        total = 0.0
        for p in self.plan.placements:
            if not p.is_regraft:
                wound = self.wounds[p.wound_id]
                take = float(self.quantities.take(p.method, wound))
                short = shortage.get(wound.place.region_key, 0.0)
                regrafted = self.quantities.regraft_closure_day(p.day, p.method)
                lost_until = short * self.horizon + (1 - short) * regrafted
                days = take * (p.day + float(self.quantities.closure_days[p.method])) + (1 - take) * lost_until
                total += self._weight(wound) * self.percent(p.area_cm2) * days
        for still in self.plan.still_open:
            total += self._weight(self.wounds[still.wound_id]) * self.percent(still.area_cm2) * self.horizon
        return total

    def eschar(self) -> float:
        """Unexcised deep burn, dearer from some day after injury on."""
        until = self.quantities.eschar_days
        total = sum((self.percent(e.area_cm2) * until(e.day) for e in self.plan.excisions), 0.0)
        excised: dict[str, Decimal] = {}
        for e in self.plan.excisions:
            excised[e.wound_id] = excised.get(e.wound_id, Decimal(0)) + e.area_cm2
        for wound in self.wounds.values():
            left = wound.unexcised_cm2 - excised.get(wound.wound_id, Decimal(0))
            total += self.percent(max(Decimal(0), left)) * until(self.horizon)
        return total

    def cover(self) -> float:
        """Days under temporary cover, counted to the end of each cover's life."""
        days = sum((self.percent(c.area_cm2) * (c.until_day - c.day) for c in self.plan.covers
                    if c.kind is CoverKind.TEMPORARY), 0.0)
        return self._preference("cover-weight") * days

    def beds(self) -> float:
        """Beds open at the start until they are grafted; each wound's bed before what the plan excises."""
        total = 0.0
        for wound in self.wounds.values():
            left = wound.excised_cm2
            for p in sorted((p for p in self.plan.placements if p.wound_id == wound.wound_id and not p.is_regraft),
                            key=lambda p: p.day):
                grafted = min(left, p.area_cm2)
                left -= grafted
                total += self.percent(grafted) * self.quantities.bed_days(wound, p.day)
            total += self.percent(left) * self.quantities.bed_days(wound, self.horizon)
        return total

    def scar(self) -> float:
        """Pattern that expansion leaves, double where it shows."""
        return sum((self._scar_of(p) for p in self.plan.placements if not p.is_regraft), 0.0)

    def _scar_of(self, placement: Placement) -> float:
        place = self.wounds[placement.wound_id].place
        return self.quantities.scar_days(placement.method, place) * self.percent(placement.area_cm2)

    def donors(self) -> float:
        """Open donor wounds until healed, and how much a scar shows on each site; firm sessions only."""
        firm = {session.day for session in self.plan.firm_sessions}
        return sum((self.percent(h.area_cm2) * self.quantities.donor_days(
            self.sites[h.site_id].place, h.thickness, h.harvest_number)
            for h in self.plan.harvests if h.day in firm), 0.0)

    def sessions(self) -> float:
        return self._preference("session-weight") * len(self.plan.firm_sessions)

    def total(self) -> float:
        return (self.open_days() + self.eschar() + self.beds() + self.cover() + self.scar() + self.donors()
                + self.sessions())


def weighted_open_days(quantities: PlanningQuantities, plan: SettledPlan) -> Decimal:
    """The objective of a plan by the preferences, to 0.1. [%TBSA-days]"""
    total = _Cost(quantities, plan).total()
    return Decimal(total).quantize(Decimal("0.1"), ROUND_HALF_UP)


def scar_days(quantities: PlanningQuantities, plan: SettledPlan) -> Decimal:
    """What the scar of a plan costs within its objective, to 0.1. [%TBSA-days]"""
    return Decimal(_Cost(quantities, plan).scar()).quantize(Decimal("0.1"), ROUND_HALF_UP)


def unavoidable_days(quantities: PlanningQuantities, plan: SettledPlan) -> float:
    """Weighted days that no plan can avoid: each wound grafted in the first session by what closes it soonest.

    What the plan leaves open counts as open to the horizon. [%TBSA-days]
    """
    cost = _Cost(quantities, plan)
    first, horizon = quantities.case.first_session_day, quantities.case.horizon_day
    left = {s.wound_id: s.area_cm2 for s in plan.still_open}
    total = 0.0
    for wound in quantities.case.wounds:
        waits = (wound.ready_from_day, wound.wait_until_day if wound.unexcised_cm2 > 0 else None, first)
        day = max(d for d in waits if d is not None)
        methods = methods_of_place(wound.place, wound.over_joint) & quantities.case.request.methods_available
        soonest = min((_days_open(quantities, wound, m, day) for m in methods), default=float(horizon))
        open_cm2 = left.get(wound.wound_id, Decimal(0))
        percent, open_percent = cost.percent(wound.area_cm2 - open_cm2), cost.percent(open_cm2)
        total += float(quantities.weight(wound.place.region)) * (percent * soonest + open_percent * horizon)
        total += cost.percent(wound.unexcised_cm2) * quantities.eschar_days(day)
        total += cost.percent(wound.excised_cm2) * quantities.bed_days(wound, day)
    return total


def _days_open(quantities: PlanningQuantities, wound: BurnWound, method: GraftMethod, day: int) -> float:
    take, closed = float(quantities.take(method, wound)), day + float(quantities.closure_days[method])
    return take * closed + (1 - take) * quantities.regraft_closure_day(day, method)
