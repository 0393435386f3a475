"""The name of an answer: made of all that the answer is made of, so the same answer has the same name."""

from __future__ import annotations

import hashlib
from uuid import NAMESPACE_URL, uuid5

from service.domain.answer import PlanAnswer
from service.fhir.codes import load_code_map
from service.settings import Settings


def settings_sha256(settings: Settings) -> str:
    """Hash of what the deployment adds to an answer: canonical base, time zone and code map."""
    shaping = (settings.canonical_base, settings.time_zone, load_code_map(settings.canonical_base).sha256)
    return hashlib.sha256("\n".join(shaping).encode()).hexdigest()


def plan_id_of(answer: PlanAnswer, settings: Settings) -> str:
    """A UUID that only who has the request and the versions could guess.

    Parameters
    ----------
    answer : PlanAnswer
        Its versions, moment and search time.
    settings : Settings
        Of the deployment.
    """
    versions, request = answer.versions, answer.case.request
    made_of = (
        versions.input_sha256, request.as_of.isoformat(), request.search_seconds, versions.software,
        versions.evidence_sha256, versions.preferences_sha256, settings_sha256(settings), versions.seed)
    return str(uuid5(NAMESPACE_URL, "|".join(map(str, made_of))))
