"""From a played course to the settled plan: printable steps, in a fixed order."""

from __future__ import annotations

from dataclasses import replace

from service.domain.plan import SettledPlan, StillOpen, UnreservedLoss
from service.domain.session import Placement
from service.planning.course import Course
from service.planning.quantities import cm2


def _merge_placements(placements: list[Placement]) -> tuple[Placement, ...]:
    """One placement per wound, day, method and skin class."""
    merged: dict[tuple, Placement] = {}
    for p in placements:
        key = (p.day, p.wound_id, p.method, p.skin_class, p.is_regraft)
        if key in merged:
            old = merged[key]
            plates = None if p.plates is None else old.plates + p.plates
            p = replace(old, area_cm2=old.area_cm2 + p.area_cm2, skin_cm2=old.skin_cm2 + p.skin_cm2, plates=plates)
        merged[key] = p
    return tuple(sorted(merged.values(), key=lambda p: (p.day, p.wound_id, p.method, p.skin_class)))


def settle(course: Course, unreserved: tuple[UnreservedLoss, ...]) -> SettledPlan:
    """The course as a plan: acts sorted, harvests of one site, thickness and number joined."""
    harvests: dict[tuple, object] = {}
    for h in course.harvests:
        key = (h.day, h.site_id, h.thickness, h.harvest_number)
        harvests[key] = replace(h, area_cm2=h.area_cm2 + harvests[key].area_cm2) if key in harvests else h
    still_open = tuple(StillOpen(wound_id, cm2(area))
                       for wound_id, area in sorted(course.remaining.items()) if area > 0)
    return SettledPlan(
        sessions=tuple(course.sessions),
        excisions=tuple(sorted(course.excisions, key=lambda e: (e.day, e.wound_id))),
        harvests=tuple(harvests[key] for key in sorted(harvests)),
        placements=_merge_placements(course.placements),
        covers=tuple(sorted(course.covers, key=lambda c: (c.day, c.wound_id, c.kind))),
        still_open=still_open,
        unreserved=unreserved,
    )
