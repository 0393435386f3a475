"""Faults as sentences: where, what, and how to repair it, in the words of the OperationOutcome."""

from __future__ import annotations

from collections.abc import Iterable

from service.domain.errors import Fault
from service.fhir.canonical import DEFAULT_CANONICAL_BASE
from service.fhir.operation_outcome import write_fault_issue


def write_faults(faults: Iterable[Fault]) -> str:
    """One line for each fault."""
    return "\n".join(_write_issue(write_fault_issue(fault, DEFAULT_CANONICAL_BASE)) for fault in faults)


def _write_issue(issue: dict) -> str:
    where = "".join(f"{expression}: " for expression in issue.get("expression", ()))
    error_id = issue["details"]["coding"][0]["code"]
    return f"{where}{issue['details']['text']} {issue['diagnostics']} [{error_id}]"
