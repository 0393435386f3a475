"""OperationOutcome beside an answer: what was set aside, noted or assumed. No patient value."""

from __future__ import annotations

from collections.abc import Iterator

from service.domain.case import PlanRequest
from service.domain.errors import Fault
from service.domain.patient import Patient, Sex
from service.fhir.operation_outcome import write_fault_issue
from service.fhir.read_result import ReadResult, SetAside
from service.fhir.tables import absence_rules


def write_outcome(read_result: ReadResult, canonical_base: str) -> dict | None:
    """One issue for each thing set aside, noted or assumed; ``None`` when there is none."""
    issues = [
        *(_write_set_aside(aside, canonical_base) for aside in read_result.set_aside),
        *(write_fault_issue(note, canonical_base) for note in read_result.notes),
        *_write_assumptions(read_result),
    ]
    return {"resourceType": "OperationOutcome", "issue": issues} if issues else None


def _write_set_aside(aside: SetAside, canonical_base: str) -> dict:
    issue = write_fault_issue(Fault(aside.reason, aside.expression), canonical_base)
    issue["details"]["text"] = f"{aside.resource_type}: {issue['details']['text']}"
    return issue


def _write_assumptions(read_result: ReadResult) -> Iterator[dict]:
    if read_result.record is None or read_result.request is None:
        return
    for datum in _assumed(read_result.record.patient, read_result.request):
        yield {
            "severity": "information",
            "code": "informational",
            "details": {"text": f"Assumed. {absence_rules()[datum].meaning}."},
        }


def _assumed(patient: Patient, request: PlanRequest) -> Iterator[str]:
    """Rows of the absence table that say what stands in for something not stated."""
    if patient.sex in (Sex.OTHER, Sex.UNKNOWN):
        yield "sex"
    if request.cover_stock_cm2 is None:
        yield "cover-stock"
    if request.transfusion_units is None:
        yield "transfusion-units"
