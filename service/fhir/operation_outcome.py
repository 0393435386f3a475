"""Faults as an OperationOutcome: where, what, how to repair it, under a stable error id."""

from __future__ import annotations

from service.domain.errors import Fault
from service.fhir.canonical import error_system_url
from service.fhir.faults import kind_of
from service.wording.catalogue import fill


def write_fault_issue(fault: Fault, canonical_base: str) -> dict:
    """One issue, with the words of the catalogue; ``expression`` is left out for the whole request.

    Parameters
    ----------
    fault : Fault
        Its id is the code of ``details``. Never holds a value of the patient.
    canonical_base : str
        Canonical base of the deployment.
    """
    kind, values = kind_of(fault), dict(fault.values)
    issue = {
        "severity": kind.severity,
        "code": kind.issue_code,
        "details": {
            "coding": [{"system": error_system_url(canonical_base), "code": kind.error_id}],
            "text": fill(kind.text, values),
        },
        "diagnostics": fill(kind.repair, values),
    }
    return {**issue, "expression": [fault.expression]} if fault.expression else issue


def write_fault_outcome(faults: tuple[Fault, ...], canonical_base: str) -> dict:
    """An OperationOutcome of every fault, in the order given."""
    return {
        "resourceType": "OperationOutcome",
        "issue": [write_fault_issue(fault, canonical_base) for fault in faults],
    }
