"""A plan made again, set against what the caller sent back of the plan before.

What still stands as this service wrote it is updated, or withdrawn when the plan no longer
holds it. What a person has taken further is never touched; where the plan differs, that is said.
"""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import unquote

from service.domain.finding import Finding, Severity
from service.fhir.identity import Identity
from service.fhir.read_result import EarlierAnswer

IN_PROGRESS = "plan-changed-task-in-progress"
#: Status in which each type is written: nobody has acted on it yet.
WRITTEN_AS = {
    "CarePlan": "draft", "Task": "draft", "ServiceRequest": "draft", "RiskAssessment": "preliminary",
    "DetectedIssue": "preliminary",
}
#: Status of what the plan no longer holds: closed, never deleted.
WITHDRAWN_AS = {
    "Task": "cancelled", "ServiceRequest": "revoked", "RiskAssessment": "cancelled", "DetectedIssue": "cancelled",
}
#: What people act on, and the elements that say what they are asked to do.
_ACTED_ON = {
    "CarePlan": ("period", "note"),
    "Task": ("restriction", "input", "description"),
    "ServiceRequest": ("occurrenceDateTime", "occurrenceTiming", "quantityQuantity", "orderDetail"),
}
#: A Task that a person has ended; one that is cancelled may have been withdrawn with an earlier plan.
_SETTLED = ("completed", "rejected", "failed")
_CLOSED = ("completed", "cancelled", "rejected", "failed", "revoked", "entered-in-error")


def _key_of(resource: dict) -> tuple[str, str]:
    return resource["resourceType"], resource["identifier"][0]["value"]


def is_untouched(earlier: EarlierAnswer) -> bool:
    """Whether it stands as this service wrote it."""
    return earlier.status == WRITTEN_AS[earlier.resource_type]


def is_updatable(earlier: EarlierAnswer) -> bool:
    """Untouched, and its version is known, so that a change made meanwhile cannot be lost."""
    return is_untouched(earlier) and earlier.version_id is not None


@dataclass(frozen=True)
class ChangedInProgress:
    """Something that a person has taken further and that the plan now has otherwise, or no longer.

    ``subject_key`` is what its identifier says without the patient.
    """

    subject_key: str
    finding: Finding


class EarlierPlan:
    """The resources of the plan before, by type and identifier; of several alike the first counts."""

    def __init__(self, sent_back: tuple[EarlierAnswer, ...], prefix: str) -> None:
        self._prefix = prefix
        self._by_key: dict[tuple[str, str], EarlierAnswer] = {}
        for earlier in sent_back:
            if earlier.identifier_value.startswith(prefix):
                self._by_key.setdefault((earlier.resource_type, earlier.identifier_value), earlier)

    def holds(self, resource_type: str, identity: Identity) -> bool:
        return (resource_type, identity.value) in self._by_key

    def is_settled(self, resource_type: str, identity: Identity) -> bool:
        """Whether a person has done it or turned it down."""
        earlier = self._by_key.get((resource_type, identity.value))
        return earlier is not None and earlier.status in _SETTLED

    def find(self, resource: dict) -> EarlierAnswer | None:
        return self._by_key.get(_key_of(resource))

    def withdrawn(self, resources: list[dict]) -> list[tuple[EarlierAnswer, dict]]:
        """Untouched resources that the plan no longer holds, closed."""
        kept = {_key_of(resource) for resource in resources}
        return [
            (earlier, {**earlier.resource, "status": WITHDRAWN_AS[earlier.resource_type]})
            for key, earlier in self._by_key.items()
            if key not in kept and earlier.resource_type in WITHDRAWN_AS and is_updatable(earlier)
        ]

    def changed_in_progress(self, resources: list[dict]) -> list[ChangedInProgress]:
        """What people act on and the plan now has otherwise; closed and gone is of the past."""
        planned = {_key_of(resource): resource for resource in resources}
        return [
            self._word(earlier, "changed" if key in planned else "no longer there")
            for key, earlier in self._by_key.items()
            if earlier.resource_type in _ACTED_ON and not is_untouched(earlier)
            and _differs(earlier, planned.get(key))
        ]

    def _word(self, earlier: EarlierAnswer, change: str) -> ChangedInProgress:
        values = (("kind", earlier.resource_type), ("status", earlier.status), ("change", change))
        return ChangedInProgress(
            unquote(earlier.identifier_value.removeprefix(self._prefix)),
            Finding(IN_PROGRESS, Severity.HIGH, values, sources=(earlier.key,)))


def _differs(earlier: EarlierAnswer, planned: dict | None) -> bool:
    if planned is None:
        return earlier.status not in _CLOSED
    return any(earlier.resource.get(name) != planned.get(name) for name in _ACTED_ON[earlier.resource_type])
