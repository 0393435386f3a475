"""What reading finds beside the record: faults, notes, what was set aside, what is missing."""

from __future__ import annotations

from dataclasses import dataclass, field

from service.domain.errors import Fault
from service.fhir.faults import make_fault
from service.fhir.read_result import Missing, SetAside


@dataclass
class ReadLog:
    """Filled while a request is read. Nothing here carries a value of the patient."""

    faults: list[Fault] = field(default_factory=list)
    notes: list[Fault] = field(default_factory=list)
    set_aside: list[SetAside] = field(default_factory=list)
    missing: list[Missing] = field(default_factory=list)

    def fault(self, error_id: str, expression: str, **values: object) -> None:
        """Something is wrong: no plan."""
        self.faults.append(make_fault(error_id, expression, **values))

    def note(self, error_id: str, expression: str, **values: object) -> None:
        """Something is said beside the answer."""
        self.notes.append(make_fault(error_id, expression, **values))

    def put_aside(self, reason: str, expression: str, resource_type: str) -> None:
        """A resource does not count, and is named."""
        self.set_aside.append(SetAside(expression, reason, resource_type))

    def miss(self, datum: str, expression: str = "") -> None:
        """An element that planning needs is absent; ``datum`` is a row of the absence table."""
        self.missing.append(Missing(datum, expression))
