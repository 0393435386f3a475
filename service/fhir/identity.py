"""Identity of what the service emits: the same thing keeps its name when the plan changes.

An identifier names the patient, what the resource is about (a wound, a graft, a donor
parcel), the kind of event and its ordinal. The session number is not part of it, because
sessions shift when the plan is made again.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from urllib.parse import quote
from uuid import NAMESPACE_URL, uuid5

DEVICE_VALUE = "graftstage"
DEVICE_NAME = "Graftstage"


def identifier_system(canonical_base: str) -> str:
    """System of every identifier that the service gives out; the reader knows its own by it."""
    return f"{canonical_base}/identifier"


def patient_prefix(patient_key: str) -> str:
    """What the identifiers of one patient begin with."""
    return quote(f"{patient_key}/", safe="/:")


@dataclass(frozen=True)
class Identity:
    """Name of one emitted resource: a business identifier and the ``fullUrl`` derived from it."""

    system: str
    value: str

    @property
    def identifier(self) -> dict[str, str]:
        return {"system": self.system, "value": self.value}

    @cached_property
    def full_url(self) -> str:
        return f"urn:uuid:{uuid5(NAMESPACE_URL, f'{self.system}|{self.value}')}"

    @property
    def if_none_exist(self) -> str:
        """Search that finds the resource if it was posted before; safe in a query as it stands."""
        return f"identifier={self.system}|{quote(self.value, safe='/:')}"


def identify(
    canonical_base: str, patient_key: str, subject_key: str, kind: str, ordinal: int = 1,
) -> Identity:
    """Identity of one resource of an answer.

    Parameters
    ----------
    canonical_base : str
        Canonical base of the deployment.
    patient_key : str
        Opaque stable name of the patient.
    subject_key : str
        Wound, graft, donor parcel or site that the resource is about; ``patient`` for the whole.
    kind : str
        Kind of event or of resource, a local code.
    ordinal : int
        Counts what shares the other parts.
    """
    value = patient_prefix(patient_key) + quote(f"{subject_key}/{kind}/{ordinal}", safe="/:")
    return Identity(identifier_system(canonical_base), value)
