"""What readers report about cards: accepted, or overridden and why. Their words are not kept.

https://cds-hooks.hl7.org/2.0/#feedback
"""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from service.domain.card import Feedback
from service.domain.errors import InvalidCase
from service.fhir.codes import CodeMap
from service.fhir.faults import make_fault
from service.fhir.json_text import read_json

OUTCOMES = ("accepted", "overridden")
#: A reason that is not of this service: its code may say anything and is not kept.
OTHER = "other"
_MOST_REPORTS = 100


def read_feedback(body: bytes, code_map: CodeMap) -> tuple[Feedback, ...]:
    """Each report of a feedback call; a comment in free text may speak of a patient and is left out.

    Raises ``InvalidCase`` (400) when any report is not what CDS Hooks 2.0 defines.
    """
    sent = read_json(body).get("feedback")
    if not isinstance(sent, list) or not sent or len(sent) > _MOST_REPORTS:
        raise _wrong("feedback", f"a list of 1 to {_MOST_REPORTS} reports")
    return tuple(_read_report(report, f"feedback[{index}]", code_map) for index, report in enumerate(sent))


def _wrong(element: str, kind: str) -> InvalidCase:
    return InvalidCase((make_fault("hook-element", element, kind=kind),))


def _read_report(report: Any, element: str, code_map: CodeMap) -> Feedback:
    if not isinstance(report, dict):
        raise _wrong(element, "an object")
    if report.get("outcome") not in OUTCOMES:
        raise _wrong(f"{element}.outcome", " or ".join(OUTCOMES))
    if report["outcome"] == "accepted" and not _accepted(report.get("acceptedSuggestions")):
        raise _wrong(f"{element}.acceptedSuggestions", "a list of suggestions with their id")
    return Feedback(
        _read_uuid(report.get("card"), f"{element}.card"), report["outcome"],
        _read_reason(report.get("overrideReason"), f"{element}.overrideReason", code_map),
        _read_moment(report.get("outcomeTimestamp"), f"{element}.outcomeTimestamp"))


def _accepted(suggestions: Any) -> bool:
    return isinstance(suggestions, list) and bool(suggestions) and all(
        isinstance(one, dict) and isinstance(one.get("id"), str) for one in suggestions)


def _read_uuid(text: Any, element: str) -> str:
    try:
        return str(UUID(text))
    except (ValueError, TypeError, AttributeError):
        raise _wrong(element, "a UUID") from None


def _read_moment(text: Any, element: str) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except (ValueError, TypeError):
        moment = None
    if moment is None or moment.tzinfo is None:
        raise _wrong(element, "an instant with its offset")
    return moment


def _read_reason(sent: Any, element: str, code_map: CodeMap) -> str | None:
    """Name of the reason among those that cards offer, ``OTHER`` for one of the caller's own."""
    if sent is None:
        return None
    reason = sent.get("reason") if isinstance(sent, dict) else None
    if not isinstance(reason, dict) or not isinstance(reason.get("code"), str):
        raise _wrong(element, "an object with a reason that has a code")
    names = [row.name for row in code_map.rows_of(reason) if row.kind == "override-reason"]
    return names[0] if names else OTHER
