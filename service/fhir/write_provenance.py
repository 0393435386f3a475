"""Provenance: who made the answer, of what, with which versions."""

from __future__ import annotations

from collections.abc import Iterable

from service.fhir.identity import Identity
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame, refer_to_answer

PROVENANCE = "provenance"
HASHES = "urn:ietf:rfc:3986"


def write_provenance(frame: AnswerFrame, targets: Iterable[Identity]) -> tuple[Identity, dict]:
    """The sources of the answer: the request, the resources read from it, evidence, preferences.

    Versions and hashes are enough to make the same bytes again.
    """
    versions = frame.answer.versions
    made_with = (
        ("request as received", versions.input_sha256),
        (f"evidence tables {versions.evidence}", versions.evidence_sha256),
        ("preferences", versions.preferences_sha256),
    )
    entities = [
        {
            "role": "source",
            "what": {"identifier": _hash_identifier(sha256), "display": f"{name}, sha256 {sha256}"},
        }
        for name, sha256 in made_with
    ]
    entities += [{"role": "source", "what": reference} for reference in frame.refer_all(frame.understood)]
    return frame.identify(WHOLE_PATIENT, PROVENANCE), {
        "resourceType": "Provenance",
        "target": [refer_to_answer(target) for target in targets],
        "recorded": frame.as_of,
        "activity": {
            "text": f"Staged grafting plan computed by software {versions.software}, seed {versions.seed}",
        },
        "agent": [{"type": {"text": "Decision-support service"}, "who": frame.device}],
        "entity": entities,
    }


def _hash_identifier(sha256: str) -> dict[str, str]:
    return {"system": HASHES, "value": f"urn:hash::sha256:{sha256}"}
