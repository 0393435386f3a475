"""ServiceRequest: one for each theatre session, one for each series of dressing events."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from service.domain.burn_wound import ZERO
from service.domain.dressing import CareEvent
from service.domain.session import Session
from service.fhir.identity import Identity
from service.fhir.write_acts import write_acts, write_number, write_session_note
from service.fhir.write_frame import AnswerFrame
from service.fhir.write_quantity import write_quantity
from service.wording.events import event_title
from service.wording.theatre_list import word_shortage, word_step, word_team, word_timer

SESSION = "theatre-session"
CONTINGENT_SESSION = "contingent-session"


def identify_session(frame: AnswerFrame, session: Session) -> Identity:
    """Name of a session by the first thing done in it: its number and its day may shift.

    A graft counts before an excision, an excision before a harvest. The ordinal counts the
    grafts that the wound has already had, so it goes on when the plan is made again.
    """
    kind = CONTINGENT_SESSION if session.is_contingent else SESSION
    act, subject_key, ordinal = _first_act(frame, session)
    return frame.identify(subject_key, f"{kind}-{act}", ordinal)


def _first_act(frame: AnswerFrame, session: Session) -> tuple[str, str, int]:
    plan = frame.answer.plan.settled
    placed = [(p.day, p.wound_id) for p in plan.placements if p.is_regraft == session.is_contingent]
    kinds = (
        ("graft", placed),
        ("excision", [(e.day, e.wound_id) for e in plan.excisions]),
        ("harvest", [(h.day, h.site_id) for h in plan.harvests]),
        ("cover", [(c.day, c.wound_id) for c in plan.covers]),
    )
    for act, dated in kinds:
        subjects = sorted(subject for day, subject in dated if day == session.day)
        if subjects:
            earlier = [day for day, subject in dated if subject == subjects[0] and day < session.day]
            return act, subjects[0], 1 + len(earlier) + _already_done(frame, act, subjects[0])
    raise ValueError("a session without an act")


def _already_done(frame: AnswerFrame, act: str, subject_key: str) -> int:
    if act != "graft":
        return 0
    return sum(len(w.placed) for w in frame.case.wounds if w.wound_id == subject_key)


def write_session_request(frame: AnswerFrame, session: Session) -> dict:
    """The proposal to hold one session: its date, its skin, its acts in words."""
    kind = CONTINGENT_SESSION if session.is_contingent else SESSION
    acts = write_acts(frame.case, frame.answer.plan.settled, session)
    request = {
        "resourceType": "ServiceRequest",
        "identifier": [identify_session(frame, session).identifier],
        "status": "draft",
        "intent": "proposal",
        "priority": "routine",
        "code": frame.concept(f"request/{kind}", kind.replace("-", " ").capitalize()),
        "orderDetail": [{"text": text} for text in acts],
        "subject": frame.patient,
        "occurrenceDateTime": frame.date(session.day),
        "authoredOn": frame.as_of,
        "requester": frame.device,
        "note": [{"text": text} for text in (
            write_session_note(frame.answer.plan, session), *_write_theatre_list(frame, session))],
    }
    skin = _harvested_cm2(frame, session)
    if skin:
        request["quantityQuantity"] = write_quantity(skin, "cm2")
    if session.is_contingent:
        request["asNeededCodeableConcept"] = frame.concept("request/graft-loss", "Only if grafts are lost")
    return request


def _write_theatre_list(frame: AnswerFrame, session: Session) -> Iterator[str]:
    """Each number with its interval, unit and evidence; the carriers; the order of work."""
    for theatre_list in frame.answer.theatre_lists:
        if theatre_list.session == session.ordinal:
            yield from (write_number(quantity) for quantity in theatre_list.quantities)
            if theatre_list.carriers:
                counts = ", ".join(f"{count} at {ratio}" for ratio, count in theatre_list.carriers)
                yield f"Carriers: {counts}, and {theatre_list.spare_carriers} spare."
            yield from (word_shortage(short) for short in theatre_list.carriers_short)
            if theatre_list.roles:
                yield from word_team([theatre_list])
            yield from (word_timer(timer) for timer in theatre_list.timers)
            if theatre_list.steps:
                yield f"Order of work: {'; '.join(word_step(step) for step in theatre_list.steps)}."


def _harvested_cm2(frame: AnswerFrame, session: Session) -> Decimal:
    harvests = frame.answer.plan.settled.harvests
    return sum((h.area_cm2 for h in harvests if h.day == session.day), ZERO)


def series_key(event: CareEvent) -> str:
    """The series an event belongs to; an event outside session and series is its own series."""
    return event.series or f"{event.subject_key}-{event.kind}"


def identify_series(frame: AnswerFrame, key: str) -> Identity:
    return frame.identify(key, "series")


def write_series_request(frame: AnswerFrame, key: str, events: Iterable[CareEvent]) -> dict:
    """The proposal of one series of ward events with all its dates, also those far ahead."""
    ordered = sorted(events, key=lambda event: (event.day, event.ordinal))
    first = ordered[0]
    return {
        "resourceType": "ServiceRequest",
        "identifier": [identify_series(frame, key).identifier],
        "status": "draft",
        "intent": "proposal",
        "priority": first.priority,
        "code": frame.concept(f"task/{first.kind}", event_title(first)),
        "subject": frame.patient,
        "occurrenceTiming": {"event": list(dict.fromkeys(frame.date(event.day) for event in ordered))},
        "authoredOn": frame.as_of,
        "requester": frame.device,
    }
