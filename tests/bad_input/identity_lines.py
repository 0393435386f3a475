"""Lines 116 to 128: status, versions and references; and parameters, which no line is about."""

from __future__ import annotations

from decimal import Decimal

from tests import builders as make
from tests.bad_input.case import FIRST_WOUND, SECOND, WOUND, BadInput, with_parameter, wounds

OTHER = make.burn_wound("right thigh front", "3")
PARAMETER = "Parameters.parameter[2]"


def set_aside(line: int, status: str, error_id: str = "status-not-final") -> BadInput:
    return BadInput(line, status, wounds(WOUND, OTHER | {"status": status}), 200, "business-rule", error_id, SECOND)


def not_counted(line: int, status: str) -> BadInput:
    excision = make.procedure("wound-excision", "left thigh front", "2026-03-03", "x1", status=status)
    return BadInput(line, status, wounds(WOUND, excision), 200, "business-rule", "status-not-final", SECOND)


def issued(percent: str, status: str, hour: str) -> dict:
    seen = {"effectiveDateTime": "2026-03-03T07:00:00Z", "issued": f"2026-03-03T{hour}:00:00Z"}
    return make.burn_wound(percent=percent) | {"status": status} | seen


def shared_full_url() -> bytes:
    record = make.record(WOUND)
    entries = record["parameter"][0]["resource"]["entry"]
    entries[5]["fullUrl"] = entries[4]["fullUrl"]
    return make.body_of(record)


def parameter(name: str, sent: dict, issue_code: str, error_id: str, where: str, planted: str = "") -> BadInput:
    return BadInput(0, name, with_parameter(sent), 422, issue_code, error_id, f"{PARAMETER}.{where}", planted)


IDENTITY = [
    set_aside(116, "entered-in-error", "entered-in-error"),
    set_aside(117, "cancelled"),
    set_aside(117, "unknown"),
    set_aside(117, "registered"),
    set_aside(118, "preliminary"),
    BadInput(119, "amended", wounds(issued("4.5", "final", "08"), issued("3", "amended", "09")), 200,
             "informational", "superseded", FIRST_WOUND, shown="3 %TBSA"),
    BadInput(120, "two values at one time", wounds(make.burn_wound(percent="3.7"), make.burn_wound(percent="2.7")),
             422, "duplicate", "same-time-twice", FIRST_WOUND, planted="3.7"),
    BadInput(121, "same twice", wounds(WOUND, WOUND), 200, "duplicate", "duplicate-resource", SECOND),
    BadInput(122, "fullUrl twice", shared_full_url, 422, "duplicate", "full-url-twice",
             "Parameters.parameter[0].resource.entry[5].fullUrl"),
    BadInput(123, "reference to nothing", wounds(WOUND, make.part_of(
        "planted", "treated-area", seen="2026-03-03", valueQuantity=make.quantity(100, "cm2"))), 422,
        "not-found", "reference-not-found", f"{SECOND}.partOf[0]", planted="planted"),
    BadInput(124, "inner address", wounds(WOUND | {
        "subject": {"reference": "http://169.254.0.7/planted/Patient/1"}}), 422, "conflict", "subject-other",
        f"{FIRST_WOUND}.subject", planted="169.254"),
    not_counted(125, "not-done"),
    not_counted(126, "in-progress"),
    BadInput(127, "focus", wounds(WOUND | {"focus": [{"reference": "Patient/p1"}]}), 422, "not-supported",
             "focus-set", f"{FIRST_WOUND}.focus"),
    BadInput(128, "contained patient", wounds(WOUND | {
        "contained": [make.patient("planted")], "subject": {"reference": "#planted"}}), 422, "conflict",
        "subject-other", f"{FIRST_WOUND}.subject", planted="planted"),
    BadInput(0, "contained copy of the patient", wounds(WOUND | {
        "contained": [make.patient()], "subject": {"reference": "#p1"}}), 422, "not-supported",
        "reference-contained", f"{FIRST_WOUND}.subject"),
]

PARAMETERS = [
    parameter("unknown", {"name": "planted", "valueInteger": 1}, "not-supported", "parameter-unknown", "name",
              "planted"),
    parameter("twice", {"name": "as-of", "valueInstant": make.AS_OF}, "duplicate", "parameter-twice", "name"),
    parameter("time zone", {"name": "time-zone", "valueString": "Planted/City"}, "code-invalid",
              "time-zone-unknown", "value", "Planted"),
    parameter("negative stock", {"name": "cover-stock", "valueQuantity": make.quantity(Decimal("-17.3"), "cm2")},
              "value", "value-range", "value.value", "17.3"),
    parameter("method", {"name": "method-available", "valueCode": "planted"}, "code-invalid", "parameter-code",
              "value", "planted"),
    parameter("decision without its side", make.grouped(
        "fixed-decision", act=("Code", "place"), region=("Code", "hand")), "required", "side-missing", "part"),
    parameter("preference", make.grouped("preference", name=("String", "planted"), value=("Decimal", 1)),
              "code-invalid", "preference-unknown", "part", "planted"),
    parameter("preference out of range", make.grouped(
        "preference", name=("String", "session-weight"), value=("Decimal", 98765)), "value", "preference-range",
        "part", "98765"),
]
