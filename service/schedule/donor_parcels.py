"""Harvested skin with names that last: parcels still healing and parcels that the plan takes."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.assessment.donor_sites import thickness_class
from service.domain.burn_wound import ZERO
from service.domain.case import GraftingCase
from service.domain.donor_site import DonorSite, Harvest, HarvestRecord
from service.domain.plan import SettledPlan
from service.evidence.donor_healing import healing_days, healing_sources
from service.evidence.library import Evidence
from service.preferences.library import Preferences
from service.schedule.windows import Window


@dataclass(frozen=True)
class HarvestedParcel:
    """Skin taken from one site at one time, counted from the first harvest of the site.

    ``healed`` is the window of expected healing; ``next_harvest_day`` the day on which the
    plan takes this skin again, if it does. ``harvest`` and ``session`` are ``None`` for a
    harvest already done.
    """

    key: str
    site: DonorSite
    harvested_day: int
    healed: Window
    next_harvest_day: int | None
    session: int | None
    harvest: Harvest | None


def number_parcels(
    case: GraftingCase, plan: SettledPlan, evidence: Evidence, preferences: Preferences
) -> tuple[HarvestedParcel, ...]:
    """Parcels that are still open wounds or will be, in the order of the sites."""
    parcels = []
    for site in case.donor_sites:
        past = sorted((r for r in case.record.harvests if r.place == site.place), key=lambda r: (r.day, r.source))
        parcels += _parcels_healing(case, site, past, plan, evidence)
        parcels += _parcels_planned(case, site, len(past), plan, evidence, preferences)
    return tuple(parcels)


def _key(site: DonorSite, number: int) -> str:
    return f"{site.site_id}:parcel:{number}"


def _parcels_healing(
    case: GraftingCase, site: DonorSite, past: list[HarvestRecord], plan: SettledPlan, evidence: Evidence
) -> list[HarvestedParcel]:
    open_by_day = {p.harvested_day: p for p in site.parcels if p.harvest_count and not p.healed_recorded}
    parcels = []
    for number, record in enumerate(past, start=1):
        day = case.day_of(record.day)
        if day in open_by_day:
            parcel = open_by_day[day]
            thickness = thickness_class(record.thickness_mm, evidence)
            rows = healing_sources(site.place, thickness, case.age_band, parcel.harvest_count)
            healed = _from_today_until(parcel.healed_day).citing(*rows)
            after = _next_harvest_day(plan, site, day, parcel.harvest_count)
            parcels.append(HarvestedParcel(_key(site, number), site, day, healed, after, None, None))
    return parcels


def _from_today_until(day: int) -> Window:
    """A site that is healing may be looked at any day; the cautious day is when it is expected healed."""
    return Window(min(day, 0), day, day)


def _parcels_planned(
    case: GraftingCase,
    site: DonorSite,
    past_count: int,
    plan: SettledPlan,
    evidence: Evidence,
    preferences: Preferences,
) -> list[HarvestedParcel]:
    sessions = {session.day: session.ordinal for session in plan.firm_sessions}
    harvests = sorted(
        (h for h in plan.harvests if h.site_id == site.site_id and h.day in sessions),
        key=lambda h: (h.day, h.harvest_number, h.thickness),
    )
    return [
        HarvestedParcel(
            _key(site, n),
            site,
            h.day,
            _expect_healed(case, site, h, evidence, preferences),
            _next_harvest_day(plan, site, h.day, h.harvest_number),
            sessions[h.day],
            h,
        )
        for n, h in enumerate(harvests, start=1 + past_count)
    ]


def _expect_healed(
    case: GraftingCase, site: DonorSite, harvest: Harvest, evidence: Evidence, preferences: Preferences
) -> Window:
    """From the early to the cautious end of healing: the percentile that planning uses, and its mirror."""
    cautious = preferences.value("healing-quantile")
    early, late = (
        healing_days(evidence, site.place, harvest.thickness, case.age_band, harvest.harvest_number, p)
        for p in sorted((Decimal(1) - cautious, cautious))
    )
    rows = healing_sources(site.place, harvest.thickness, case.age_band, harvest.harvest_number)
    return Window(harvest.day + early, harvest.day + late, harvest.day + late, rows)


def _next_harvest_day(plan: SettledPlan, site: DonorSite, after_day: int, harvest_count: int) -> int | None:
    days = [
        h.day
        for h in plan.harvests
        if h.site_id == site.site_id and h.day > after_day and h.harvest_number == harvest_count + 1
    ]
    return min(days, default=None)


def asks_for_healing(harvest: Harvest, case: GraftingCase, plan: SettledPlan) -> bool:
    """Whether skin taken before must be confirmed healed: not where the record says so already.

    The record counts for the first session alone; by a later one the skin is looked at again.
    """
    if harvest.harvest_number == 1:
        return False
    first_day = min(s.day for s in plan.sessions)
    if harvest.day > first_day:
        return True
    parcels = next(s.parcels for s in case.donor_sites if s.site_id == harvest.site_id)
    recorded = sum(
        (p.area_cm2 for p in parcels if p.healed_recorded and p.harvest_count == harvest.harvest_number - 1), ZERO)
    taken = sum(
        (h.area_cm2 for h in plan.harvests
         if (h.day, h.site_id, h.harvest_number) == (harvest.day, harvest.site_id, harvest.harvest_number)), ZERO)
    return taken > recorded
