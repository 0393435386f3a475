"""What all resources of one answer share: identity, patient, author, codes and instants."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property, lru_cache

from service.domain.answer import PlanAnswer
from service.domain.body_region import Place
from service.domain.case import GraftingCase
from service.fhir.codes import load_code_map
from service.fhir.earlier_plan import EarlierPlan
from service.fhir.identity import DEVICE_NAME, DEVICE_VALUE, Identity, identifier_system, identify, patient_prefix
from service.fhir.read_result import ReadResult, SourceRef
from service.fhir.write_reference import refer_to_source
from service.wording.places import place_in_words

WHOLE_PATIENT = "patient"


@dataclass(frozen=True)
class AnswerFrame:
    """The frame into which every resource of one answer is written.

    ``is_transaction``: the answer is to be posted, so the caller's resources are referred to
    relative to the caller's server.
    """

    answer: PlanAnswer
    read_result: ReadResult
    canonical_base: str
    is_transaction: bool

    @cached_property
    def _identities(self) -> dict[tuple[str, str, int], Identity]:
        """Each identity is needed where it is given and where it is pointed to."""
        return {}

    @property
    def case(self) -> GraftingCase:
        return self.answer.case

    @property
    def sources(self) -> dict[str, SourceRef]:
        return self.read_result.sources

    @cached_property
    def understood(self) -> tuple[str, ...]:
        """Record keys of what was used of the request, the patient first."""
        keys = (key for key, _ in self.read_result.understood)
        return tuple(dict.fromkeys((self.case.record.patient.reference, *keys)))

    @cached_property
    def before(self) -> EarlierPlan:
        """What the caller sent back of the plan before, if it is of this patient."""
        return EarlierPlan(self.read_result.earlier, patient_prefix(self.case.record.patient.key))

    @cached_property
    def as_of(self) -> str:
        """The instant that every timestamp of the answer derives from."""
        return self.case.request.as_of.isoformat()

    @cached_property
    def patient(self) -> dict:
        return self.refer(self.case.record.patient.reference)

    @cached_property
    def device(self) -> dict:
        """The service as author, by logical reference: it is not a resource of the caller."""
        return refer_to_device(self.canonical_base)

    def identify(self, subject_key: str, kind: str, ordinal: int = 1) -> Identity:
        key = (subject_key, kind, ordinal)
        if key not in self._identities:
            self._identities[key] = identify(self.canonical_base, self.case.record.patient.key, *key)
        return self._identities[key]

    def date(self, day: int) -> str:
        """A planning day as a calendar date: day precision, so no time zone can shift it."""
        return self.case.date_of(day).isoformat()

    def refer(self, source_key: str) -> dict:
        return refer_to_source(self.sources[source_key], relative=self.is_transaction)

    def refer_all(self, source_keys: Iterable[str], *resource_types: str) -> list[dict]:
        """References to the caller's resources, each once; only those of the types, if any is named."""
        return [
            self.refer(key)
            for key in dict.fromkeys(source_keys)
            if not resource_types or self.sources[key].resource_type in resource_types
        ]

    def concept(self, concept: str, text: str) -> dict:
        """A CodeableConcept for a row of the code map, named ``kind/code``."""
        return write_concept(self.canonical_base, concept, text)

    def body_site(self, place: Place) -> dict:
        """Region and side, as the input profiles have them."""
        names = [f"region/{place.region}", *([f"side/{place.side}"] if place.side else [])]
        codings = [coding for name in names for coding in codings_of_concept(self.canonical_base, name)]
        return {"coding": codings, "text": place_in_words(place.region_key)}


def refer_to_device(canonical_base: str) -> dict:
    """Logical reference to the service itself."""
    return {
        "type": "Device",
        "identifier": {"system": identifier_system(canonical_base), "value": DEVICE_VALUE},
        "display": DEVICE_NAME,
    }


@lru_cache(maxsize=4096)
def codings_of_concept(canonical_base: str, concept: str) -> tuple[dict[str, str], ...]:
    """The coding that is written for a concept; none when the code map has no row for it."""
    code_map = load_code_map(canonical_base)
    known = any(row.concept == concept for row in code_map.rows)
    return (code_map.coding(concept),) if known else ()


def write_concept(canonical_base: str, concept: str, text: str) -> dict:
    """A CodeableConcept; what is not in the code map goes out as text alone."""
    codings = codings_of_concept(canonical_base, concept)
    return {"coding": list(codings), "text": text} if codings else {"text": text}


def refer_to_answer(identity: Identity) -> dict:
    """Reference to another resource of the same answer."""
    return {"reference": identity.full_url}
