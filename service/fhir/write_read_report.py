"""The answer of ``$read-burn-record``: what was understood, set aside, missing, wrong."""

from __future__ import annotations

from service.domain.errors import Fault
from service.fhir.faults import fault_catalogue
from service.fhir.read_result import Missing, ReadResult, SetAside
from service.fhir.tables import absence_rules
from service.fhir.write_reference import refer_to_source
from service.wording.catalogue import fill

CAN_PLAN = "can-plan"
#: What the report lists, and of what each item is made: name, FHIR type, whether it is always there.
LISTS = {
    "understood": (("record", "Reference", True), ("profile", "code", True)),
    "set-aside": (
        ("expression", "string", True), ("type", "code", True), ("reason", "code", True), ("text", "string", True)),
    "missing": (("datum", "code", True), ("text", "string", True), ("expression", "string", False)),
    "wrong": (
        ("error", "code", True), ("text", "string", True), ("repair", "string", True),
        ("expression", "string", False)),
    "note": (
        ("error", "code", True), ("text", "string", True), ("repair", "string", True),
        ("expression", "string", False)),
}


def write_read_report(read_result: ReadResult, settings) -> dict:
    """A Parameters resource; it never carries a value of the patient.

    Parameters
    ----------
    read_result : ReadResult
        A request as read, with or without faults.
    settings : Settings
        Of the deployment.
    """
    items = {
        "understood": (_write_understood(read_result, *pair) for pair in read_result.understood),
        "set-aside": (_write_set_aside(aside) for aside in read_result.set_aside),
        "missing": (_write_missing(missing) for missing in read_result.missing),
        "wrong": (_write_fault(fault) for fault in read_result.faults),
        "note": (_write_fault(note) for note in read_result.notes),
    }
    can_plan = not (read_result.faults or read_result.missing or read_result.refusal)
    listed = [_write_item(name, item) for name, found in items.items() for item in found]
    return {
        "resourceType": "Parameters",
        "parameter": [{"name": CAN_PLAN, "valueBoolean": can_plan}, *listed],
    }


def _write_item(name: str, values: dict) -> dict:
    parts = [
        {"name": part, f"value{fhir_type[0].upper()}{fhir_type[1:]}": values[part]}
        for part, fhir_type, _ in LISTS[name]
        if values[part]
    ]
    return {"name": name, "part": parts}


def _write_understood(read_result: ReadResult, key: str, profile: str) -> dict:
    return {"record": refer_to_source(read_result.sources[key], relative=False), "profile": profile}


def _write_set_aside(aside: SetAside) -> dict:
    text = fault_catalogue()[aside.reason].text
    return {"expression": aside.expression, "type": aside.resource_type, "reason": aside.reason, "text": text}


def _write_missing(missing: Missing) -> dict:
    meaning = absence_rules()[missing.datum].meaning
    return {"datum": missing.datum, "text": f"{meaning}.", "expression": missing.expression}


def _write_fault(fault: Fault) -> dict:
    kind, values = fault_catalogue()[fault.error_id], dict(fault.values)
    return {
        "error": fault.error_id,
        "text": fill(kind.text, values),
        "repair": fill(kind.repair, values),
        "expression": fault.expression,
    }
