"""Donor sites replayed strip by strip: each strip of skin knows how often it was taken and when it heals."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from service.domain.case import GraftingCase
from service.domain.donor_site import DonorSite
from service.domain.plan import SettledPlan
from service.evidence.donor_healing import healing_days
from service.evidence.library import Evidence
from service.preferences.library import Preferences


@dataclass
class Strip:
    area_cm2: Decimal
    taken_count: int
    free_from_day: int


class SkinNotThere(Exception):
    """A harvest that the strips of its site cannot give."""


def take_strips(case: GraftingCase, plan: SettledPlan, evidence: Evidence,
                preferences: Preferences) -> dict[str, list[Strip]]:
    """The strips of every site after the last harvest.

    Raises
    ------
    SkinNotThere
        With site and day, when a harvest finds too little skin that has healed.
    """
    first_day = min((s.day for s in plan.firm_sessions or plan.sessions), default=case.horizon_day)
    strips = {site.site_id: _as_recorded(site, first_day) for site in case.donor_sites}
    sites = {site.site_id: site for site in case.donor_sites}
    for harvest in sorted(plan.harvests, key=lambda h: (h.day, h.site_id, h.harvest_number, h.thickness)):
        site, wanted = sites[harvest.site_id], harvest.area_cm2
        days = healing_days(evidence, site.place, harvest.thickness, case.age_band, harvest.harvest_number,
                            preferences.value("healing-quantile"))
        free = [s for s in strips[site.site_id] if s.taken_count == harvest.harvest_number - 1
                and s.free_from_day <= harvest.day and s.taken_count < site.harvests_allowed]
        for strip in sorted(free, key=lambda s: s.free_from_day):
            part = min(wanted, strip.area_cm2)
            strip.area_cm2 -= part
            wanted -= part
        if wanted > 0:
            raise SkinNotThere(f"{site.site_id} on day {harvest.day}")
        strips[site.site_id].append(Strip(harvest.area_cm2, harvest.harvest_number, harvest.day + days))
    return strips


def _as_recorded(site: DonorSite, first_day: int) -> list[Strip]:
    """Skin not recorded as healed is expected healed on its day, and never in the first session."""
    return [Strip(p.area_cm2, p.harvest_count, -10000 if p.healed_recorded else max(p.healed_day, first_day + 1))
            for p in site.parcels]
