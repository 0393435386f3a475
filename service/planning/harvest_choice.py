"""Which sites give the skin of a session: the largest free donor first."""

from __future__ import annotations

from dataclasses import dataclass

from service.domain.body_region import Position, Region
from service.domain.case import Act
from service.domain.donor_site import DonorSite
from service.domain.graft import SkinClass
from service.planning.course import Course
from service.planning.donor_reserve import reachable


@dataclass(frozen=True)
class HarvestDraft:
    """Skin to take from a site for one class of skin. Area in tenths of a cm²."""

    site: DonorSite
    skin_class: SkinClass
    area: int


def kept_skin(course: Course, region: Region, day: int, positions: tuple[Position, ...]) -> dict[str, int]:
    """Skin kept for a region by reachable site, in tenths of a cm²."""
    kept: dict[str, int] = {}
    for site, area in course.reserve.kept(region, day, course.is_first_session):
        if reachable(site.place, positions):
            kept[site.site_id] = kept.get(site.site_id, 0) + area
    return kept


def _is_decided(course: Course, site: DonorSite, day: int) -> bool:
    """Whether the caller has decided to harvest this site, on this day or on any."""
    case = course.quantities.case
    return any(d.act is Act.HARVEST and (d.region, d.side) == (site.place.region, site.place.side)
               and (d.day is None or case.day_of(d.day) == day) for d in case.request.fixed_decisions)


def choose_harvests(course: Course, day: int, needs: dict[SkinClass, int],
                    usable: dict[str, int], wished: dict[str, int]) -> list[HarvestDraft] | None:
    """Sites and areas for the needed skin, in whole tenths; ``None`` when they cannot give it.

    What is wished from a site first; else the largest free site, one already opened before a
    new one; and no harvest below the smallest: a rest that would be a crumb is raised to it.
    """
    free, wished = dict(usable), dict(wished)
    opened: dict[str, int] = {}
    drafts: list[HarvestDraft] = []
    for skin_class, need in sorted(needs.items()):
        sites = [s for s in course.reserve.sites if s.above_clavicle == skin_class.above_clavicle and s.site_id in free]
        while need > 0:
            enough = [s for s in sites if free[s.site_id] > 0 and (
                s.site_id in opened or free[s.site_id] >= course.reserve.smallest_of(s))]
            site = max(enough, default=None,
                       key=lambda s: (_is_decided(course, s, day), wished.get(s.site_id, 0) > 0,
                                      s.site_id in opened, free[s.site_id]))
            if site is None:
                return None
            smallest = course.reserve.smallest_of(site)
            part = min(free[site.site_id], need, wished.get(site.site_id, 0) or need)
            if site.site_id not in opened:
                part = max(part, smallest)
                rest = need - part
                if 0 < rest < smallest and part - (smallest - rest) >= smallest:
                    part -= smallest - rest
            free[site.site_id] -= part
            wished[site.site_id] = max(0, wished.get(site.site_id, 0) - part)
            opened[site.site_id] = opened.get(site.site_id, 0) + part
            need -= part
            drafts.append(HarvestDraft(site, skin_class, part))
    return drafts
