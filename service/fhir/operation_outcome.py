"""Faults as an OperationOutcome: where, what, how to repair it, under a stable error id."""

from __future__ import annotations

from service.domain.errors import Fault
from service.fhir.canonical import error_system_url
from service.fhir.faults import kind_of
from service.wording.catalogue import fill


def write_outcome_issue(
    error_id: str, issue_code: str, text: str, repair: str, canonical_base: str, *,
    severity: str = "error", expression: str = "",
) -> dict:
    """One issue.

    Parameters
    ----------
    error_id : str
        Stable id, the code of ``details``.
    issue_code : str
        Code of the FHIR issue types.
    text, repair : str
        What is wrong, and what to do about it. Never a value of the patient.
    canonical_base : str
        Canonical base of the deployment.
    severity : str
        ``fatal``, ``error``, ``warning`` or ``information``.
    expression : str
        FHIRPath of the element; left out for the whole request.
    """
    issue = {
        "severity": severity,
        "code": issue_code,
        "details": {
            "coding": [{"system": error_system_url(canonical_base), "code": error_id}],
            "text": text,
        },
        "diagnostics": repair,
    }
    return {**issue, "expression": [expression]} if expression else issue


def write_fault_issue(fault: Fault, canonical_base: str) -> dict:
    """The issue of one fault, with the words of the catalogue."""
    kind, values = kind_of(fault), dict(fault.values)
    return write_outcome_issue(
        kind.error_id, kind.issue_code, fill(kind.text, values), fill(kind.repair, values), canonical_base,
        severity=kind.severity, expression=fault.expression)


def write_fault_outcome(faults: tuple[Fault, ...], canonical_base: str) -> dict:
    """An OperationOutcome of every fault, in the order given."""
    return {
        "resourceType": "OperationOutcome",
        "issue": [write_fault_issue(fault, canonical_base) for fault in faults],
    }
