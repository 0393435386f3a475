"""Orders against the donor reserve: whether the skin is there, and healed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from service.domain.burn_wound import ZERO
from service.domain.case import Act, GraftingCase
from service.domain.donor_site import DonorParcel, DonorSite
from service.domain.order import DraftOrder, OrderFault, OrderProblem
from service.evidence.library import Evidence
from service.planning.quantities import PlanningQuantities, tenths
from service.preferences.library import Preferences


def check_orders(case: GraftingCase, orders: Iterable[DraftOrder], evidence: Evidence,
                 preferences: Preferences) -> tuple[OrderProblem, ...]:
    """Every order that the donor sites cannot meet on its day, in the order in which they stand.

    Orders of one call are taken for one session: what one takes the next does not find. An order
    without an area is judged by whether its site gives any skin; a graft without a method is not
    judged.
    """
    return tuple(_OrderCheck(case, PlanningQuantities(case, evidence, preferences)).check(orders))


class _OrderCheck:
    """The reserve while orders are counted against it."""

    def __init__(self, case: GraftingCase, quantities: PlanningQuantities) -> None:
        self.case, self.quantities = case, quantities
        self.taken: dict[str, Decimal] = {}  # by site
        self.placed = ZERO

    def check(self, orders: Iterable[DraftOrder]) -> Iterator[OrderProblem]:
        for order in orders:
            problem = self._harvest(order) if order.act is Act.HARVEST else self._graft(order)
            if problem:
                yield problem

    def _usable(self, site: DonorSite, day: int) -> Decimal:
        free = sum((p.area_cm2 for p in site.parcels if self._is_free(site, p, day)), ZERO)
        return max(ZERO, free - self.taken.get(site.site_id, ZERO))

    def _is_free(self, site: DonorSite, parcel: DonorParcel, day: int) -> bool:
        """As in planning: up to the first session only a recorded healing counts, later the expected one."""
        is_healed = parcel.healed_recorded or (day > self.case.first_session_day and parcel.healed_day <= day)
        return is_healed and parcel.harvest_count < site.harvests_allowed

    def _harvest(self, order: DraftOrder) -> OrderProblem | None:
        sites = [site for site in self.case.donor_sites if site.place in order.places]
        usable = sum((self._usable(site, order.day) for site in sites), ZERO)
        if usable > 0 and (order.area_cm2 is None or order.area_cm2 <= usable):
            self._take(sites, order.day, order.area_cm2 or ZERO)
            return None
        waiting = [
            parcel.healed_day for site in sites for parcel in site.parcels
            if not self._is_free(site, parcel, order.day) and parcel.harvest_count < site.harvests_allowed]
        if waiting:
            return OrderProblem(OrderFault.BEFORE_HEALING, order, order.area_cm2, usable, max(waiting))
        fault = OrderFault.SHORT_OF_SKIN if usable > 0 else OrderFault.NO_SKIN_THERE
        return OrderProblem(fault, order, order.area_cm2, usable)

    def _take(self, sites: list[DonorSite], day: int, area_cm2: Decimal) -> None:
        for site in sites:
            part = min(area_cm2, self._usable(site, day))
            self.taken[site.site_id] = self.taken.get(site.site_id, ZERO) + part
            area_cm2 -= part

    def _graft(self, order: DraftOrder) -> OrderProblem | None:
        """Skin for a graft against all that the sites can give that day, trimming and handling included."""
        if order.area_cm2 is None or order.method is None:
            return None
        skin = self.quantities.skin_hundredths(order.method, order.places[0], tenths(order.area_cm2))
        needed = Decimal(skin) / 100 / self._kept
        usable = sum(
            (p.area_cm2 for s in self.case.donor_sites for p in s.parcels if self._is_free(s, p, order.day)), ZERO)
        left = usable - self.placed
        self.placed += needed
        return OrderProblem(OrderFault.SHORT_OF_SKIN, order, needed, max(ZERO, left)) if needed > left else None

    @property
    def _kept(self) -> Decimal:
        kept = self.quantities.kept_fraction
        return Decimal(kept.numerator) / Decimal(kept.denominator)
