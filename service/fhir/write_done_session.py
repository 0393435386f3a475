"""A session as it was done, as Procedures and Observations that the next plan reads."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import NAMESPACE_URL, uuid5

from service.domain.body_region import Place
from service.domain.done_session import DoneAct, DoneSession
from service.domain.graft import GraftKind
from service.fhir.write_frame import codings_of_concept, write_concept
from service.fhir.write_quantity import write_quantity
from service.wording.places import place_in_words, surface_in_words

#: The system of identifiers that are themselves addresses (RFC 3986), as FHIR names it.
URI = "urn:ietf:rfc:3986"


def write_done_session(done: DoneSession, subject: dict, canonical_base: str) -> dict:
    """A ``transaction`` Bundle for the record, which may as well be sent along with the next plan request.

    Parameters
    ----------
    done : DoneSession
        What was noted; areas in cm², thickness in mm.
    subject : dict
        Reference to the patient as the record has it.
    canonical_base : str
        Start of the local code system.

    Notes
    -----
    The resources are the caller's statements, so they carry no identifier of the service: what the service itself
    has written is never read as history. Each is named by its own address, made of the notes: two grafts of one
    place on one day stay two, and the same notes sent twice stay one.
    """
    entries = [entry for act in done.acts for entry in _write_act(done, act, subject, canonical_base)]
    return {"resourceType": "Bundle", "type": "transaction", "entry": entries}


def _write_act(done: DoneSession, act: DoneAct, subject: dict, base: str) -> Iterator[dict]:
    address = _address(done, act, subject)
    procedure = {
        "resourceType": "Procedure",
        "status": "completed",
        "code": write_concept(base, f"profile/{act.kind}", act.kind.replace("-", " ").capitalize()),
        "subject": subject,
        "performedDateTime": done.day.isoformat(),
        "bodySite": [write_site(act.place, base)],
    }
    yield _entry(address, procedure)
    for code, value in _numbers(act, base):
        observation = {
            "resourceType": "Observation",
            "partOf": [{"reference": address}],
            "status": "final",
            "code": write_concept(base, f"profile/{code}", code.replace("-", " ").capitalize()),
            "subject": subject,
            "effectiveDateTime": done.day.isoformat(),
            **value,
        }
        yield _entry(f"urn:uuid:{uuid5(NAMESPACE_URL, f'{address}/{code}')}", observation)


def _numbers(act: DoneAct, base: str) -> Iterator[tuple[str, dict]]:
    yield "treated-area", {"valueQuantity": write_quantity(act.area_cm2, "cm2")}
    if act.thickness_mm is not None:
        yield "graft-thickness", {"valueQuantity": write_quantity(act.thickness_mm, "mm")}
    if act.method is not None:
        kind = act.method.kind
        yield "graft-method", {"valueCodeableConcept": write_concept(base, f"graft-method/{kind}", kind.capitalize())}
        if kind is not GraftKind.SHEET:
            ratio = f"1-{act.method.claimed_expansion_ratio}"
            words = ratio.replace("-", ":")
            yield "claimed-expansion-ratio", {
                "valueCodeableConcept": write_concept(base, f"claimed-ratio/{ratio}", words)}


def write_site(place: Place, canonical_base: str) -> dict:
    """A body site with region and side, and with the surface where the region has two."""
    names = [f"region/{place.region}", *([f"side/{place.side}"] if place.side else [])]
    words = place_in_words(place.region_key)
    if len(place.facts.surfaces) > 1:
        names.append(f"surface/{place.surface}")
        words = surface_in_words(place)
    return {
        "coding": [coding for name in names for coding in codings_of_concept(canonical_base, name)], "text": words}


def _address(done: DoneSession, act: DoneAct, subject: dict) -> str:
    """A name made of everything that was noted, so that two acts share one only if they are the same."""
    noted = (done.day, act.kind, act.place.key, act.area_cm2, act.method, act.thickness_mm, sorted(subject.items()))
    return f"urn:uuid:{uuid5(NAMESPACE_URL, repr([str(part) for part in noted]))}"


def _entry(address: str, resource: dict) -> dict:
    """Posted only if it is not there yet: sending the same notes twice must not double what was done."""
    resource = {"resourceType": resource["resourceType"], "identifier": [{"system": URI, "value": address}], **resource}
    request = {
        "method": "POST", "url": resource["resourceType"], "ifNoneExist": f"identifier={URI}|{address}"}
    return {"fullUrl": address, "resource": resource, "request": request}
