"""The donor reserve as a ledger in time: usable, healing and spent, by site and day."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.domain.burn_wound import ZERO
from service.domain.donor_site import DonorSite, Harvest
from service.domain.plan import LedgerEntry, SettledPlan
from service.planning.quantities import PlanningQuantities


@dataclass
class _Parcel:
    area_cm2: Decimal
    harvest_count: int
    free_day: int


class _SiteLedger:
    """Replays the harvests of one site."""

    def __init__(self, site: DonorSite, harvests: list[Harvest], quantities: PlanningQuantities,
                 first_session_day: int) -> None:
        self.site, self.harvests, self.quantities = site, harvests, quantities
        self.parcels = [
            _Parcel(p.area_cm2, p.harvest_count,
                    0 if p.healed_recorded else max(p.healed_day, first_session_day + 1))
            for p in site.parcels
        ]

    def harvest(self, harvest: Harvest) -> None:
        """Move skin of the harvest's number on: first free, first taken."""
        left = harvest.area_cm2
        ready = [p for p in self.parcels if p.harvest_count == harvest.harvest_number - 1]
        healing = self.quantities.healing_days(self.site.place, harvest.thickness, harvest.harvest_number)
        for parcel in sorted(ready, key=lambda p: p.free_day):
            taken = min(left, parcel.area_cm2)
            parcel.area_cm2 -= taken
            left -= taken
        self.parcels.append(_Parcel(harvest.area_cm2, harvest.harvest_number, harvest.day + healing))

    def change_days(self) -> set[int]:
        """Days on which the ledger of the site changes."""
        return {h.day for h in self.harvests} | {p.free_day for p in self.parcels if p.area_cm2 > 0}

    def entry(self, day: int) -> LedgerEntry:
        allowed = self.site.harvests_allowed
        spent = sum((p.area_cm2 for p in self.parcels if p.harvest_count >= allowed), ZERO)
        healing = sum((p.area_cm2 for p in self.parcels if p.harvest_count < allowed and p.free_day > day), ZERO)
        return LedgerEntry(day, self.site.site_id, self.site.area_cm2 - healing - spent, healing, spent)

    def entries(self) -> list[LedgerEntry]:
        """One entry for the as-of day and one for every day of change, after that day's harvest."""
        entries, waiting = [], sorted(self.harvests, key=lambda h: (h.day, h.harvest_number))
        days = {0} | self.change_days()
        while days:
            day = min(days)
            while waiting and waiting[0].day <= day:
                self.harvest(waiting.pop(0))
            entries.append(self.entry(day))
            days = {d for d in self.change_days() if d > day}
        return entries


def donor_ledger(quantities: PlanningQuantities, plan: SettledPlan) -> tuple[LedgerEntry, ...]:
    """Usable, healing and spent skin of every site on the days on which they change. [cm²]

    In the first session only skin recorded as healed is usable; later the cautious healing
    time serves. The three parts always add up to the site.
    """
    firm = plan.firm_sessions
    first_day = firm[0].day if firm else quantities.case.horizon_day
    entries: list[LedgerEntry] = []
    for site in quantities.case.donor_sites:
        harvests = [h for h in plan.harvests if h.site_id == site.site_id]
        entries += _SiteLedger(site, harvests, quantities, first_day).entries()
    return tuple(sorted(entries, key=lambda e: (e.site_id, e.day)))
