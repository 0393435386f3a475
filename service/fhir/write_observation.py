"""Observations that the service computes about now, and nothing about the future."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from service.domain.burn_wound import ZERO
from service.domain.donor_site import DonorSite
from service.fhir.identity import Identity
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame, refer_to_answer
from service.fhir.write_quantity import write_quantity
from service.wording.places import place_in_words
from service.wording.rounding import TENTH

BODY_SURFACE = "computed-body-surface"
BURN_EXTENT = "computed-burn-extent"
DONOR_SURFACE = "computed-donor-surface"
SURFACE_STEP_M2 = Decimal("0.001")


def write_computed_observations(frame: AnswerFrame) -> Iterator[tuple[Identity, dict]]:
    """Body surface, sum of the recorded extents, donor surface now: in all and by site."""
    yield _write_body_surface(frame)
    yield _write_burn_extent(frame)
    by_site = [_write_site_surface(frame, site) for site in frame.case.donor_sites]
    yield _write_donor_surface(frame, by_site)
    yield from by_site


def _write_computed(frame, subject_key, kind, title, value, method, sources) -> tuple[Identity, dict]:
    """One computed value; ``derivedFrom`` takes Observations only."""
    identity = frame.identify(subject_key, kind)
    observation = {
        "resourceType": "Observation",
        "identifier": [identity.identifier],
        "status": "preliminary",
        "code": frame.concept(f"computed/{kind}", title),
        "subject": frame.patient,
        "effectiveDateTime": frame.as_of,
        "issued": frame.as_of,
        "valueQuantity": value,
        "method": {"text": method},
        "device": frame.device,
    }
    derived_from = frame.refer_all(sources, "Observation")
    return identity, {**observation, "derivedFrom": derived_from} if derived_from else observation


def _write_body_surface(frame: AnswerFrame) -> tuple[Identity, dict]:
    case, patient = frame.case, frame.case.record.patient
    formula = case.body_surface_formula.replace("-", " ")
    measured = (patient.body_surface_m2, patient.height_cm, patient.weight_kg)
    return _write_computed(
        frame, WHOLE_PATIENT, BODY_SURFACE, "Body surface (computed)",
        write_quantity(case.body_surface_m2.quantize(SURFACE_STEP_M2), "m2"), f"Body surface: {formula}",
        [m.source for m in measured if m is not None])


def _write_burn_extent(frame: AnswerFrame) -> tuple[Identity, dict]:
    case = frame.case
    return _write_computed(
        frame, WHOLE_PATIENT, BURN_EXTENT, "Burn extent (sum of what is recorded)",
        write_quantity(case.burn_percent_tbsa.quantize(TENTH), "%"),
        "Sum over regions of every recorded depth but erythema, as a share of body surface",
        [extent.source for extent in case.record.extents])


def _usable_now_cm2(site: DonorSite) -> Decimal:
    """Skin that may be harvested today: recorded as healed, and not harvested too often."""
    usable = (p for p in site.parcels if p.healed_recorded and p.harvest_count < site.harvests_allowed)
    return sum((parcel.area_cm2 for parcel in usable), ZERO)


def _write_site_surface(frame: AnswerFrame, site: DonorSite) -> tuple[Identity, dict]:
    identity, observation = _write_computed(
        frame, site.site_id, DONOR_SURFACE, f"Donor surface now: {place_in_words(site.site_id)}",
        write_quantity(_usable_now_cm2(site), "cm2"),
        "Unburned, harvestable skin of the region; a harvested part counts when it is recorded as healed",
        site.sources)
    surface = site.place.surface
    component = {
        "code": frame.concept("component/surface", "Surface"),
        "valueCodeableConcept": frame.concept(f"surface/{surface}", surface.capitalize()),
    }
    return identity, {**observation, "bodySite": frame.body_site(site.place), "component": [component]}


def _write_donor_surface(frame: AnswerFrame, by_site: list[tuple[Identity, dict]]) -> tuple[Identity, dict]:
    total = sum((_usable_now_cm2(site) for site in frame.case.donor_sites), ZERO)
    identity, observation = _write_computed(
        frame, WHOLE_PATIENT, DONOR_SURFACE, "Donor surface now, all sites",
        write_quantity(total, "cm2"), "Sum over the donor sites", ())
    members = [refer_to_answer(member) for member, _ in by_site]
    return identity, {**observation, "hasMember": members} if members else observation
