"""The answer when planning needs what the record does not hold: asked for by name, never guessed."""

from __future__ import annotations

from service.domain.finding import Finding
from service.domain.plan import PlanOutcome
from service.fhir.canonical import profile_url
from service.fhir.identity import identify
from service.fhir.read_result import Missing, ReadResult
from service.fhir.tables import AbsenceRule, absence_rules
from service.fhir.write_bundle import write_collection
from service.fhir.write_frame import codings_of_concept, refer_to_answer, refer_to_device, write_concept
from service.fhir.write_operation_definition import PLAN_GRAFTS, canonical_of
from service.fhir.write_outcome import write_outcome
from service.fhir.write_reference import refer_to_source
from service.wording.findings import word_finding

DATA_REQUIRED = "data-required"


def write_data_required_bundle(read_result: ReadResult, settings) -> dict:
    """A collection Bundle without a CarePlan: what is missing, and what was set aside.

    What is out of scope is refused by name, and nothing more is asked for.

    Parameters
    ----------
    read_result : ReadResult
        A request that was read without a fault but lacks something required.
    settings : Settings
        Of the deployment; its ``canonical_base`` is used.
    """
    base = settings.canonical_base
    timestamp = read_result.request.as_of.isoformat()
    identity = identify(base, read_result.input_sha256, "request", DATA_REQUIRED)
    response = {
        "resourceType": "GuidanceResponse",
        "requestIdentifier": {"value": read_result.input_sha256},
        "identifier": [identity.identifier],
        "moduleCanonical": canonical_of(base, PLAN_GRAFTS),
        "occurrenceDateTime": timestamp,
        "performer": refer_to_device(base),
        **(_write_refusal(refusal, base) if (refusal := read_result.refusal) else _write_missing(read_result, base)),
    }
    patients = [source for source in read_result.sources.values() if source.resource_type == "Patient"]
    if len(patients) == 1:
        response["subject"] = refer_to_source(patients[0], relative=False)
    resources = [(identity, response)]
    outcome = write_outcome(read_result, base)
    if outcome:
        outcome_identity = identify(base, read_result.input_sha256, "request", "outcome")
        response["evaluationMessage"] = [refer_to_answer(outcome_identity)]
        resources.append((outcome_identity, outcome))
    return write_collection(resources, timestamp)


def _write_missing(read_result: ReadResult, canonical_base: str) -> dict:
    return {
        "status": DATA_REQUIRED,
        "note": [{"text": word_missing(missing)} for missing in read_result.missing],
        "dataRequirement": _write_requirements(read_result, canonical_base),
    }


def _write_refusal(refusal: Finding, canonical_base: str) -> dict:
    words = word_finding(refusal)
    return {
        "status": "success",
        "reasonCode": [
            write_concept(canonical_base, f"plan-outcome/{PlanOutcome.NO_PLAN}", "No plan"),
            write_concept(canonical_base, f"finding/{refusal.code}", words.title),
        ],
        "note": [{"text": words.detail}],
    }


def word_missing(missing: Missing) -> str:
    """What is missing, and where it belongs, in one sentence."""
    where = f" ({missing.expression})" if missing.expression else ""
    return f"{absence_rules()[missing.datum].meaning}{where}."


def _write_requirements(read_result: ReadResult, canonical_base: str) -> list[dict]:
    """One requirement for each datum, however often it is missing."""
    data = dict.fromkeys(missing.datum for missing in read_result.missing)
    return [_write_requirement(absence_rules()[datum], canonical_base) for datum in data]


def _write_requirement(rule: AbsenceRule, canonical_base: str) -> dict:
    resource_type, _, element = rule.path.partition(".")
    requirement = {"type": resource_type}
    if rule.profile:
        requirement["profile"] = [profile_url(canonical_base, rule.profile)]
        codings = codings_of_concept(canonical_base, f"profile/{rule.profile}")
        requirement["codeFilter"] = [{"path": "code", "code": list(codings)}]
    if element:
        requirement["mustSupport"] = [element]
    return requirement
