"""Task: one dated event of the plan, to be reviewed and accepted by a person."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from service.domain.body_region import Place
from service.domain.dressing import ActPart, CareEvent, EventKind, Quantity
from service.domain.plan import GraftPlan
from service.domain.session import Session
from service.fhir.identity import Identity
from service.fhir.write_evidence import cite_evidence
from service.fhir.write_frame import AnswerFrame, refer_to_answer
from service.fhir.write_quantity import write_quantity, write_range
from service.wording.events import event_description, event_title
from service.wording.findings import word_code
from service.wording.methods import method_in_words
from service.wording.places import place_in_words
from service.wording.reasons import word_held_back, word_method_changes, word_skin_prices

THEATRE_TEAM = ("performer/burn-theatre-team", "Burn theatre team")
WARD_TEAM = ("performer/burn-ward-team", "Burn ward team")
SURGEON = ("performer/burn-surgeon", "Burn surgeon")

_PERFORMERS = {
    EventKind.EXCISE_WOUND: THEATRE_TEAM,
    EventKind.HARVEST_SKIN: THEATRE_TEAM,
    EventKind.PLACE_GRAFT: THEATRE_TEAM,
    EventKind.PLACE_COVER: THEATRE_TEAM,
    EventKind.ORDER_COVER: THEATRE_TEAM,
    EventKind.INSPECT_GRAFT: SURGEON,
    EventKind.INSPECT_BED: SURGEON,
    EventKind.CHECK_DONOR_HEALING: SURGEON,
    EventKind.CONFIRM_PRECONDITION: SURGEON,
    EventKind.REVIEW_PLAN: SURGEON,
}
#: What is said of an act in theatre beside what held its session back.
_EXPLAINED_BY: dict[EventKind, tuple[Callable[[GraftPlan, Session], list[str]], ...]] = {
    EventKind.EXCISE_WOUND: (),
    EventKind.HARVEST_SKIN: (word_skin_prices,),
    EventKind.PLACE_GRAFT: (word_method_changes,),
}


def identify_event(frame: AnswerFrame, event: CareEvent) -> Identity:
    return frame.identify(event.subject_key, event.kind, event.ordinal)


def write_task(frame: AnswerFrame, event: CareEvent, focus: Identity) -> dict:
    """A draft Task for one event.

    Parameters
    ----------
    frame : AnswerFrame
    event : CareEvent
    focus : Identity
        The ServiceRequest that the Task would fulfil: its session or its series.
    """
    task = {
        "resourceType": "Task",
        "identifier": [identify_event(frame, event).identifier],
        "status": "draft",
        "intent": "proposal",
        "priority": event.priority,
        "code": frame.concept(f"task/{event.kind}", event_title(event)),
        "description": event_description(event),
        "focus": refer_to_answer(focus),
        "for": frame.patient,
        "authoredOn": frame.as_of,
        "requester": frame.device,
        "performerType": [frame.concept(*_PERFORMERS.get(event.kind, WARD_TEAM))],
        "restriction": {
            "period": {"start": frame.date(event.earliest_day), "end": frame.date(event.latest_day)},
        },
    }
    optional = {"note": _write_notes(frame, event), "input": _write_inputs(frame, event)}
    return task | {name: value for name, value in optional.items() if value}


def _write_notes(frame: AnswerFrame, event: CareEvent) -> list[dict]:
    """Why the session is as it is, as far as it is about this act; nothing on the ward."""
    plan = frame.answer.plan
    session = next((s for s in plan.settled.firm_sessions if s.ordinal == event.session), None)
    if session is None or event.kind not in _EXPLAINED_BY:
        return []
    told = (s for word in _EXPLAINED_BY[event.kind] for s in word(plan, session))
    return [{"text": sentence} for sentence in (*word_held_back(session), *told)]


def _write_inputs(frame: AnswerFrame, event: CareEvent) -> list[dict]:
    """Every total, the same place by place, the evidence behind numbers and window, then what to settle before."""
    inputs = [entry for quantity in event.quantities for entry in _write_quantity_inputs(frame, quantity)]
    inputs += [entry for part in event.parts for entry in _write_part_inputs(frame, part)]
    inputs += [
        {"type": frame.concept("input/evidence", "Evidence"), "valueString": cite_evidence(source)}
        for source in dict.fromkeys((*(s for quantity in event.quantities for s in quantity.sources), *event.sources))
    ]
    inputs += [
        {
            "type": frame.concept("input/precondition", "Confirm before"),
            "valueCodeableConcept": frame.concept(f"finding/{code}", word_code(code)),
        }
        for code in event.preconditions
    ]
    return inputs


def _write_part_inputs(frame: AnswerFrame, part: ActPart) -> Iterator[dict]:
    """The place, then all that is done there up to the next place.

    The numbers have codes of their own, so that whoever adds up the totals by code does not
    count a place twice.
    """
    words = place_in_words(part.place.key)

    def kind(code: str) -> dict:
        return frame.concept(f"input/{code}", f"{code.replace('-', ' ')}: {words}")

    yield {"type": kind("at-place"), "valueCodeableConcept": _write_place(frame, part.place)}
    if part.method is not None:
        method = frame.concept(f"graft-method-with-ratio/{part.method}", method_in_words(part.method))
        yield {"type": kind("graft-method"), "valueCodeableConcept": method}
    if part.thickness is not None:
        thickness = frame.concept(f"thickness/{part.thickness}", part.thickness)
        yield {"type": kind("skin-thickness"), "valueCodeableConcept": thickness}
    if part.harvest_number is not None:
        yield {"type": kind("harvest-number"), "valueInteger": part.harvest_number}
    for quantity in part.quantities:
        yield from _write_quantity_inputs(frame, quantity, words)


def _write_place(frame: AnswerFrame, place: Place) -> dict:
    """Region, side and surface, each by its code."""
    site = frame.body_site(place)
    surface = frame.concept(f"surface/{place.surface}", place.surface)
    return {"coding": [*site["coding"], *surface["coding"]], "text": place_in_words(place.key)}


def _write_quantity_inputs(frame: AnswerFrame, quantity: Quantity, place: str = "") -> list[dict]:
    """Value and range of a total or, with a place in words, of what belongs to that place."""
    name = quantity.name.replace("-", " ")
    kind = (
        frame.concept(f"quantity/{quantity.name}-at-place", f"{name}: {place}")
        if place
        else frame.concept(f"quantity/{quantity.name}", name)
    )
    inputs = [{"type": kind, "valueQuantity": write_quantity(quantity.value, quantity.unit)}]
    if quantity.low is not None and quantity.high is not None:
        inputs.append({"type": kind, "valueRange": write_range(quantity.low, quantity.high, quantity.unit)})
    return inputs
