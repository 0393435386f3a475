"""Entries and the Bundle around them."""

from __future__ import annotations

from collections.abc import Iterable

from service.fhir.identity import Identity

#: What a caller may post: the rest of an answer explains it and stays in the collection form.
POSTED_TYPES = frozenset({"CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue"})


def write_collection(resources: Iterable[tuple[Identity, dict]], timestamp: str) -> dict:
    """A ``collection`` Bundle; its resources are not stored, so they have no ids."""
    entries = [{"fullUrl": identity.full_url, "resource": resource} for identity, resource in resources]
    return {"resourceType": "Bundle", "type": "collection", "timestamp": timestamp, "entry": entries}


def write_transaction(resources: Iterable[tuple[Identity, dict]], timestamp: str) -> dict:
    """A ``transaction`` Bundle that a server may run as it stands, twice without doubling anything."""
    entries = [
        {
            "fullUrl": identity.full_url,
            "resource": resource,
            "request": {
                "method": "POST",
                "url": resource["resourceType"],
                "ifNoneExist": identity.if_none_exist,
            },
        }
        for identity, resource in resources
        if resource["resourceType"] in POSTED_TYPES
    ]
    return {"resourceType": "Bundle", "type": "transaction", "timestamp": timestamp, "entry": entries}
