"""A request changed before it is planned: another weight, extent, donor state or parameter; notes of a session added.

Nothing is stored: a copy of what was sent goes back changed. An Observation that counts is changed in its place, so
that no second statement about the same moment contradicts it.
"""

from __future__ import annotations

from copy import deepcopy
from datetime import datetime
from decimal import Decimal
from typing import Any

from service.domain.body_region import Place
from service.domain.done_session import DoneSession
from service.domain.donor_site import DonorState
from service.fhir.tables import input_profiles
from service.fhir.write_done_session import write_done_session, write_site
from service.fhir.write_frame import write_concept
from service.fhir.write_quantity import write_quantity

Resource = dict[str, Any]


class RequestEditor:
    """Changes a copy of one request.

    Parameters
    ----------
    request : dict
        A Bundle, or Parameters around one, as parsed.
    as_of : datetime
        Moment of what is stated anew.
    canonical_base : str
        Start of the local code system.

    Raises ``ValueError`` when there is no Bundle to change.
    """

    def __init__(self, request: Resource, as_of: datetime, canonical_base: str) -> None:
        self.request = _as_parameters(deepcopy(request))
        self._as_of = as_of.isoformat()
        self._base = canonical_base

    @property
    def _record(self) -> Resource:
        return next(p["resource"] for p in self.request["parameter"] if p.get("name") == "bundle")

    def set_parameter(self, name: str, *sent: Resource) -> None:
        """Replace every parameter of a name: values such as ``{"valueInteger": 4}``, or parts; none removes it."""
        others = [p for p in self.request["parameter"] if p.get("name") != name]
        self.request["parameter"] = [*others, *({"name": name, **value} for value in sent)]

    def set_quantity(self, key: str, value: Decimal, unit: str) -> None:
        """Another value for the Observation of a record key (``entry[3]``). [unit]"""
        self._resource(key)["valueQuantity"] = write_quantity(value, unit)

    def state_weight(self, value_kg: Decimal) -> None:
        """A weight for a record that has none. [kg]"""
        self._state("weight", {"valueQuantity": write_quantity(value_kg, "kg")})

    def state_donor(self, place: Place, state: DonorState, key: str | None) -> None:
        """The state of a donor site: in the Observation of the key, or in a new one."""
        value = write_concept(self._base, f"donor-state/{state}", state.capitalize())
        if key is not None:
            self._resource(key)["valueCodeableConcept"] = value
            return
        site = write_site(place, self._base)
        self._state("donor-site-state", {"bodySite": site, "valueCodeableConcept": value})

    def add_session(self, done: DoneSession) -> None:
        """What was done, sent along with the record."""
        self._record["entry"] += write_done_session(done, self.subject, self._base)["entry"]

    @property
    def subject(self) -> Resource:
        """Reference to the patient of the record. Raises ``ValueError`` without one."""
        for entry in self._record.get("entry", []):
            if entry.get("resource", {}).get("resourceType") == "Patient":
                resource = entry["resource"]
                return {"reference": entry.get("fullUrl") or f"Patient/{resource.get('id', '')}"}
        raise ValueError("no Patient")

    def _resource(self, key: str) -> Resource:
        return self._record["entry"][int(key.removeprefix("entry[").removesuffix("]"))]["resource"]

    def _state(self, profile: str, content: Resource) -> None:
        """A final Observation as of the moment of the request."""
        title = input_profiles()[profile].title
        observation = {
            "resourceType": "Observation", "status": "final",
            "code": write_concept(self._base, f"profile/{profile}", title),
            "subject": self.subject, "effectiveDateTime": self._as_of, **content,
        }
        self._record["entry"].append({"resource": observation})


def _as_parameters(request: Resource) -> Resource:
    if request.get("resourceType") == "Bundle":
        return {"resourceType": "Parameters", "parameter": [{"name": "bundle", "resource": request}]}
    if not any("resource" in p for p in request.get("parameter", []) if p.get("name") == "bundle"):
        raise ValueError("no Bundle")
    return request
