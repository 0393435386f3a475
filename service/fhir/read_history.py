"""What has been done: excisions, harvests, grafts, covers, carriers, and the state of donor sites.

A Procedure says what was done, where and when; its numbers are Observations that are part of it.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from service.domain.body_region import Place
from service.domain.case import CarrierRemovalRecord, CoverRecord, ExcisionRecord, PlacementRecord
from service.domain.donor_site import DonorState, DonorStateRecord, HarvestRecord
from service.domain.graft import GraftMethod
from service.fhir.body_sites import Site, read_site
from service.fhir.moments import Moment, read_choice
from service.fhir.read_context import ReadContext
from service.fhir.read_statements import Statement
from service.fhir.references import Entry
from service.fhir.select_entries import Selected
from service.fhir.tables import Profile

HUNDRED = Decimal(100)


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


@dataclass(frozen=True)
class History:
    excisions: tuple[ExcisionRecord, ...]
    harvests: tuple[HarvestRecord, ...]
    placements: tuple[PlacementRecord, ...]
    covers: tuple[CoverRecord, ...]
    carrier_removals: tuple[CarrierRemovalRecord, ...]
    donor_states: tuple[DonorStateRecord, ...]


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


def _treated_areas(deed: Deed, context: ReadContext) -> list[tuple[Place, Decimal]]:
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


def _one_part(deed: Deed, code: str, context: ReadContext) -> Statement | None:
    """The one statement of a code that is part of a Procedure."""
    found = [s for s in deed.parts.get(code, []) if s.value is not None]
    if len(found) > 1:
        context.log.fault("performed-twice", found[1].expression)
    return found[0] if found else None


def _read_method(deed: Deed, context: ReadContext) -> GraftMethod | None:
    kind = _one_part(deed, "graft-method", context)
    ratio = _one_part(deed, "claimed-expansion-ratio", context)
    if kind is None:
        context.log.miss("graft-method", deed.expression)
        return None
    if kind.value != "sheet" and ratio is None:
        context.log.miss("claimed-expansion-ratio", deed.expression)
        return None
    is_plain_sheet = kind.value == "sheet" and (ratio is None or ratio.value == "1-1")
    name = "sheet" if is_plain_sheet else f"{kind.value}-{ratio.value}"
    possible = {str(method) for method in GraftMethod}
    if name not in possible:
        ratios = [m.removeprefix(f"{kind.value}-") for m in sorted(possible) if m.startswith(f"{kind.value}-")]
        context.log.fault("method-impossible", ratio.expression, allowed=", ".join(ratios) or "1-1")
        return None
    return GraftMethod(name)


def _link_take(take: Statement, grafts: list[Deed], context: ReadContext) -> Deed | None:
    """The placement that a take belongs to: by link, or the only graft of its site."""
    if take.part_of:
        linked = [deed for deed in grafts if deed.entry.key == take.part_of.key]
        if not linked:
            context.log.put_aside("status-not-final", take.expression, "Observation")
        return linked[0] if linked else None
    if take.site is None:
        context.log.fault("part-of-required", f"{take.expression}.partOf")
        return None
    fits = [
        deed for deed in grafts
        if (deed.site.region, deed.site.side) == (take.site.region, take.site.side)
        and (take.site.surface is None or deed.site.surface in (None, take.site.surface))
    ]
    if len(fits) != 1:
        context.log.fault("take-ambiguous" if fits else "take-without-graft", take.expression)
        return None
    return fits[0]


def _read_takes(
    statements: tuple[Statement, ...], grafts: list[Deed], context: ReadContext
) -> dict[str, Statement]:
    """The last take read on each graft, by record key of its placement."""
    takes: dict[str, Statement] = {}
    for take in statements:
        if take.profile.code != "graft-take" or take.value is None:
            continue
        deed = _link_take(take, grafts, context)
        if deed is None:
            continue
        if take.moment.day < deed.moment.day:
            context.log.fault("take-before-graft", f"{take.expression}.effective")
        elif 0 < take.value < 1:
            context.log.fault("percent-or-fraction", f"{take.expression}.value")
        elif deed.entry.key not in takes or takes[deed.entry.key].moment.day < take.moment.day:
            takes[deed.entry.key] = take
    return takes


def _read_placement(deed: Deed, take: Statement | None, context: ReadContext) -> list[PlacementRecord]:
    method = _read_method(deed, context)
    areas = _treated_areas(deed, context)
    if method is None:
        return []
    return [
        PlacementRecord(
            place, deed.moment.day, area, method, deed.entry.key,
            take.value / HUNDRED if take else None, take.moment.day if take else None)
        for place, area in areas
    ]


def _read_harvest(deed: Deed, context: ReadContext) -> list[HarvestRecord]:
    thickness = _one_part(deed, "graft-thickness", context)
    return [
        HarvestRecord(place, deed.moment.day, area, thickness.value if thickness else None, deed.entry.key)
        for place, area in _treated_areas(deed, context)
    ]


def _read_donor_states(statements: tuple[Statement, ...], context: ReadContext) -> list[DonorStateRecord]:
    """Donor states; only a healed site without its surface is asked for it."""
    states = []
    for statement in statements:
        if statement.profile.code != "donor-site-state":
            continue
        if statement.value is None:
            context.log.put_aside("data-absent", statement.expression, "Observation")
            continue
        state = DonorState(statement.value)
        if statement.site.place is None and state is DonorState.HEALED:
            context.log.miss("surface", f"{statement.expression}.component")
            continue
        share = statement.components.get("usable-share")
        if share is not None and 0 < share < 1:
            context.log.fault("percent-or-fraction", f"{statement.expression}.component")
        states += [
            DonorStateRecord(
                place, state, statement.moment.day, statement.key,
                share / HUNDRED if share is not None else None)
            for place in statement.site.places
        ]
    return states


def check_links(statements: tuple[Statement, ...], context: ReadContext) -> None:
    """A number of a Procedure must say which Procedure it is part of."""
    for statement in statements:
        needs_link = statement.profile.part_of and statement.profile.code != "graft-take"
        if needs_link and statement.part_of is None:
            context.log.fault("part-of-required", f"{statement.expression}.partOf")


def read_history(
    procedures: tuple[Selected, ...], statements: tuple[Statement, ...], injury: date | None,
    context: ReadContext,
) -> History:
    """Everything done so far, in the order of the request.

    Parameters
    ----------
    procedures : tuple of Selected
        Completed Procedures.
    statements : tuple of Statement
        Observations that count.
    injury : date or None
        Nothing was done before it.
    """
    check_links(statements, context)
    deeds = read_deeds(procedures, statements, injury, context)
    by_code: dict[str, list[Deed]] = defaultdict(list)
    for deed in deeds:
        by_code[deed.profile.code].append(deed)
    grafts = by_code["graft-placement"]
    takes = _read_takes(statements, grafts, context)
    return History(
        excisions=tuple(
            ExcisionRecord(place, deed.moment.day, area, deed.entry.key)
            for deed in by_code["wound-excision"] for place, area in _treated_areas(deed, context)),
        harvests=tuple(h for deed in by_code["skin-harvest"] for h in _read_harvest(deed, context)),
        placements=tuple(
            p for deed in grafts for p in _read_placement(deed, takes.get(deed.entry.key), context)),
        covers=tuple(
            CoverRecord(place, deed.moment.day, area, deed.entry.key)
            for deed in by_code["cover-placement"] for place, area in _treated_areas(deed, context)),
        carrier_removals=tuple(
            CarrierRemovalRecord(place, deed.moment.day, deed.entry.key)
            for deed in by_code["carrier-removal"] for place in deed.site.places),
        donor_states=tuple(_read_donor_states(statements, context)),
    )
