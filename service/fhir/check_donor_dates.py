"""Whether the dates of harvests and of healing can be true together, place by place."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from service.assessment.age import age_band, possible_ages
from service.assessment.donor_sites import thickness_class
from service.domain.body_region import Place
from service.domain.case import BurnRecord
from service.domain.donor_site import DonorState, HarvestRecord
from service.evidence.donor_healing import healing_days
from service.evidence.library import load_evidence
from service.fhir.read_context import ReadContext
from service.preferences.library import load_preferences


def check_donor_dates(
    record: BurnRecord, areas_cm2: dict[Place, Decimal], expressions: dict[str, str], context: ReadContext
) -> None:
    """Refuse healing before any harvest; note skin that was taken before it can have healed.

    Parameters
    ----------
    record : BurnRecord
    areas_cm2 : dict
        Largest area of each place. [cm²]
    expressions : dict
        FHIRPath by record key.
    """
    by_place: dict[Place, list[HarvestRecord]] = {}
    for harvest in sorted(record.harvests, key=lambda h: h.day):
        by_place.setdefault(harvest.place, []).append(harvest)
    for state in record.donor_states:
        first = by_place.get(state.place, ())[:1]
        if state.state is DonorState.HEALING and any(state.observed < harvest.day for harvest in first):
            context.log.fault(
                "healing-before-harvest", f"{expressions[state.source]}.effective", place=state.place.key)
    for place, harvests in by_place.items():
        for index, harvest in enumerate(harvests):
            unhealed_cm2 = sum(
                earlier.area_cm2 for earlier in harvests[:index]
                if harvest.day < earlier.day + _shortest_healing(earlier, record, context))
            if unhealed_cm2 and unhealed_cm2 + harvest.area_cm2 > areas_cm2[place]:
                context.log.note(
                    "harvest-before-healing", f"{expressions[harvest.source]}.performed", place=place.key)


def _shortest_healing(harvest: HarvestRecord, record: BurnRecord, context: ReadContext) -> timedelta:
    """Time in which only quick healers are done."""
    evidence = load_evidence()
    youngest = possible_ages(record.patient.birth_date, context.today)[0]
    quick = 1 - load_preferences().value("healing-quantile")
    return timedelta(days=healing_days(
        evidence, harvest.place, thickness_class(harvest.thickness_mm, evidence), age_band(youngest, evidence), 1,
        quick))
