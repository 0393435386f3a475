"""Faults as sentences: where, what, and how to repair it."""

from __future__ import annotations

from collections.abc import Iterable

from service.domain.errors import Fault
from service.fhir.faults import kind_of
from service.wording.catalogue import fill


def write_faults(faults: Iterable[Fault]) -> str:
    """One line for each fault."""
    return "\n".join(_write_fault(fault) for fault in faults)


def _write_fault(fault: Fault) -> str:
    kind, values = kind_of(fault), dict(fault.values)
    where = f"{fault.expression}: " if fault.expression else ""
    return f"{where}{fill(kind.text, values)} {fill(kind.repair, values)} [{fault.error_id}]"
