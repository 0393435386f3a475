"""A body to the entries of one Bundle: exact JSON, structure checked, unused entries named."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from service.fhir.faults import refuse
from service.fhir.json_text import read_json
from service.fhir.read_log import ReadLog
from service.fhir.references import Entry, ReferenceIndex
from service.fhir.resources import CHECKED_TYPES, check_structure, is_resource_type
from service.fhir.scan_elements import ElementScan
from service.fhir.tables import bindings

MOST_ENTRIES = 10_000
ACCEPTED_BUNDLES = ("collection", "searchset", "batch", "transaction")
#: Types that may be answers of this service sent back; read for what was done with them only.
TOLERATED_TYPES = ("CarePlan", "Task", "ServiceRequest", "RiskAssessment", "DetectedIssue")


@dataclass(frozen=True)
class ReadBody:
    """A body as sent: the Bundle, where it stands, and the parameters around it, if any."""

    bundle: dict[str, Any]
    bundle_expression: str
    parameters: list[tuple[str, dict[str, Any]]]  # FHIRPath, parameter
    sha256: str


@dataclass(frozen=True)
class RecordBundle:
    """Entries of one Bundle. ``readable`` passed the structure check; all can be referred to."""

    readable: tuple[Entry, ...]
    tolerated: tuple[Entry, ...]
    references: ReferenceIndex
    modifiers: dict[str, list[tuple[str, str]]]  # record key -> error id and place


def _parameters_of(root: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    sent = root.get("parameter")
    if not isinstance(sent, list) or not all(isinstance(parameter, dict) for parameter in sent):
        raise refuse("structure", "Parameters.parameter", problem="a list of parameters is due")
    return [(f"Parameters.parameter[{index}]", parameter) for index, parameter in enumerate(sent)]


def read_body(body: bytes) -> ReadBody:
    """The Bundle in a body, bare or as the parameter ``bundle``.

    Raises
    ------
    InvalidCase
        When the body is not JSON, or holds no Bundle.
    """
    root = read_json(body)
    sha256 = hashlib.sha256(body).hexdigest()
    if root.get("resourceType") == "Bundle":
        return ReadBody(root, "Bundle", [], sha256)
    if root.get("resourceType") != "Parameters":
        raise refuse("root-not-accepted", "")
    parameters = _parameters_of(root)
    bundles = [(place, one) for place, one in parameters if one.get("name") == "bundle"]
    if not bundles:
        raise refuse("parameter-required", "Parameters.parameter", parameter="bundle")
    if len(bundles) > 1:
        raise refuse("parameter-twice", f"{bundles[1][0]}.name")
    place, holder = bundles[0]
    bundle = holder.get("resource")
    if not isinstance(bundle, dict) or bundle.get("resourceType") != "Bundle":
        raise refuse("parameter-value", f"{place}.resource", allowed="Bundle")
    others = [one for one in parameters if one[1] is not holder]
    return ReadBody(bundle, f"{place}.resource", others, sha256)


def _entries_of(body: ReadBody) -> list[Any]:
    """The entries of a Bundle of an accepted type."""
    kind, place = body.bundle.get("type"), body.bundle_expression
    if kind not in bindings()["Bundle", "type"]:
        raise refuse("bundle-type-unknown", f"{place}.type")
    if kind not in ACCEPTED_BUNDLES:
        raise refuse("bundle-type-not-accepted", f"{place}.type")
    for name in ("modifierExtension", "implicitRules"):
        if name in body.bundle:
            raise refuse("implicit-rules" if name == "implicitRules" else "modifier-extension", f"{place}.{name}")
    entries = body.bundle.get("entry", [])
    if not isinstance(entries, list):
        raise refuse("structure", f"{place}.entry", problem="a list of entries is due")
    if not entries:
        raise refuse("bundle-empty", f"{place}.entry")
    if len(entries) > MOST_ENTRIES:
        raise refuse("too-many-entries", f"{place}.entry", cap=MOST_ENTRIES)
    return entries


def _make_entry(index: int, sent: Any, place: str, log: ReadLog) -> Entry | None:
    """An entry with a resource whose type is a text; anything else is a fault or set aside."""
    resource = sent.get("resource") if isinstance(sent, dict) else None
    kind = resource.get("resourceType") if isinstance(resource, dict) else None
    if not isinstance(kind, str):
        log.fault("entry-without-resource", place)
        return None
    full_url = sent.get("fullUrl")
    if full_url is not None and not isinstance(full_url, str):
        log.fault("not-a-text", f"{place}.fullUrl")
        full_url = None
    return Entry(f"entry[{index}]", f"{place}.resource", full_url, resource)


def _check_bindings(entry: Entry, log: ReadLog) -> bool:
    for (resource_type, element), codes in bindings().items():
        if entry.type == resource_type and entry.resource.get(element, codes[0]) not in codes:
            log.fault("code-not-in-binding", f"{entry.expression}.{element}", allowed=" ".join(codes))
            return False
    return True


def _check_full_urls(entries: list[Entry], log: ReadLog) -> None:
    seen: set[str] = set()
    for entry in entries:
        if entry.full_url in seen:
            log.fault("full-url-twice", entry.expression.removesuffix(".resource") + ".fullUrl")
        if entry.full_url:
            seen.add(entry.full_url)


def _put_aside_unused(entry: Entry, log: ReadLog) -> None:
    if entry.type == "Bundle":
        log.fault("bundle-in-bundle", entry.expression)
        return
    reason = "resource-not-used" if is_resource_type(entry.type) else "resource-unknown-type"
    log.put_aside(reason, entry.expression, entry.type if reason == "resource-not-used" else "unknown")


def read_bundle(body: ReadBody, log: ReadLog) -> RecordBundle:
    """Check every entry and sort the used from the unused.

    Raises
    ------
    InvalidCase
        When there is no record to read at all; faults of entries go to the log.
    """
    sent = _entries_of(body)
    place = body.bundle_expression
    entries = [
        entry for index, one in enumerate(sent)
        if (entry := _make_entry(index, one, f"{place}.entry[{index}]", log))
    ]
    _check_full_urls(entries, log)
    readable, tolerated = [], []
    modifiers: dict[str, list[tuple[str, str]]] = {}
    for entry in entries:
        if entry.type in TOLERATED_TYPES:
            tolerated.append(entry)
        elif entry.type not in CHECKED_TYPES:
            _put_aside_unused(entry, log)
        else:
            scan = ElementScan(entry.expression, log)
            scan.walk(entry.resource)
            modifiers[entry.key] = scan.modifiers
            if scan.is_too_large:
                continue
            if check_structure(entry.resource, entry.expression, log) and _check_bindings(entry, log):
                readable.append(entry)
    return RecordBundle(tuple(readable), tuple(tolerated), ReferenceIndex(tuple(entries)), modifiers)
