"""What has been done: excisions, harvests, grafts, covers, carriers, and the state of donor sites."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from service.domain.case import CarrierRemovalRecord, CoverRecord, ExcisionRecord, PlacementRecord
from service.domain.donor_site import DonorStateRecord, HarvestRecord
from service.fhir.read_context import ReadContext
from service.fhir.read_deeds import Deed, check_links, read_deeds, read_one_part, read_treated_areas
from service.fhir.read_donor_states import read_donor_states
from service.fhir.read_placements import read_placements
from service.fhir.read_statements import Statement
from service.fhir.select_entries import Selected


@dataclass(frozen=True)
class History:
    excisions: tuple[ExcisionRecord, ...]
    harvests: tuple[HarvestRecord, ...]
    placements: tuple[PlacementRecord, ...]
    covers: tuple[CoverRecord, ...]
    carrier_removals: tuple[CarrierRemovalRecord, ...]
    donor_states: tuple[DonorStateRecord, ...]


def _read_harvest(deed: Deed, context: ReadContext) -> list[HarvestRecord]:
    thickness = read_one_part(deed, "graft-thickness", context)
    return [
        HarvestRecord(place, deed.moment.day, area, thickness.value if thickness else None, deed.entry.key)
        for place, area in read_treated_areas(deed, context)
    ]


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
    return History(
        excisions=tuple(
            ExcisionRecord(place, deed.moment.day, area, deed.entry.key)
            for deed in by_code["wound-excision"] for place, area in read_treated_areas(deed, context)),
        harvests=tuple(h for deed in by_code["skin-harvest"] for h in _read_harvest(deed, context)),
        placements=read_placements(by_code["graft-placement"], statements, context),
        covers=tuple(
            CoverRecord(place, deed.moment.day, area, deed.entry.key)
            for deed in by_code["cover-placement"] for place, area in read_treated_areas(deed, context)),
        carrier_removals=tuple(
            CarrierRemovalRecord(place, deed.moment.day, deed.entry.key)
            for deed in by_code["carrier-removal"] for place in deed.site.places),
        donor_states=read_donor_states(statements, context),
    )
