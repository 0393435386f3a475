"""How each datum of the absence table is taken out of a request; ``False``: it was not in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from tests.builders import LOINC_CODES

Request = dict
Remove = Callable[[Request], bool]
CODES = {name: code for name, (code, _) in LOINC_CODES.items()}


def entries_of(request: Request) -> list[dict]:
    return next(p["resource"]["entry"] for p in request["parameter"] if p["name"] == "bundle")


def codes_of(resource: dict) -> set[str]:
    return {coding["code"] for coding in resource.get("code", {}).get("coding", ())}


def resources_of(request: Request, *codes: str) -> Iterator[dict]:
    """Resources whose code is one of these profiles."""
    wanted = {CODES.get(code, code) for code in codes}
    yield from (e["resource"] for e in entries_of(request) if codes_of(e["resource"]) & wanted)


def resource(*codes: str) -> Remove:
    """Every resource of these profiles."""
    def remove(request: Request) -> bool:
        gone = [id(one) for one in resources_of(request, *codes)]
        entries = entries_of(request)
        entries[:] = [entry for entry in entries if id(entry["resource"]) not in gone]
        return bool(gone)
    return remove


def unexcluded_donor_states(request: Request) -> bool:
    """States of healing. A site that is excluded stays so: nobody could miss a decision that was never sent."""
    def is_excluded(one: dict) -> bool:
        return "excluded" in codes_of({"code": one.get("valueCodeableConcept", {})})

    gone = [id(one) for one in resources_of(request, "donor-site-state") if not is_excluded(one)]
    entries = entries_of(request)
    entries[:] = [entry for entry in entries if id(entry["resource"]) not in gone]
    return bool(gone)


def element(name: str, *codes: str) -> Remove:
    """An element of the first resource of these profiles that has it."""
    def remove(request: Request) -> bool:
        holder = next((one for one in resources_of(request, *codes) if name in one), {})
        return holder.pop(name, None) is not None
    return remove


def component(code: str, *codes: str) -> Remove:
    """A component of the first resource of these profiles that has it."""
    def remove(request: Request) -> bool:
        for one in resources_of(request, *codes):
            kept = [part for part in one.get("component", ()) if code not in codes_of(part)]
            if len(kept) < len(one.get("component", ())):
                one["component"] = kept
                if not kept:
                    del one["component"]
                return True
        return False
    return remove


def of_patient(name: str) -> Remove:
    def remove(request: Request) -> bool:
        patient = next(e["resource"] for e in entries_of(request) if e["resource"]["resourceType"] == "Patient")
        return patient.pop(name, None) is not None
    return remove


def patient(request: Request) -> bool:
    entries = entries_of(request)
    entries[:] = [entry for entry in entries if entry["resource"]["resourceType"] != "Patient"]
    return True


def parameter(name: str) -> Remove:
    def remove(request: Request) -> bool:
        kept = [one for one in request["parameter"] if one["name"] != name]
        was_there = len(kept) < len(request["parameter"])
        request["parameter"] = kept
        return was_there
    return remove


EXTENTS = ("burn-extent", "burn-extent-of-region")
PROCEDURES = ("wound-excision", "skin-harvest", "graft-placement")
REMOVALS: dict[str, Remove] = {
    "patient": patient,
    "birth-date": of_patient("birthDate"),
    "injury-day": element("onsetDateTime", "burn"),
    "weight": resource("weight"),
    "body-size": resource("height", "body-surface"),
    "haemoglobin": resource("haemoglobin"),
    "wound": resource(*EXTENTS, "open-wound"),
    "extent": element("valueQuantity", *EXTENTS),
    "area": element("valueQuantity", "open-wound"),
    "burn-depth": component("burn-depth", *EXTENTS),
    "surface": component("surface", *EXTENTS),
    "effective": element("effectiveDateTime", *EXTENTS),
    "value": element("valueCodeableConcept", "treatment-intent"),
    "treated-area": element("valueQuantity", "treated-area"),
    "graft-method": element("valueCodeableConcept", "graft-method"),
    "claimed-expansion-ratio": resource("claimed-expansion-ratio"),
    "performed": element("performedDateTime", *PROCEDURES),
    "body-site": element("bodySite", *EXTENTS),
    "sex": of_patient("gender"),
    "bed-state": resource("wound-bed-state"),
    "allergy": resource("sulfonamide-allergy", "no-known-allergy"),
    "fitness": resource("fit-for-theatre-from"),
    "donor-state": unexcluded_donor_states,
    "cover-stock": parameter("cover-stock"),
    "transfusion-units": parameter("transfusion-units"),
}
