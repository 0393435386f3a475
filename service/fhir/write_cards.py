"""Cards of CDS Hooks 2.0: one that decides, with its reasons and what to do about it.

https://cds-hooks.hl7.org/2.0/#cds-service-response
"""

from __future__ import annotations

from dataclasses import dataclass
from uuid import NAMESPACE_URL, uuid5

from service.domain.situation import DueItem
from service.fhir.codes import load_code_map
from service.fhir.identity import DEVICE_NAME
from service.fhir.write_frame import AnswerFrame
from service.fhir.write_service_request import (
    identify_series,
    identify_session,
    series_key,
    write_series_request,
    write_session_request,
)
from service.fhir.write_task import write_task
from service.wording.events import event_title

INFO, WARNING, CRITICAL = "info", "warning", "critical"
_SOURCE = f"{DEVICE_NAME}: draft for review"
_REQUEST_ID = "request"


@dataclass(frozen=True)
class CardWords:
    """What a card says. ``indicator``: ``info``, ``warning`` or ``critical``."""

    summary: str
    detail: str
    indicator: str


def name_card(service_id: str, hook_instance: str, patient_key: str) -> str:
    """The uuid of the card of one call: the same call sent again gets the same card."""
    return str(uuid5(NAMESPACE_URL, f"{service_id}|{hook_instance}|{patient_key}"))


def write_card(
    card_id: str, words: CardWords, canonical_base: str, *, suggestion: dict | None = None, link: str | None = None,
) -> dict:
    """One card.

    Parameters
    ----------
    card_id : str
        UUID by which feedback names it.
    words : CardWords
    canonical_base : str
        Base of the local codes.
    suggestion : dict, optional
        What the reader may accept.
    link : str, optional
        Absolute address of the plan behind it.
    """
    card = {
        "uuid": card_id,
        "summary": words.summary,
        "indicator": words.indicator,
        "detail": words.detail,
        "source": {"label": _SOURCE},
        "overrideReasons": write_override_reasons(canonical_base),
    }
    if suggestion:
        card |= {"suggestions": [suggestion], "selectionBehavior": "at-most-one"}
    if link:
        card["links"] = [{"label": "Open the plan", "url": link, "type": "absolute"}]
    return card


def write_override_reasons(canonical_base: str) -> list[dict[str, str]]:
    code_map = load_code_map(canonical_base)
    return [code_map.coding(row.concept) for row in code_map.rows_of_kind("override-reason") if row.is_local]


def write_suggestion(frame: AnswerFrame, item: DueItem, card_id: str, patient_id: str) -> dict:
    """One suggestion that creates the Task of what is due; the Task holds what it points to.

    Parameters
    ----------
    frame : AnswerFrame
        Of an answer that is to be posted, so that references are relative to the caller's server.
    item : DueItem
        With an event.
    card_id, patient_id : str
        Of the card, and of the patient in the caller's record.
    """
    request, focus = _write_request(frame, item)
    subject = {"reference": f"Patient/{patient_id}"}
    task = write_task(frame, item.event, focus) | {
        "contained": [{**request, "id": _REQUEST_ID, "subject": subject}],
        "focus": {"reference": f"#{_REQUEST_ID}"},
        "for": subject,
    }
    title = event_title(item.event)
    return {
        "label": f"Create the task: {title}",
        "uuid": str(uuid5(NAMESPACE_URL, f"{card_id}|{title}")),
        "actions": [{"type": "create", "description": f"Creates a draft task: {title}", "resource": task}],
    }


def _write_request(frame: AnswerFrame, item: DueItem) -> tuple[dict, object]:
    """The ServiceRequest that the Task would fulfil, and its name."""
    event, plan = item.event, frame.answer.plan.settled
    if event.session is not None and not event.series:
        session = next(s for s in plan.sessions if s.ordinal == event.session)
        return write_session_request(frame, session), identify_session(frame, session)
    key = series_key(event)
    events = [e for e in frame.answer.events if series_key(e) == key]
    return write_series_request(frame, key, events), identify_series(frame, key)
