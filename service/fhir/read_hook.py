"""A CDS Hooks call: its frame checked, its prefetch gathered into the body of a plan request.

What the clinical content says is left to the one reader of plan requests.
https://cds-hooks.hl7.org/2.0/#http-request_1
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from service.domain.errors import Fault, InvalidCase
from service.fhir.faults import make_fault
from service.fhir.hook_services import ORDER_SIGN, PrefetchQuery
from service.fhir.json_text import dump, read_json
from service.settings import is_safe_url

#: Name of the extension that may carry parameters of the planning operation.
PARAMETERS_EXTENSION = "example.graftstage.parameters"
#: More pages than this are no prefetch any more.
_MOST_PAGES = 20

Resource = dict[str, Any]
#: Gets a resource of the record by an address relative to its base, or by the address of a further page.
Fetch = Callable[[str], Resource]


class RecordUnreachable(Exception):
    """The server of the record did not give what was asked for. Names no address and no value."""


@dataclass(frozen=True)
class HookRequest:
    """The frame of a call. Secrets and contents stay out of its text form."""

    hook: str
    instance: str
    patient_id: str = field(repr=False)
    fhir_server: str | None
    access_token: str | None = field(repr=False)
    prefetch: dict[str, Any] = field(repr=False)
    parameters: list[Resource] = field(repr=False)
    draft_orders: Resource = field(repr=False)
    access_scope: str = field(default="", repr=False)


class _Frame:
    """Reads the elements of one call and keeps every fault."""

    def __init__(self, root: Resource) -> None:
        self.root = root
        self.faults: list[Fault] = []

    def fault(self, error_id: str, element: str, **values: str) -> None:
        self.faults.append(make_fault(error_id, element, **values))

    def text(self, holder: Resource, name: str, element: str, *, is_required: bool) -> str | None:
        value = holder.get(name)
        if isinstance(value, str) and value.strip():
            return value
        if is_required or name in holder:
            self.fault("hook-element", element, kind="a text")
        return None

    def object(self, holder: Resource, name: str, element: str, *, is_required: bool) -> Resource:
        value = holder.get(name)
        if isinstance(value, dict):
            return value
        if is_required or value is not None:
            self.fault("hook-element", element, kind="an object")
        return {}


def read_hook_request(body: bytes, hook: str) -> HookRequest:
    """The frame of a call.

    Parameters
    ----------
    body : bytes
        As sent.
    hook : str
        The hook of the service that was called.

    Raises
    ------
    InvalidCase
        400 with every fault of the frame.
    """
    root = read_json(body)
    frame = _Frame(root)
    named = frame.text(root, "hook", "hook", is_required=True)
    if named is not None and named != hook:
        frame.fault("hook-other", "hook", allowed=hook)
    instance = frame.text(root, "hookInstance", "hookInstance", is_required=True)
    if instance is not None and not _is_uuid(instance):
        frame.fault("hook-element", "hookInstance", kind="a UUID")
    context = frame.object(root, "context", "context", is_required=True)
    patient_id = frame.text(context, "patientId", "context.patientId", is_required=True)
    frame.text(context, "userId", "context.userId", is_required=True)
    orders = frame.object(context, "draftOrders", "context.draftOrders", is_required=hook == ORDER_SIGN)
    server = frame.text(root, "fhirServer", "fhirServer", is_required=False)
    if server is not None and not is_safe_url(server):
        frame.fault("hook-server-unsafe", "fhirServer")
    authorization = frame.object(root, "fhirAuthorization", "fhirAuthorization", is_required=False)
    token = frame.text(
        authorization, "access_token", "fhirAuthorization.access_token", is_required=bool(authorization))
    if authorization and server is None:
        frame.fault("hook-authorization", "fhirServer")
    scope = frame.text(authorization, "scope", "fhirAuthorization.scope", is_required=False)
    request = HookRequest(
        hook, instance or "", patient_id or "", server.rstrip("/") if server else None, token,
        _read_prefetch(frame), _read_parameters(frame), orders, scope or "")
    if frame.faults:
        raise InvalidCase(tuple(frame.faults))
    return request


def _is_uuid(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True


def _read_prefetch(frame: _Frame) -> dict[str, Any]:
    """By key; ``null`` stands for a query that found nothing."""
    prefetch = frame.object(frame.root, "prefetch", "prefetch", is_required=False)
    for key, value in prefetch.items():
        if value is not None and not (isinstance(value, dict) and isinstance(value.get("resourceType"), str)):
            known = key if key.isalnum() else "?"
            frame.fault("hook-element", f"prefetch.{known[:40]}", kind="a resource or null")
    return prefetch


def _read_parameters(frame: _Frame) -> list[Resource]:
    """Parameters of the planning operation, sent along by a caller that has them; never needed."""
    extension = frame.object(frame.root, "extension", "extension", is_required=False)
    sent = extension.get(PARAMETERS_EXTENSION, [])
    if isinstance(sent, list) and all(isinstance(p, dict) and p.get("name") != "bundle" for p in sent):
        return sent
    frame.fault("hook-element", f"extension.{PARAMETERS_EXTENSION}", kind="a list of parameters without a bundle")
    return []


class Prefetched:
    """The resources of a call, by key of the prefetch: as sent or, where that is switched on, fetched."""

    def __init__(self, request: HookRequest, fetch: Fetch | None) -> None:
        self.request = request
        self._fetch = fetch
        self.faults: list[Fault] = []

    def gather(self, query: PrefetchQuery) -> list[Resource]:
        """Entries with their ``fullUrl`` where one is known. What cannot be had is a fault of status 412."""
        sent = self.request.prefetch.get(query.key)
        if query.key in self.request.prefetch and sent is None:
            return []
        error_id = "prefetch-missing" if sent is None else "prefetch-failed" if _is_failure(sent) else ""
        try:
            if error_id:
                sent = self._get(query.path_for(self.request.patient_id), error_id, query)
            return [self._entry(*one) for page in self._pages(sent, query) for one in _entries_of(page)]
        except _NotHad as reason:
            if query.is_needed or str(reason) != "prefetch-missing":
                self.faults.append(make_fault(str(reason), f"prefetch.{query.key}", key=query.key))
            return []

    def _get(self, address: str, error_id: str, query: PrefetchQuery) -> Resource:
        if self._fetch is None:
            raise _NotHad(error_id)
        try:
            got = self._fetch(address)
        except RecordUnreachable:
            raise _NotHad(error_id) from None
        if _is_failure(got):
            raise _NotHad("prefetch-failed")
        return got

    def _pages(self, first: Resource, query: PrefetchQuery) -> Iterator[Resource]:
        """The first page and those that follow; fewer entries than the total are not the whole."""
        pages, count = [first], len(_matches_of(first))
        while address := _next_page(pages[-1]):
            if len(pages) == _MOST_PAGES:
                raise _NotHad("prefetch-paged")
            pages.append(self._get(address, "prefetch-paged", query))
            count += len(_matches_of(pages[-1]))
        total = first.get("total")
        if isinstance(total, int) and total > count:
            raise _NotHad("prefetch-incomplete")
        return iter(pages)

    def _entry(self, full_url: Any, resource: Any) -> Resource:
        named = isinstance(resource, dict) and isinstance(resource.get("id"), str)
        if full_url is None and named and self.request.fhir_server:
            full_url = f"{self.request.fhir_server}/{resource.get('resourceType')}/{resource['id']}"
        return {"resource": resource} if full_url is None else {"fullUrl": full_url, "resource": resource}


class _NotHad(Exception):
    """A part of the prefetch cannot be had; the text is the error id."""


def _is_failure(resource: Resource) -> bool:
    """Whether the record's server answered with an error instead of data, or with an error among them."""
    outcomes = [one for _, one in (*_entries_of(resource), (None, resource)) if _is_outcome(one)]
    return _is_outcome(resource) or any(
        isinstance(issue, dict) and issue.get("severity") in ("fatal", "error")
        for outcome in outcomes for issue in _list_of(outcome, "issue"))


def _is_outcome(resource: Any) -> bool:
    return isinstance(resource, dict) and resource.get("resourceType") == "OperationOutcome"


def _list_of(holder: Resource, name: str) -> list:
    value = holder.get(name, [])
    return value if isinstance(value, list) else [value]


def _entries_of(resource: Resource) -> list[tuple[Any, Any]]:
    """Address and resource of each entry that is data; a resource that is no Bundle is its own entry."""
    if resource.get("resourceType") != "Bundle":
        return [(None, resource)]
    entries = [entry if isinstance(entry, dict) else {} for entry in _list_of(resource, "entry")]
    return [(entry.get("fullUrl"), entry.get("resource")) for entry in entries]


def _matches_of(resource: Resource) -> list[Resource]:
    entries = [entry for entry in _list_of(resource, "entry") if isinstance(entry, dict)]
    return [e for e in entries if not _is_outcome(e.get("resource")) and _search_mode(e) != "include"]


def _search_mode(entry: Resource) -> Any:
    search = entry.get("search")
    return search.get("mode") if isinstance(search, dict) else None


def _next_page(resource: Resource) -> str | None:
    links = [link for link in _list_of(resource, "link") if isinstance(link, dict)]
    found = [link.get("url") for link in links if link.get("relation") == "next"]
    return found[0] if found and isinstance(found[0], str) else None


def without_repeats(entries: list[Resource]) -> list[Resource]:
    """Each resource once: one that answers two queries comes twice. Notes of the record's server are no data."""
    kept: list[Resource] = []
    seen: set[str] = set()
    for entry in entries:
        content = repr(entry["resource"])
        if not _is_outcome(entry["resource"]) and content not in seen:
            seen.add(content)
            kept.append(entry)
    return kept


def write_plan_request(request: HookRequest, entries: list[Resource]) -> bytes:
    """The body of a plan request with the resources of a call as its record."""
    bundle = {"resourceType": "Bundle", "type": "collection", "entry": entries}
    parameters = [*request.parameters, {"name": "bundle", "resource": bundle}]
    return dump({"resourceType": "Parameters", "parameter": parameters})
