"""Procedures that count, with the numbers that are part of them.

A Procedure says what was done, where and when; its numbers are Observations that are part of it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.domain.body_region import Place
from service.fhir.body_sites import Site, read_site
from service.fhir.moments import Moment, read_choice
from service.fhir.read_context import ReadContext
from service.fhir.read_statements import Statement
from service.fhir.references import Entry
from service.fhir.select_entries import Selected
from service.fhir.tables import Profile


@dataclass(frozen=True)
class Deed:
    """A Procedure that counts, with the Observations that are part of it, by code."""

    entry: Entry
    profile: Profile
    moment: Moment
    site: Site
    parts: dict[str, list[Statement]]

    @property
    def expression(self) -> str:
        return self.entry.expression


def keep_counted_parts(
    statements: tuple[Statement, ...], procedures: tuple[Selected, ...], context: ReadContext
) -> tuple[Statement, ...]:
    """Statements without those whose Procedure does not count, which are set aside and named."""
    profiles = {one.entry.key: one.profile.code for one in procedures}
    kept = []
    for statement in statements:
        if statement.part_of is None:
            kept.append(statement)
        elif statement.part_of.key not in profiles:
            context.log.put_aside("procedure-not-counted", statement.expression, "Observation")
        elif profiles[statement.part_of.key] not in statement.profile.part_of:
            allowed = " or ".join(statement.profile.part_of)
            context.log.fault("reference-wrong-type", f"{statement.expression}.partOf[0]", allowed=allowed)
        else:
            kept.append(statement)
    return tuple(kept)


def check_links(statements: tuple[Statement, ...], context: ReadContext) -> None:
    """A number of a Procedure must say which Procedure it is part of."""
    for statement in statements:
        needs_link = statement.profile.part_of and statement.profile.code != "graft-take"
        if needs_link and statement.part_of is None:
            context.log.fault("part-of-required", f"{statement.expression}.partOf")


def _read_deed_site(entry: Entry, context: ReadContext) -> Site | None:
    sites = entry.resource.get("bodySite", [])
    place = f"{entry.expression}.bodySite"
    if not sites:
        context.log.miss("body-site", place)
        return None
    if len(sites) > 1:
        context.log.fault("body-site-several", place)
        return None
    return read_site(sites[0], None, f"{place}[0]", context)


def _read_performed(entry: Entry, injury: date | None, context: ReadContext) -> Moment | None:
    before = len(context.log.faults)
    moment = read_choice(entry.resource, "performed", entry.expression, context.zone, context.log)
    place = f"{entry.expression}.performed"
    if moment is None:
        if len(context.log.faults) == before:
            context.log.miss("performed", place)
    elif context.is_future(moment):
        context.log.fault("date-in-future", place)
    elif injury and moment.day < injury:
        context.log.fault("before-injury", place)
    return moment


def read_deeds(
    procedures: tuple[Selected, ...], statements: tuple[Statement, ...], injury: date | None,
    context: ReadContext,
) -> tuple[Deed, ...]:
    """Procedures with the statements that are part of them; one without place or day is not read on."""
    parts: dict[str, dict[str, list[Statement]]] = defaultdict(lambda: defaultdict(list))
    for statement in statements:
        if statement.part_of:
            parts[statement.part_of.key][statement.profile.code].append(statement)
    deeds = []
    for selected in procedures:
        site = _read_deed_site(selected.entry, context)
        moment = _read_performed(selected.entry, injury, context)
        if site and moment:
            own_parts = dict(parts[selected.entry.key])
            deeds.append(Deed(selected.entry, selected.profile, moment, site, own_parts))
    return tuple(deeds)


def _same_site(deed: Deed, statement: Statement) -> bool:
    return statement.site is None or (
        (statement.site.region, statement.site.side) == (deed.site.region, deed.site.side))


def read_treated_areas(deed: Deed, context: ReadContext) -> list[tuple[Place, Decimal]]:
    """Areas of a Procedure by place; the surface stands on the area or on the Procedure."""
    areas = []
    for statement in deed.parts.get("treated-area", []):
        if not _same_site(deed, statement):
            context.log.fault("code-conflict", f"{statement.expression}.bodySite")
            continue
        stated = statement.components.get("surface")
        surface = stated or (statement.site.surface if statement.site else None) or deed.site.surface
        if statement.value is None:
            context.log.miss("treated-area", f"{statement.expression}.value")
        elif surface is None:
            context.log.miss("surface", f"{deed.expression}.bodySite")
        else:
            areas += _place_area(deed, surface, statement, context)
    if not deed.parts.get("treated-area"):
        context.log.miss("treated-area", deed.expression)
    return areas


def _place_area(deed: Deed, surface: str, statement: Statement, context: ReadContext) -> list:
    fits = [p for p in Site(deed.site.region, deed.site.side, None).places if p.surface == surface]
    if not fits or (deed.site.surface and deed.site.surface != surface):
        context.log.fault("surface-not-expected", statement.expression)
        return []
    return [(fits[0], statement.value)]


def read_one_part(deed: Deed, code: str, context: ReadContext) -> Statement | None:
    """The one statement of a code that is part of a Procedure."""
    found = [s for s in deed.parts.get(code, []) if s.value is not None]
    if len(found) > 1:
        context.log.fault("performed-twice", found[1].expression)
    return found[0] if found else None
