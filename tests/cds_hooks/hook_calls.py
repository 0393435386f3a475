"""CDS Hooks calls made from plan requests: the same record, as a client would prefetch it."""

from __future__ import annotations

from collections import defaultdict
from copy import deepcopy
from typing import Any

from service.fhir.codes import codings_of
from service.fhir.hook_services import GRAFT_PLAN, prefetch_queries
from service.fhir.read_hook import PARAMETERS_EXTENSION
from tests.builders import CANONICAL, SERVER, Resource

INSTANCE = "d1577c69-dfbe-44ad-ba6d-3e05e953b2ea"
USER = "Practitioner/surgeon-1"
PATH = f"/cds-services/{GRAFT_PLAN.id}"


def hook_call(request: Resource, *, instance: str = INSTANCE, hook: str = GRAFT_PLAN.hook) -> Resource:
    """A call about the patient of a plan request; its other parameters go along as extension."""
    entries = next(p["resource"] for p in request["parameter"] if p["name"] == "bundle")["entry"]
    patient = next(e["resource"] for e in entries if e["resource"]["resourceType"] == "Patient")
    return {
        "hook": hook,
        "hookInstance": instance,
        "fhirServer": SERVER,
        "context": {"userId": USER, "patientId": patient["id"]},
        "extension": {PARAMETERS_EXTENSION: [p for p in deepcopy(request["parameter"]) if p["name"] != "bundle"]},
        "prefetch": prefetch_of(entries),
    }


def prefetch_of(entries: list[Resource]) -> dict[str, Any]:
    """What the record's server would answer to each template: a resource, a searchset, or null."""
    found: dict[str, list[Resource]] = defaultdict(list)
    for entry in entries:
        found[_key_of(entry["resource"])].append(deepcopy(entry))
    return {
        query.key: _answer_of(query.codes, found[query.key]) for query in prefetch_queries(CANONICAL)
    }


def _key_of(resource: Resource) -> str:
    """The query that finds a resource; empty when none does."""
    tokens = {f"{c.get('system', '')}|{c.get('code', '')}" for _, c in codings_of(resource.get("code"))}
    return next((
        query.key for query in prefetch_queries(CANONICAL)
        if query.resource_type == resource["resourceType"] and (not query.codes or tokens & set(query.codes))), "")


def _answer_of(codes: tuple[str, ...], entries: list[Resource]) -> Resource | None:
    if not codes:
        return entries[0]["resource"] if entries else None
    return searchset(entries) if entries else None


def searchset(entries: list[Resource]) -> Resource:
    return {
        "resourceType": "Bundle", "type": "searchset", "total": len(entries),
        "entry": [{**entry, "search": {"mode": "match"}} for entry in entries],
    }
