"""Whether what was done can be true: areas against the size of the place, harvests against the burn."""

from __future__ import annotations

from decimal import ROUND_UP, Decimal

from service.assessment.age import age_band, possible_ages
from service.assessment.body_surface import measure_body_surface
from service.assessment.wounds import extent_percent_tbsa
from service.domain.body_region import Place
from service.domain.burn_wound import COUNTS_AS_BURN
from service.domain.case import BurnRecord
from service.evidence.library import load_evidence
from service.fhir.read_context import ReadContext

CM2_PER_M2 = Decimal(10_000)
WHOLE = Decimal(100)
#: A recorded area may exceed the charted place by this much: chart and body surface are estimates.
MOST_OVER_PLACE_RATIO = Decimal("1.25")


def _largest_areas_cm2(
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
    record: BurnRecord, shares: dict[Place, Decimal], expressions: dict[str, str], context: ReadContext
) -> None:
    """Refuse an area that is far larger than the place it is on.

    Parameters
    ----------
    record : BurnRecord
    shares : dict
        Share of body surface by place. [%]
    expressions : dict
        FHIRPath by record key.
    """
    areas = _largest_areas_cm2(record, shares, context)
    sized = (*record.open_wounds, *record.excisions, *record.harvests, *record.placements, *record.covers)
    for one in sized:
        if one.area_cm2 > areas[one.place]:
            context.log.fault("area-over-place", expressions[one.source], place=one.place.key)


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
