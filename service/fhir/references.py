"""References between the entries of one Bundle. Nothing outside the Bundle is ever fetched."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

from service.fhir.read_log import ReadLog


@dataclass(frozen=True)
class Entry:
    """One entry: its record key, the FHIRPath of its resource, its address, the resource."""

    key: str
    expression: str
    full_url: str | None
    resource: dict[str, Any]

    @property
    def type(self) -> str:
        return self.resource["resourceType"]


def restful_root(full_url: str | None) -> str | None:
    """Server address that relative references of an entry start from."""
    if full_url and full_url.startswith(("http://", "https://")) and full_url.count("/") > 3:
        return full_url.rsplit("/", 2)[0]
    return None


def identifiers_of(resource: dict[str, Any]) -> list[dict[str, Any]]:
    """Identifiers of a resource; a lone object where a list is due counts as one."""
    sent = resource.get("identifier", [])
    return [one for one in (sent if isinstance(sent, list) else [sent]) if isinstance(one, dict)]


class ReferenceIndex:
    """Entries by address, by type and id, and by identifier: each looked at once."""

    def __init__(self, entries: tuple[Entry, ...]) -> None:
        self._by_url: dict[str, list[Entry]] = defaultdict(list)
        self._by_type_and_id: dict[str, list[Entry]] = defaultdict(list)
        self._by_identifier: dict[tuple[str, str], list[Entry]] = defaultdict(list)
        for entry in entries:
            if entry.full_url:
                self._by_url[entry.full_url].append(entry)
            if entry.resource.get("id"):
                self._by_type_and_id[f"{entry.type}/{entry.resource['id']}"].append(entry)
            for identifier in identifiers_of(entry.resource):
                key = (str(identifier.get("system", "")), str(identifier.get("value", "")))
                self._by_identifier[key].append(entry)

    def _candidates(self, holder: Entry, text: str) -> tuple[list[Entry], bool]:
        """Entries that a literal reference may mean, and whether only type and id say so."""
        text = text.split("/_history/")[0]
        if text in self._by_url:
            return self._by_url[text], False
        if "://" in text or text.startswith("urn:"):
            return [], False
        root = restful_root(holder.full_url)
        if root and f"{root}/{text}" in self._by_url:
            return self._by_url[f"{root}/{text}"], False
        return self._by_type_and_id.get(text, []), True

    def resolve(self, holder: Entry, reference: Any, expression: str, log: ReadLog) -> Entry | None:
        """The entry that a reference leads to; ``None`` with a fault when it is not exactly one.

        Parameters
        ----------
        holder : Entry
            Entry that holds the reference: a relative one starts from its address.
        reference : dict
            FHIR Reference, literal or by identifier.
        """
        text = reference.get("reference") if isinstance(reference, dict) else None
        identifier = reference.get("identifier") if isinstance(reference, dict) else None
        if isinstance(text, str) and text.startswith("#"):
            log.fault("reference-contained", expression)
            return None
        by_fallback = False
        found: list[Entry] = []
        if isinstance(text, str):
            found, by_fallback = self._candidates(holder, text)
        elif isinstance(identifier, dict):
            found = self._by_identifier.get(
                (str(identifier.get("system", "")), str(identifier.get("value", ""))), [])
        if len(found) != 1:
            log.fault("reference-ambiguous" if found else "reference-not-found", expression)
            return None
        if by_fallback:
            log.note("reference-by-type-and-id", expression)
        return found[0]
