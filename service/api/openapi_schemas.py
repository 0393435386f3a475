"""Request schemas of the interactive page: the profile, trimmed by hand, from the reader's own tables.

The full schema of FHIR describes everything but what is needed here; these describe the few
elements that planning reads, with the codes and bounds that the reader enforces.
"""

from __future__ import annotations

from service.fhir.canonical import UCUM, code_system_url
from service.fhir.tables import Profile, input_profiles, read_table

DAY = r"^[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$"
REFERENCE = r"^(urn:uuid:|https?://|[A-Z][A-Za-z]+/)\S+$"
_VALUES = {
    "instant": ("valueInstant", {"type": "string", "format": "date-time"}),
    "date": ("valueDate", {"type": "string", "format": "date"}),
    "boolean": ("valueBoolean", {"type": "boolean"}),
    "string": ("valueString", {"type": "string", "minLength": 1}),
    "code": ("valueCode", {"type": "string", "minLength": 1}),
    "integer": ("valueInteger", {"type": "integer"}),
    "decimal": ("valueDecimal", {"type": "number"}),
    "Quantity": ("valueQuantity", {"$ref": "#/components/schemas/Quantity"}),
}


def request_schemas(canonical_base: str) -> dict[str, dict]:
    """Schemas by component name; ``PlanRequest`` is the body of both operations."""
    system = code_system_url(canonical_base)
    return {
        "PlanRequest": {"oneOf": [_refer("Parameters"), _refer("Bundle")]},
        "Parameters": _object(
            {"resourceType": {"const": "Parameters"}, "parameter": _list({"oneOf": _parameters()})},
            "resourceType", "parameter"),
        "Bundle": _object(
            {
                "resourceType": {"const": "Bundle"},
                "type": {"enum": ["collection", "searchset", "batch", "transaction"]},
                "entry": _list(_object(
                    {"fullUrl": {"type": "string", "pattern": REFERENCE}, "resource": _refer("Resource")},
                    "resource")),
            }, "resourceType", "type", "entry"),
        "Resource": {"oneOf": [_refer(name) for name in ("Patient", "Observation", "Procedure", "Condition")]},
        "Patient": _object(
            {
                "resourceType": {"const": "Patient"},
                "birthDate": {"type": "string", "pattern": DAY},
                "gender": {"enum": ["male", "female", "other", "unknown"]},
            }, "resourceType"),
        "Observation": _resource("Observation", system, {
            "status": {"enum": ["final", "amended", "corrected", "preliminary", "entered-in-error"]},
            "effectiveDateTime": {"type": "string", "pattern": DAY},
            "valueQuantity": _refer("Quantity"),
            "valueCodeableConcept": _refer("CodeableConcept"),
            "valueBoolean": {"type": "boolean"},
            "valueDateTime": {"type": "string", "pattern": DAY},
            "bodySite": _refer("CodeableConcept"),
            "partOf": _list(_refer("Reference")),
            "component": _list(_object(
                {
                    "code": _refer("CodeableConcept"),
                    "valueCodeableConcept": _refer("CodeableConcept"),
                    "valueQuantity": _refer("Quantity"),
                    "valueDateTime": {"type": "string", "pattern": DAY},
                }, "code")),
        }, "status"),
        "Procedure": _resource("Procedure", system, {
            "status": {"enum": ["completed", "in-progress", "not-done", "entered-in-error"]},
            "performedDateTime": {"type": "string", "pattern": DAY},
            "bodySite": _list(_refer("CodeableConcept")),
        }, "status"),
        "Condition": _resource(
            "Condition", system, {"onsetDateTime": {"type": "string", "pattern": DAY}}),
        "Quantity": _object(
            {
                "value": {"type": "number", "minimum": 0, "maximum": 100_000},
                "unit": {"type": "string", "minLength": 1},
                "system": {"const": UCUM},
                "code": {"enum": sorted({row["code"] for row in read_table("ucum_units")})},
            }, "value", "system", "code"),
        "CodeableConcept": _object({"coding": _list(_refer("Coding"))}, "coding"),
        "Coding": _object(
            {"system": {"type": "string", "format": "uri"}, "code": {"type": "string", "pattern": r"^\S+$"}},
            "system", "code"),
        "Reference": _object({"reference": {"type": "string", "pattern": REFERENCE}}, "reference"),
    }


def answer_schemas() -> dict[str, dict]:
    """What comes back, by its type alone: the conformance resources say the rest."""
    names = ("Bundle", "Parameters", "CapabilityStatement", "OperationOutcome")
    answers = {f"{name}Answer": _object({"resourceType": {"const": name}}, "resourceType") for name in names}
    conformance = _object({"resourceType": {"type": "string"}, "url": {"type": "string"}}, "resourceType", "url")
    return {**answers, "ConformanceAnswer": conformance}


def _refer(name: str) -> dict:
    return {"$ref": f"#/components/schemas/{name}"}


def _object(properties: dict, *required: str) -> dict:
    return {"type": "object", "properties": properties, "required": list(required)}


def _list(items: dict) -> dict:
    return {"type": "array", "minItems": 1, "items": items}


def _resource(resource_type: str, system: str, properties: dict, *required: str) -> dict:
    """A resource of the record: its code is one of the input profiles of that type."""
    profiles = [p for p in input_profiles().values() if p.resource == resource_type]
    return _object(
        {
            "resourceType": {"const": resource_type},
            "code": _object({"coding": _list(_profile_coding(profiles, system))}, "coding"),
            "subject": _refer("Reference"),
            **properties,
        }, "resourceType", "code", "subject", *required)


def _profile_coding(profiles: list[Profile], system: str) -> dict:
    return _object(
        {"system": {"const": system}, "code": {"enum": [p.code for p in profiles]}}, "system", "code")


def _parameters() -> list[dict]:
    """One schema for each parameter of the operations, parts inside."""
    parts: dict[str, list[dict]] = {}
    for row in reversed(read_table("parameters")):  # a part stands after what it is a part of
        path = ".".join(filter(None, (row["name"], row["part"])))
        parent, _, name = path.rpartition(".")
        parts.setdefault(parent, []).insert(0, _parameter(name, row, parts.get(path, ())))
    return parts[""]


def _parameter(name: str, row: dict[str, str], parts: list[dict] | tuple = ()) -> dict:
    named = {"name": {"const": name}}
    if row["type"] == "Bundle":
        return _object({**named, "resource": _refer("Bundle")}, "name", "resource")
    if parts:
        return _object({**named, "part": _list({"oneOf": list(parts)})}, "name", "part")
    element, schema = _VALUES[row["type"]]
    bounds = {"minimum": float(row["low"]), "maximum": float(row["high"])} if row["low"] else {}
    schema = schema if "$ref" in schema else {**schema, **bounds, "description": row["meaning"]}
    return _object({**named, element: schema}, "name", element)
