"""Entries and the Bundle around them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from service.fhir.earlier_plan import EarlierPlan, is_updatable
from service.fhir.identity import Identity
from service.fhir.read_result import EarlierAnswer

#: What a caller may post: the rest of an answer explains it and stays in the collection form.
POSTED_TYPES = frozenset({"CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue"})


def write_collection(resources: Iterable[tuple[Identity, dict]], timestamp: str) -> dict:
    """A ``collection`` Bundle; its resources are not stored, so they have no ids."""
    entries = [{"fullUrl": identity.full_url, "resource": resource} for identity, resource in resources]
    return {"resourceType": "Bundle", "type": "collection", "timestamp": timestamp, "entry": entries}


def write_transaction(
    resources: Iterable[tuple[Identity, dict]], timestamp: str, before: EarlierPlan,
) -> dict:
    """A ``transaction`` Bundle that a server may run as it stands, twice without doubling anything.

    What the server holds already is updated in the version that was sent, or left alone;
    everything else is posted on condition that it is not there yet.

    Parameters
    ----------
    resources : iterable of (Identity, dict)
        The plan.
    timestamp : str
        The as-of instant.
    before : EarlierPlan
        What the caller sent back of the plan before.
    """
    posted = [one for one in resources if one[1]["resourceType"] in POSTED_TYPES]
    held = {identity.full_url: earlier for identity, resource in posted if (earlier := before.find(resource))}
    entries = [
        entry for identity, resource in posted
        if (entry := _write_entry(identity, resource, held.get(identity.full_url)))
    ]
    entries += [_write_put(earlier, resource) for earlier, resource in before.withdrawn([r for _, r in posted])]
    addresses = {full_url: f"{earlier.resource_type}/{earlier.id}" for full_url, earlier in held.items()}
    return {
        "resourceType": "Bundle", "type": "transaction", "timestamp": timestamp,
        "entry": _point_to(addresses, entries) if addresses else entries,
    }


def _write_entry(identity: Identity, resource: dict, earlier: EarlierAnswer | None) -> dict | None:
    """How one resource reaches the server; ``None`` when what is there is to be left alone."""
    if earlier is None:
        request = {"method": "POST", "url": resource["resourceType"], "ifNoneExist": identity.if_none_exist}
        return {"fullUrl": identity.full_url, "resource": resource, "request": request}
    return _write_put(earlier, resource) if is_updatable(earlier) else None


def _write_put(earlier: EarlierAnswer, resource: dict) -> dict:
    """An update that fails when somebody has changed the resource since it was sent."""
    url = f"{earlier.resource_type}/{earlier.id}"
    request = {"method": "PUT", "url": url, "ifMatch": f'W/"{earlier.version_id}"'}
    address = {"fullUrl": earlier.full_url} if earlier.full_url else {}
    return address | {"resource": resource | {"id": earlier.id}, "request": request}


def _point_to(addresses: dict[str, str], value: Any) -> Any:
    """The same with references to what the server holds already by its address there."""
    if isinstance(value, dict):
        return {
            name: addresses.get(part, part) if name == "reference" and isinstance(part, str)
            else _point_to(addresses, part)
            for name, part in value.items()
        }
    return [_point_to(addresses, part) for part in value] if isinstance(value, list) else value
