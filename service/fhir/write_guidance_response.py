"""GuidanceResponse: how the request ended, for a caller that reads codes and not prose."""

from __future__ import annotations

from service.domain.finding import Finding, Severity
from service.domain.plan import PlanOutcome
from service.fhir.identity import Identity
from service.fhir.write_care_plan import word_quality
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame, refer_to_answer
from service.fhir.write_operation_definition import PLAN_GRAFTS, canonical_of
from service.wording.findings import word_finding

RESPONSE = "guidance-response"
_OUTCOME_WORDS = {
    PlanOutcome.OPTIMAL: "Proven best",
    PlanOutcome.BEST_FOUND: "Best found",
    PlanOutcome.RULE_OF_THUMB: "Rule of thumb",
    PlanOutcome.NO_PLAN: "No plan",
}


def write_guidance_response(
    frame: AnswerFrame, *, care_plan: Identity | None, outcome: Identity | None,
) -> tuple[Identity, dict]:
    """The request succeeded, with a plan or with the reason why there is none.

    Parameters
    ----------
    frame : AnswerFrame
    care_plan : Identity or None
        The CarePlan of the answer, if there is one.
    outcome : Identity or None
        The OperationOutcome that says what was set aside or assumed, if there is one.
    """
    identity = frame.identify(WHOLE_PATIENT, RESPONSE)
    response = {
        "resourceType": "GuidanceResponse",
        "requestIdentifier": {"value": frame.read_result.input_sha256},
        "identifier": [identity.identifier],
        "moduleCanonical": canonical_of(frame.canonical_base, PLAN_GRAFTS),
        "status": "success",
        "subject": frame.patient,
        "occurrenceDateTime": frame.as_of,
        "performer": frame.device,
        "reasonCode": _write_reasons(frame),
        "note": [{"text": _word_note(frame)}],
    }
    if outcome:
        response["evaluationMessage"] = [refer_to_answer(outcome)]
    if care_plan:
        response["result"] = refer_to_answer(care_plan)
    return identity, response


def _write_reasons(frame: AnswerFrame) -> list[dict]:
    plan = frame.answer.plan
    reasons = [frame.concept(f"plan-outcome/{plan.outcome}", _OUTCOME_WORDS[plan.outcome])]
    if plan.reason_no_plan:
        reasons.append(frame.concept(f"finding/{plan.reason_no_plan}", _reason_in_words(frame).title))
    return reasons


def _reason_in_words(frame: AnswerFrame):
    code = frame.answer.plan.reason_no_plan
    found = (finding for finding in frame.answer.findings if finding.code == code)
    return word_finding(next(found, Finding(code, Severity.HIGH)))


def _word_note(frame: AnswerFrame) -> str:
    plan = frame.answer.plan
    if plan.reason_no_plan:
        return _reason_in_words(frame).detail
    if plan.outcome is PlanOutcome.NO_PLAN:
        return "No plan was found."
    return f"{word_quality(frame)} Search time allowed: {frame.case.request.search_seconds} s."
