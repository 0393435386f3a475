"""The ways in which a request ends without an answer of the usual kind."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong with what was sent.

    ``error_id`` is stable and documented; ``expression`` is the FHIRPath of the element;
    neither text carries a value of the patient.
    """

    error_id: str
    expression: str
    values: tuple[tuple[str, str], ...] = ()  # never patient data: names, caps, allowed codes


class InvalidCase(Exception):
    """The input is contradictory, unreadable or impossible. Carries every fault found."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(", ".join(sorted({fault.error_id for fault in faults})))
        self.faults = faults


class OtherPatient(Exception):
    """The record is about another patient than the one that the caller may ask about."""


class ServiceFault(Exception):
    """Our own failure. The text is for the log and never holds a patient's value."""


class StorageFault(ServiceFault):
    """The database cannot be reached, is full, or holds something that it should not."""
