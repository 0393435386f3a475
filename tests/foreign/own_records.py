"""Records in the shapes of other releases and other systems, of our own making."""

from __future__ import annotations

import json
from copy import deepcopy

from tests import builders as make

WOUND = make.burn_wound()
MANY = 9_000
VENDOR = "https://vendor.example/fhir/StructureDefinition"


def bundle(*resources: dict, kind: str = "collection", **more: object) -> dict:
    return json.loads(make.body_of(make.bundle(*resources, kind=kind))) | more


def whole(*more: dict, kind: str = "collection") -> dict:
    return bundle(*make.needed(), WOUND, *more, kind=kind)


def without_addresses(record: dict) -> dict:
    return record | {"entry": [{"resource": entry["resource"]} for entry in record["entry"]]}


def with_uuids(record: dict) -> dict:
    """Every entry and every reference as a UUID."""
    entries = deepcopy(record["entry"])
    for number, entry in enumerate(entries):
        entry["fullUrl"] = f"urn:uuid:00000000-0000-4000-8000-{number:012d}"
    for entry in entries[1:]:
        entry["resource"]["subject"] = {"reference": entries[0]["fullUrl"]}
    return record | {"entry": entries}


def by_identifier(record: dict) -> dict:
    entries = deepcopy(record["entry"])
    for entry in entries[1:]:
        entry["resource"]["subject"] = {"identifier": entries[0]["resource"]["identifier"][0], "type": "Patient"}
    return record | {"entry": entries}


def with_extensions(record: dict) -> dict:
    """Extensions of a vendor on every resource, on primitives and in data types."""
    entries = deepcopy(record["entry"])
    for entry in entries:
        if "status" in entry["resource"]:
            entry["resource"]["_status"] = {"extension": [{"url": f"{VENDOR}/how", "valueCode": "x"}]}
        entry["resource"]["extension"] = [
            {"url": f"{VENDOR}/deep", "extension": [{"url": "a", "valueQuantity": {"value": 1}}]}]
        entry["resource"]["meta"] = {"profile": [f"{VENDOR}/own"], "versionId": "7", "tag": [{"code": "x"}]}
    return record | {"entry": entries}


def requested(record: dict, kind: str) -> dict:
    entries = [entry | {"request": {"method": "POST", "url": entry["resource"]["resourceType"]}}
               for entry in record["entry"]]
    return record | {"type": kind, "entry": entries}


def of_other_releases() -> dict[str, dict]:
    patient, burn, weight = make.needed()[:3]
    old_allergy = {"resourceType": "AllergyIntolerance", "substance": make.local("x"), "status": "confirmed"}
    r5_procedure = make.procedure("wound-excision", "left thigh front", make.SEEN, "x1")
    r5_procedure["occurrenceDateTime"] = r5_procedure.pop("performedDateTime")
    return {
        "DSTU2": bundle(patient | {"careProvider": [{"reference": "Organization/1"}]}, old_allergy,
                        weight | {"related": [{"target": {"reference": "Observation/1"}}]}),
        "STU3": bundle(patient | {"animal": {"species": {"text": "x"}}}, weight | {"context": {"reference": "E/1"}},
                       {"resourceType": "Procedure", "status": "completed", "notDone": True, "code": make.local("x")}),
        "STU3 type": whole({"resourceType": "ProcedureRequest", "status": "active"}),
        "R5 elements": whole(r5_procedure),
        "R5 Condition": whole(burn | {"participant": [{"actor": {"reference": "Practitioner/1"}}]}),
        "R5 type": whole({"resourceType": "BodyStructure", "includedStructure": [{"structure": {"text": "x"}}]},
                         {"resourceType": "DeviceUsage", "status": "active"}),
        "R4B": whole({"resourceType": "Citation", "status": "active"}),
    }


def of_other_systems() -> dict[str, dict]:
    contained = WOUND | {"contained": [make.patient("own")], "subject": {"reference": "#own"}}
    outcome = {"resourceType": "OperationOutcome", "issue": [{"severity": "warning", "code": "too-costly"}]}
    versioned = json.loads(json.dumps(whole()["entry"]).replace('"Patient/p1"', '"Patient/p1/_history/3"'))
    absent = make.patient(birth_date=None) | {"_birthDate": {"extension": [
        {"url": "http://hl7.org/fhir/StructureDefinition/data-absent-reason", "valueCode": "unknown"}]}}
    return {
        "extensions everywhere": with_extensions(whole()),
        "contained patient only": bundle(contained),
        "relative references, no addresses": without_addresses(whole()),
        "UUIDs": with_uuids(whole()),
        "references by identifier": by_identifier(whole()),
        "versioned references": whole() | {"entry": versioned},
        "transaction": requested(whole(), "transaction"),
        "batch": requested(whole(), "batch"),
        "batch response": bundle(kind="batch-response", entry=[{"response": {"status": "201"}}]),
        "history": whole(kind="history"),
        "document": bundle({"resourceType": "Composition", "status": "final"}, *make.needed(), kind="document"),
        "message": bundle({"resourceType": "MessageHeader"}, *make.needed(), kind="message"),
        "page of a search": whole(outcome, kind="searchset") | {
            "total": 900, "link": [{"relation": "next", "url": f"{make.SERVER}?page=2"}]},
        "empty page": {"resourceType": "Bundle", "type": "searchset", "total": 0},
        "reason for an absent birth date": bundle(absent, *make.needed()[1:], WOUND),
        "thousands of other entries": whole(*(
            {"resourceType": "Observation", "status": "final", "code": {"text": str(n)}} for n in range(MANY))),
        "thousands of unused types": whole(*({"resourceType": "Claim", "id": str(n)} for n in range(MANY))),
    }


def own_records() -> dict[str, dict]:
    """Bundles by name."""
    return of_other_releases() | of_other_systems()
