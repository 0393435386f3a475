"""Whether what was done can be true: areas against the size of the place, harvests against the burn."""

from __future__ import annotations

from collections import defaultdict
from decimal import ROUND_UP, Decimal

from service.assessment.age import age_band, possible_ages
from service.assessment.body_surface import measure_body_surface
from service.assessment.wounds import extent_percent_tbsa
from service.domain.body_region import Place
from service.domain.burn_wound import COUNTS_AS_BURN, Depth
from service.domain.case import BurnRecord
from service.evidence.library import load_evidence
from service.fhir.read_context import ReadContext

CM2_PER_M2 = Decimal(10_000)
WHOLE = Decimal(100)
#: A recorded area may exceed the charted place by this much: chart and body surface are estimates.
MOST_OVER_PLACE_RATIO = Decimal("1.25")
_CLOSING_BY_ITSELF = {Depth.SUPERFICIAL, Depth.SUPERFICIAL_PARTIAL}


def largest_areas_cm2(
    record: BurnRecord, shares: dict[Place, Decimal], context: ReadContext
) -> dict[Place, Decimal]:
    """Largest area that a record may state for each place, to the next whole cm². [cm²]"""
    evidence = load_evidence()
    oldest = possible_ages(record.patient.birth_date, context.today)[-1]
    surface = measure_body_surface(record.patient, age_band(oldest, evidence), evidence).surface_m2
    return {
        place: (surface * CM2_PER_M2 * share / WHOLE * MOST_OVER_PLACE_RATIO).quantize(Decimal(1), ROUND_UP)
        for place, share in shares.items()
    }


def check_areas(
    record: BurnRecord, areas_cm2: dict[Place, Decimal], expressions: dict[str, str], context: ReadContext
) -> None:
    """Refuse an area, or the areas of one day together, that are far larger than their place.

    Parameters
    ----------
    record : BurnRecord
    areas_cm2 : dict
        Largest area of each place. [cm²]
    expressions : dict
        FHIRPath by record key.
    """
    together: dict[tuple, Decimal] = defaultdict(Decimal)
    for kind in (record.open_wounds, record.excisions, record.harvests, record.placements, record.covers):
        for one in kind:
            key = (type(one), one.place, getattr(one, "day", None))
            together[key] += one.area_cm2
            if together[key] > areas_cm2[one.place]:
                context.log.fault("area-over-place", expressions[one.source], place=one.place.key)


def check_graft_places(record: BurnRecord, expressions: dict[str, str], context: ReadContext) -> None:
    """Note a graft on a place that no wound is recorded on, or only one that closes by itself."""
    depths: dict[Place, set[Depth]] = defaultdict(set)
    for extent in record.extents:
        depths[extent.place].add(extent.depth)
    wounded = {*depths, *(wound.place for wound in record.open_wounds)}
    for graft in record.placements:
        if graft.place not in wounded:
            context.log.note("graft-without-wound", expressions[graft.source], place=graft.place.key)
        elif depths[graft.place] and depths[graft.place] <= _CLOSING_BY_ITSELF:
            context.log.note("graft-on-superficial-burn", expressions[graft.source], place=graft.place.key)


def check_harvest_places(
    record: BurnRecord, shares: dict[Place, Decimal], expressions: dict[str, str], context: ReadContext
) -> None:
    """Refuse a harvest from a place that is burned all over; a partly burned one may have given skin."""
    burned: dict[Place, Decimal] = dict.fromkeys(shares, Decimal(0))
    for extent in record.extents:
        if extent.depth in COUNTS_AS_BURN:
            burned[extent.place] += extent_percent_tbsa(extent, shares)
    for harvest in record.harvests:
        if burned[harvest.place] >= shares[harvest.place]:
            context.log.fault("harvest-from-burn", expressions[harvest.source], place=harvest.place.key)


def check_amputated(record: BurnRecord, expressions: dict[str, str], context: ReadContext) -> None:
    """Refuse a burn or wound on a region that is amputated."""
    for wound in (*record.extents, *record.open_wounds):
        if (wound.place.region, wound.place.side) in record.amputated:
            context.log.fault("amputated-burn", expressions[wound.source], place=wound.place.key)
