"""Data that a hook did not bring, fetched from the record that called: only where a site lists the record.

The one function for callers is :func:`fetch_prefetch`. What is fetched is no less foreign than what is sent and is read
by the same reader. A query that fails brings nothing: its key stays absent, which is never the same as "no data".
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from urllib.parse import urljoin, urlsplit

import anyio

from service.domain.errors import InvalidCase
from service.ehr_client.access_token import GrantedToken, OwnToken
from service.fhir.json_text import read_json
from service.outbound.fetch import Call, Client, OutboundFault, fetch, make_client
from service.settings import Settings

log = logging.getLogger("graftstage")

#: For all queries of one hook together, the token included. [s]
SECONDS = 8.0
QUERY_SECONDS = 5.0
MOST_BYTES = 4_000_000
MOST_PAGES = 20
_FHIR_JSON = "application/fhir+json"


def fetch_prefetch(settings: Settings, hook_request: Mapping[str, Any], queries: Mapping[str, str]) -> dict[str, Any]:
    """The prefetch of a hook, as whole as it can be made.

    Parameters
    ----------
    settings : Settings
        ``record_servers`` lists who may be called; empty: nobody is, and the prefetch comes back as it was sent.
    hook_request : mapping
        The body of the hook as JSON: ``prefetch``, ``fhirServer`` and ``fhirAuthorization`` are used.
    queries : mapping
        By prefetch key the query, relative to the server and with the patient filled in:
        ``Observation?patient=...``. A key that was sent, also as ``null``, is not asked for again; a Bundle that was
        sent with a further page has its pages fetched.

    Returns
    -------
    dict
        By key: a resource, a Bundle with the entries of all pages and no ``next``, or ``None`` where ``null`` was sent.
        A key whose query failed is absent; a Bundle whose further pages could not be had keeps its ``next``.
        Nothing is raised for a record that cannot be reached.
    """
    sent = dict(hook_request.get("prefetch") or {})
    server = str(hook_request.get("fhirServer") or "").rstrip("/")
    if server not in settings.record_servers:
        return sent
    asked = {key: found for key, query in queries.items() if (found := _what_is_left(sent, key, query, server))}
    if not asked:
        return sent
    fetched = anyio.run(_fetch_all, settings, hook_request.get("fhirAuthorization"), asked)
    return sent | {key: _joined(sent.get(key), pages) for key, pages in fetched.items()}


@dataclass(frozen=True)
class _Query:
    """The address of a query or of its next page, at a listed server."""

    server: str
    resource_type: str
    url: str


def _what_is_left(sent: Mapping[str, Any], key: str, query: str, server: str) -> _Query | None:
    """What is still to be asked for one key."""
    resource_type = query.partition("?")[0].partition("/")[0]
    if key not in sent:
        return _Query(server, resource_type, f"{server}/{query}")
    further = _next_page(sent[key])
    return _Query(server, resource_type, urljoin(f"{server}/", further)) if further else None


async def _fetch_all(
    settings: Settings, authorization: object, asked: Mapping[str, _Query],
) -> dict[str, list[dict[str, Any]]]:
    """The pages of each query that came whole, all queries at once."""
    fetched: dict[str, list[dict[str, Any]]] = {}

    async def fetch_one(key: str, query: _Query) -> None:
        try:
            fetched[key] = await _fetch_pages(client, query, token)
        except (OutboundFault, InvalidCase) as fault:
            log.warning("a query to the record brought nothing: %s", fault)

    with anyio.move_on_after(SECONDS) as limit:
        async with make_client() as client:
            try:
                token = await _token_for(settings, client, authorization, asked.values())
            except OutboundFault as fault:
                log.warning("no token for the record: %s", fault)
                return {}
            async with anyio.create_task_group() as tasks:
                for key, query in asked.items():
                    tasks.start_soon(fetch_one, key, query)
    if limit.cancelled_caught:
        log.warning("the record was not read in time")
    return fetched


async def _token_for(
    settings: Settings, client: Client, authorization: object, asked: Iterable[_Query],
) -> GrantedToken | None:
    """The token that the hook brought, else one of our own, else none: an open record."""
    if isinstance(authorization, Mapping):
        return _read_token(authorization)
    if not settings.record_client_id:
        return None
    types = sorted({query.resource_type for query in asked})
    return await _own_token(settings).get(client, " ".join(f"system/{name}.rs" for name in types))


def _read_token(authorization: Mapping[str, Any]) -> GrantedToken:
    """The token of a hook; one that states no scope is taken for what it is sent for."""
    text, kind = authorization.get("access_token"), authorization.get("token_type", "Bearer")
    if not (isinstance(text, str) and text.isascii() and text.isprintable() and str(kind).lower() == "bearer"):
        raise OutboundFault("the hook brought no bearer token")
    return GrantedToken(text, str(authorization.get("scope") or "system/*.rs"), float("inf"))


@lru_cache(maxsize=1)
def _own_token(settings: Settings) -> OwnToken:
    return OwnToken(settings)


async def _fetch_pages(client: Client, query: _Query, token: GrantedToken | None) -> list[dict[str, Any]]:
    """All pages from one address on. Raises ``OutboundFault`` when any cannot be had."""
    headers = {"Accept": _FHIR_JSON}
    if token is not None:
        if not token.allows(query.resource_type):
            raise OutboundFault("the token does not allow the whole type")
        headers["Authorization"] = f"Bearer {token.text}"
    pages: list[dict[str, Any]] = []
    url, room = query.url, MOST_BYTES
    while url:
        if len(pages) == MOST_PAGES:
            raise OutboundFault("too many pages")
        if not _is_below(url, query.server):
            raise OutboundFault("the address is not of the listed server")
        body = await fetch(client, Call(url, headers), most_bytes=room, seconds=QUERY_SECONDS)
        room -= len(body)
        pages.append(read_json(body))
        further = _next_page(pages[-1])
        url = urljoin(url, further) if further else ""
    return pages


def _next_page(value: object) -> str:
    """Address of the page after a Bundle, if there is one."""
    if not isinstance(value, Mapping) or value.get("resourceType") != "Bundle":
        return ""
    return next((link["url"] for link in _dicts(value, "link") if _is_next(link)), "")


def _is_next(link: Mapping[str, Any]) -> bool:
    return link.get("relation") == "next" and isinstance(link.get("url"), str)


def _dicts(bundle: Mapping[str, Any], name: str) -> list[dict[str, Any]]:
    """The objects of a list; whatever else was sent there is not looked at."""
    held = bundle.get(name)
    return [one for one in held if isinstance(one, dict)] if isinstance(held, list) else []


def _is_below(url: str, server: str) -> bool:
    """Whether an address is of the listed server, by its text: no step upwards, no other user, port or scheme."""
    parts, base = urlsplit(url), urlsplit(server)
    return (
        (parts.scheme, parts.netloc) == (base.scheme, base.netloc)
        and (parts.path == base.path or parts.path.startswith(f"{base.path}/"))
        and ".." not in parts.path and "%2e" not in parts.path.lower() and "\\" not in url)


def _joined(first: object, pages: list[dict[str, Any]]) -> dict[str, Any]:
    """A resource, or one Bundle of the entries of all pages."""
    whole = [*([first] if isinstance(first, Mapping) else ()), *pages]
    if len(whole) == 1:
        return whole[0]
    joined = {name: value for name, value in whole[0].items() if name not in ("link", "entry")}
    links = [link for link in _dicts(whole[0], "link") if link.get("relation") != "next"]
    entries = [entry for page in whole for entry in _dicts(page, "entry")]
    return joined | ({"link": links} if links else {}) | ({"entry": entries} if entries else {})
