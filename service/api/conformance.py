"""Conformance resources of the deployment, read by id and found by url."""

from __future__ import annotations

from hashlib import sha256

from service.api.answers import FORM_PARAMETERS
from service.api.transport_faults import TransportFault
from service.fhir.json_text import dump
from service.wiring import Parts, write_conformance_resources

RESOURCE_TYPES = ("CodeSystem", "ValueSet", "StructureDefinition", "OperationDefinition", "PlanDefinition")


def entity_tag(resource: dict) -> str:
    """Tag of a resource by its content: weak, for indented or not it says the same."""
    return f'W/"{sha256(dump(resource)).hexdigest()[:32]}"'


def is_current(tag: str, if_none_match: str | None) -> bool:
    """Whether the caller holds the resource already: ``If-None-Match`` lists its tag, or any."""
    held = {one.strip().removeprefix("W/") for one in (if_none_match or "").split(",")}
    return "*" in held or tag.removeprefix("W/") in held


class Conformance:
    """All of them, made once at the start."""

    def __init__(self, parts: Parts) -> None:
        resources = write_conformance_resources(parts.settings)
        self._by_id = {(r["resourceType"], r["id"]): r for r in resources}

    def read(self, resource_type: str, resource_id: str) -> dict:
        """One resource. Raises ``TransportFault`` (404)."""
        try:
            return self._by_id[resource_type, resource_id]
        except KeyError:
            raise TransportFault("resource-not-found") from None

    def search(self, resource_type: str, criteria: dict[str, str]) -> dict:
        """A searchset of one type, narrowed by ``url``. Raises ``TransportFault`` (400) for other criteria."""
        if set(criteria) - FORM_PARAMETERS - {"url"}:
            raise TransportFault("search-not-supported")
        url = criteria.get("url")
        found = [r for (kind, _), r in self._by_id.items() if kind == resource_type and url in (None, r["url"])]
        entries = [{"fullUrl": r["url"], "resource": r, "search": {"mode": "match"}} for r in found]
        bundle = {"resourceType": "Bundle", "type": "searchset", "total": len(entries)}
        return {**bundle, "entry": entries} if entries else bundle
