"""The whole answer as one Bundle: the CarePlan first, then everything it points to."""

from __future__ import annotations

from collections import defaultdict

from service.domain.answer import PlanAnswer
from service.domain.dressing import CareEvent
from service.domain.finding import Finding
from service.domain.out_of_scope import REFUSALS
from service.domain.plan import PlanOutcome
from service.fhir.identity import Identity
from service.fhir.plan_id import plan_id_of
from service.fhir.read_result import ReadResult
from service.fhir.write_bundle import write_collection, write_transaction
from service.fhir.write_care_plan import identify_care_plan, write_care_plan
from service.fhir.write_detected_issue import write_detected_issue, write_detected_issues
from service.fhir.write_fluid_estimate import write_fluid_estimate
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame
from service.fhir.write_guidance_response import write_guidance_response
from service.fhir.write_observation import write_computed_observations
from service.fhir.write_outcome import write_outcome
from service.fhir.write_provenance import write_provenance
from service.fhir.write_risk_assessment import write_forecasts
from service.fhir.write_service_request import (
    identify_series,
    identify_session,
    series_key,
    write_series_request,
    write_session_request,
)
from service.fhir.write_task import identify_event, write_task
from service.fhir.write_what_if import write_what_if
from service.settings import Settings

Resources = list[tuple[Identity, dict]]
TRANSACTION = "transaction"


def write_plan_bundle(answer: PlanAnswer, read_result: ReadResult, settings: Settings) -> dict:
    """The answer of ``$plan-grafts``.

    A plan goes out in the form that was asked for. Without a plan there is nothing to post,
    so the answer is a collection that says why; where a plan is refused it says that and no more.

    Parameters
    ----------
    answer : PlanAnswer
        What the core answered.
    read_result : ReadResult
        The request as read, for references to the caller's resources.
    settings : Settings
        Of the deployment.

    Returns
    -------
    dict
        A Bundle named by its plan id, with decimals as ``Decimal``, for ``json_text.dump``.
    """
    bundle = _write_bundle(answer, read_result, settings.canonical_base)
    name = {"system": "urn:ietf:rfc:3986", "value": f"urn:uuid:{plan_id_of(answer, settings)}"}
    return {"resourceType": "Bundle", "identifier": name} | bundle


def _write_bundle(answer: PlanAnswer, read_result: ReadResult, canonical_base: str) -> dict:
    has_plan = answer.plan.outcome is not PlanOutcome.NO_PLAN
    is_transaction = has_plan and answer.case.request.answer == TRANSACTION
    frame = AnswerFrame(answer, read_result, canonical_base, is_transaction)
    if is_transaction:
        return write_transaction(_write_plan(frame), frame.as_of, frame.before)
    if has_plan:
        resources = _write_plan(frame) + [*write_computed_observations(frame), *write_fluid_estimate(frame)]
        return _explain(frame, resources, care_plan=identify_care_plan(frame))
    if answer.plan.reason_no_plan in REFUSALS:
        return _explain(frame, [])
    return _explain(frame, [
        *write_detected_issues(frame), *write_computed_observations(frame), *write_fluid_estimate(frame)])


def _write_plan(frame: AnswerFrame) -> Resources:
    """CarePlan, Tasks, ServiceRequests, RiskAssessments, DetectedIssues: what may be posted."""
    requests = _write_requests(frame)
    tasks = _write_tasks(frame)
    forecasts = list(write_forecasts(frame))
    care_plan = write_care_plan(
        frame, [identity for identity, _ in tasks], [identity for identity, _ in forecasts])
    plan = [(identify_care_plan(frame), care_plan), *tasks, *requests, *forecasts, *write_detected_issues(frame)]
    return plan + _write_changes(frame, [resource for _, resource in plan])


def _write_changes(frame: AnswerFrame, plan: list[dict]) -> Resources:
    """One issue for each thing in progress that the plan made again has otherwise."""
    issues = []
    for changed in frame.before.changed_in_progress(plan):
        identity = frame.identify(changed.subject_key, changed.finding.code)
        issues.append((identity, write_detected_issue(frame, changed.finding, identity)))
    return issues


def find_changes_in_progress(answer: PlanAnswer, read_result: ReadResult, canonical_base: str) -> tuple[Finding, ...]:
    """What people have taken further and the plan now has otherwise; nothing when no earlier plan was sent back."""
    if not read_result.earlier or answer.plan.outcome is PlanOutcome.NO_PLAN:
        return ()
    frame = AnswerFrame(answer, read_result, canonical_base, is_transaction=True)
    plan = [resource for _, resource in _write_plan(frame)]
    return tuple(changed.finding for changed in frame.before.changed_in_progress(plan))


def _explain(frame: AnswerFrame, resources: Resources, *, care_plan: Identity | None = None) -> dict:
    """Add how the request ended, what it rests on, what was set aside or assumed, and last a what-if."""
    outcome = write_outcome(frame.read_result, frame.canonical_base)
    outcome_identity = frame.identify(WHOLE_PATIENT, "outcome") if outcome else None
    response = write_guidance_response(frame, care_plan=care_plan, outcome=outcome_identity)
    explained = [*resources, response]
    provenance = write_provenance(frame, [identity for identity, _ in explained])
    notes = [(outcome_identity, outcome)] if outcome else []
    beside = [write_what_if(frame, frame.answer.what_if)] if frame.answer.what_if else []
    return write_collection([*explained, provenance, *notes, *beside], frame.as_of)


def _is_in_session(event: CareEvent) -> bool:
    return event.session is not None and not event.series


def _write_requests(frame: AnswerFrame) -> Resources:
    """One request for each session, then one for each series of events outside theatre."""
    requests = [
        (identify_session(frame, session), write_session_request(frame, session))
        for session in frame.answer.plan.settled.sessions
    ]
    series: dict[str, list[CareEvent]] = defaultdict(list)
    for event in frame.answer.events:
        if not _is_in_session(event):
            series[series_key(event)].append(event)
    requests += [
        (identify_series(frame, key), write_series_request(frame, key, events))
        for key, events in series.items()
    ]
    return requests


def _write_tasks(frame: AnswerFrame) -> Resources:
    """Tasks for what is due within the days that the caller asked for, or has its Task already."""
    sessions = {s.ordinal: identify_session(frame, s) for s in frame.answer.plan.settled.sessions}
    return [
        (identify_event(frame, event), write_task(frame, event, _identify_focus(frame, event, sessions)))
        for event in frame.answer.events
        if event.day <= frame.case.request.task_days or frame.before.holds("Task", identify_event(frame, event))
    ]


def _identify_focus(frame: AnswerFrame, event: CareEvent, sessions: dict[int, Identity]) -> Identity:
    return sessions[event.session] if _is_in_session(event) else identify_series(frame, series_key(event))
