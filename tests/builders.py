"""FHIR builders: each test says only what it is about.

The patient is invented: an adult of 70 kg, 175 cm and 13 g/dL, burned two days before the
as-of moment.
"""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

from service.fhir.json_text import dump

CANONICAL = "https://graftstage.example/fhir"
LOCAL = f"{CANONICAL}/CodeSystem/burn-grafting"
UCUM = "http://unitsofmeasure.org"
LOINC = "http://loinc.org"
SERVER = "https://record.example/fhir"
AS_OF = "2026-03-04T08:00:00+01:00"
INJURY = "2026-03-02"
SEEN = "2026-03-03"

LOINC_CODES = {
    "weight": ("29463-7", "Body weight"),
    "height": ("8302-2", "Body height"),
    "body-surface": ("8277-6", "Body surface area"),
    "haemoglobin": ("718-7", "Hemoglobin [Mass/volume] in Blood"),
    "core-temperature": ("8329-5", "Body temperature - Core"),
    "albumin": ("1751-7", "Albumin [Mass/volume] in Serum or Plasma"),
}
HOUSE_UNITS = {
    "weight": "kg", "height": "cm", "body-surface": "m2", "haemoglobin": "g/dL",
    "core-temperature": "Cel", "albumin": "g/dL",
}

Resource = dict[str, Any]


def local(*codes: str) -> Resource:
    """A CodeableConcept with one local coding for each code."""
    return {"coding": [{"system": LOCAL, "code": code} for code in codes]}


def profile_code(code: str) -> Resource:
    if code not in LOINC_CODES:
        return local(code)
    loinc, display = LOINC_CODES[code]
    return {"coding": [{"system": LOINC, "code": loinc, "display": display}]}


def quantity(value: object, unit: str) -> Resource:
    number = value if isinstance(value, int) else Decimal(str(value))
    return {"value": number, "unit": unit, "system": UCUM, "code": unit}


def site_codes(place: str) -> tuple[str, ...]:
    """``"left thigh"`` or ``"left thigh front"`` or ``"face"`` as the codes of a body site."""
    words = place.split()
    side = [word for word in words if word in ("left", "right")]
    surface = [word for word in words if word in ("front", "back")]
    region = [word for word in words if word not in side + surface]
    return (*region, *side, *surface)


def patient(patient_id: str = "p1", *, birth_date: str | None = "1986-05-17", **more: Any) -> Resource:
    resource = {
        "resourceType": "Patient", "id": patient_id,
        "identifier": [{"system": "https://record.example/patients", "value": f"n-{patient_id}"}],
        "gender": "female",
    }
    if birth_date:
        resource["birthDate"] = birth_date
    return resource | more


def observation(code: str, *, seen: str = SEEN, **more: Any) -> Resource:
    return {
        "resourceType": "Observation", "status": "final", "code": profile_code(code),
        "subject": {"reference": "Patient/p1"}, "effectiveDateTime": seen,
    } | more


def component(code: str, **value: Any) -> Resource:
    return {"code": local(code), **value}


def measured(code: str, value: object, unit: str | None = None, **more: Any) -> Resource:
    return observation(code, valueQuantity=quantity(value, unit or HOUSE_UNITS[code]), **more)


def _placed(place: str) -> Resource:
    """Body site of an Observation; the surface goes to a component."""
    return local(*(code for code in site_codes(place) if code not in ("front", "back")))


def _surface(place: str) -> list[Resource]:
    return [
        component("surface", valueCodeableConcept=local(word))
        for word in place.split() if word in ("front", "back")
    ]


def burn_wound(
    place: str = "left thigh front", percent: object = "4.5", depth: str | None = "full-thickness", *,
    code: str = "burn-extent", **more: Any,
) -> Resource:
    """A burn extent in percent of body surface, or of the region with the code for that."""
    depths = [component("burn-depth", valueCodeableConcept=local(depth))] if depth else []
    return observation(
        code, bodySite=_placed(place), valueQuantity=quantity(percent, "%"),
        component=_surface(place) + depths, **more)


def open_wound(place: str = "left lower-leg front", area_cm2: object = 120, **more: Any) -> Resource:
    return observation(
        "open-wound", bodySite=_placed(place), valueQuantity=quantity(area_cm2, "cm2"),
        component=_surface(place), **more)


def bed_state(place: str, state: str, *, ready_from: str | None = None, **more: Any) -> Resource:
    parts = _surface(place) + ([component("ready-from", valueDateTime=ready_from)] if ready_from else [])
    return observation(
        "wound-bed-state", bodySite=_placed(place), valueCodeableConcept=local(state), component=parts, **more)


def donor_site(
    place: str = "right thigh front", state: str = "healed", *, usable_percent: object = None, **more: Any
) -> Resource:
    share = [component("usable-share", valueQuantity=quantity(usable_percent, "%"))] if usable_percent else []
    return observation(
        "donor-site-state", bodySite=_placed(place), valueCodeableConcept=local(state),
        component=_surface(place) + share, **more)


def stated(code: str, **value: Any) -> Resource:
    """A statement about the whole patient."""
    return observation(code, **value)


def burn(onset: str | None = INJURY, **more: Any) -> Resource:
    resource = {"resourceType": "Condition", "code": local("burn"), "subject": {"reference": "Patient/p1"}}
    if onset:
        resource["onsetDateTime"] = onset
    return resource | more


def inhalation_injury(**more: Any) -> Resource:
    return {
        "resourceType": "Condition", "code": local("inhalation-injury"), "subject": {"reference": "Patient/p1"},
    } | more


def allergy(code: str = "no-known-allergy", **more: Any) -> Resource:
    return {
        "resourceType": "AllergyIntolerance", "code": local(code), "patient": {"reference": "Patient/p1"},
    } | more


def procedure(code: str, place: str, performed: str, procedure_id: str, **more: Any) -> Resource:
    return {
        "resourceType": "Procedure", "id": procedure_id, "status": "completed", "code": local(code),
        "subject": {"reference": "Patient/p1"}, "performedDateTime": performed,
        "bodySite": [local(*site_codes(place))],
    } | more


def part_of(procedure_id: str, code: str, *, seen: str, **value: Any) -> Resource:
    """A number or a code that belongs to a Procedure."""
    return observation(code, seen=seen, partOf=[{"reference": f"Procedure/{procedure_id}"}], **value)


def deed(code: str, place: str, performed: str, procedure_id: str, area_cm2: object) -> list[Resource]:
    """A Procedure with its treated area."""
    area = part_of(procedure_id, "treated-area", seen=performed, valueQuantity=quantity(area_cm2, "cm2"))
    return [procedure(code, place, performed, procedure_id), area]


def harvest(
    place: str, performed: str, procedure_id: str, area_cm2: object, thickness_mm: object
) -> list[Resource]:
    thickness = part_of(
        procedure_id, "graft-thickness", seen=performed, valueQuantity=quantity(thickness_mm, "mm"))
    return [*deed("skin-harvest", place, performed, procedure_id, area_cm2), thickness]


def placement(
    place: str, performed: str, procedure_id: str, area_cm2: object, method: str, ratio: str | None = None
) -> list[Resource]:
    resources = deed("graft-placement", place, performed, procedure_id, area_cm2)
    resources.append(part_of(
        procedure_id, "graft-method", seen=performed, valueCodeableConcept=local(method)))
    if ratio:
        resources.append(part_of(
            procedure_id, "claimed-expansion-ratio", seen=performed, valueCodeableConcept=local(ratio)))
    return resources


def take(procedure_id: str, percent: object, seen: str) -> Resource:
    return part_of(procedure_id, "graft-take", seen=seen, valueQuantity=quantity(percent, "%"))


def needed() -> list[Resource]:
    """What every record needs beside its wounds."""
    return [patient(), burn(), measured("weight", 70), measured("height", 175), measured("haemoglobin", 13)]


def bundle(*resources: Resource, kind: str = "collection") -> Resource:
    """A Bundle whose entries have addresses on a server of record."""
    entries = []
    for index, resource in enumerate(resources):
        address = f"{SERVER}/{resource['resourceType']}/{resource.get('id', f'r{index}')}"
        entries.append({"fullUrl": address, "resource": resource})
    return {"resourceType": "Bundle", "type": kind, "entry": entries}


def parameters(record: Resource, **values: Any) -> Resource:
    """Parameters around a Bundle; ``cover_stock=("Quantity", {...})`` or a list of parts."""
    sent = [{"name": "bundle", "resource": record}]
    for name, (kind, value) in ({"as_of": ("Instant", AS_OF)} | values).items():
        sent.append({"name": name.replace("_", "-"), f"value{kind}": value})
    return {"resourceType": "Parameters", "parameter": sent}


def grouped(name: str, /, **parts: tuple[str, Any]) -> Resource:
    """A parameter with parts."""
    return {"name": name, "part": [
        {"name": part, f"value{kind}": value} for part, (kind, value) in parts.items()]}


def record(*resources: Resource) -> Resource:
    """A complete record with the resources given, as of the usual moment."""
    return parameters(bundle(*needed(), *resources))


def body_of(resource: Resource) -> bytes:
    return dump(resource)


def loaded(body: bytes) -> Resource:
    return json.loads(body, parse_float=Decimal)
