"""Conformance resources of the deployment, read by id and found by url."""

from __future__ import annotations

from service.api.answers import FORM_PARAMETERS
from service.api.transport_faults import TransportFault
from service.wiring import Parts, write_conformance_resources

RESOURCE_TYPES = ("CodeSystem", "ValueSet", "StructureDefinition", "OperationDefinition")


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
