"""DetectedIssue: one for each finding on the patient or the plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from service.domain.finding import Finding
from service.fhir.identity import Identity
from service.fhir.write_evidence import cite_evidence
from service.fhir.write_frame import WHOLE_PATIENT, AnswerFrame
from service.wording.findings import word_finding


def write_detected_issues(frame: AnswerFrame) -> Iterator[tuple[Identity, dict]]:
    """Every finding, in the order of the answer: most severe first.

    Findings of one code on one place are told apart by counting them.
    """
    seen: Counter[tuple[str, str]] = Counter()
    for finding in frame.answer.findings:
        subject_key = finding.place or WHOLE_PATIENT
        seen[subject_key, finding.code] += 1
        identity = frame.identify(subject_key, finding.code, seen[subject_key, finding.code])
        yield identity, write_detected_issue(frame, finding, identity)


def write_detected_issue(frame: AnswerFrame, finding: Finding, identity: Identity) -> dict:
    """One finding in words, with what it is about, its evidence and what to do."""
    words = word_finding(finding)
    issue = {
        "resourceType": "DetectedIssue",
        "identifier": [identity.identifier],
        "status": "preliminary",
        "code": frame.concept(f"finding/{finding.code}", words.title),
        "severity": str(words.severity),
        "patient": frame.patient,
        "identifiedDateTime": frame.as_of,
        "author": frame.device,
        "detail": words.detail,
    }
    implicated = frame.refer_all(finding.sources)
    if implicated:
        issue["implicated"] = implicated
    if words.evidence_ids:
        issue["evidence"] = [{"code": [{"text": cite_evidence(evidence_id)}]} for evidence_id in words.evidence_ids]
    if words.mitigation:
        issue["mitigation"] = [{"action": {"text": words.mitigation}}]
    return issue
