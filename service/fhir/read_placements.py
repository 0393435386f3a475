"""Grafts already placed: their method, their area, and the take that was read on them."""

from __future__ import annotations

from decimal import Decimal

from service.domain.case import PlacementRecord
from service.domain.graft import GraftMethod
from service.fhir.read_context import ReadContext
from service.fhir.read_deeds import Deed, read_one_part, read_treated_areas
from service.fhir.read_out_of_scope import CULTURED_CELLS
from service.fhir.read_statements import Statement

HUNDRED = Decimal(100)


def _read_method(deed: Deed, context: ReadContext) -> GraftMethod | None:
    kind = read_one_part(deed, "graft-method", context)
    ratio = read_one_part(deed, "claimed-expansion-ratio", context)
    if kind is None:
        context.log.miss("graft-method", deed.expression)
        return None
    if kind.value == CULTURED_CELLS:
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
        return next((deed for deed in grafts if deed.entry.key == take.part_of.key), None)
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
    areas = read_treated_areas(deed, context)
    if method is None:
        return []
    return [
        PlacementRecord(
            place, deed.moment.day, area, method, deed.entry.key,
            take.value / HUNDRED if take else None, take.moment.day if take else None)
        for place, area in areas
    ]


def read_placements(
    grafts: list[Deed], statements: tuple[Statement, ...], context: ReadContext
) -> tuple[PlacementRecord, ...]:
    """Grafts placed so far, each with the last take read on it."""
    takes = _read_takes(statements, grafts, context)
    return tuple(p for deed in grafts for p in _read_placement(deed, takes.get(deed.entry.key), context))
