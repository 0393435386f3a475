"""Data that a hook did not bring, fetched from the record that called: only where a site lists the record.

What is fetched is no less foreign than what is sent and is read by the same reader. What cannot be had counts as
missing, never as "no data".
"""

from __future__ import annotations

import logging
from functools import lru_cache
from time import monotonic
from urllib.parse import urljoin, urlsplit

import anyio

from service.domain.errors import InvalidCase
from service.ehr_client.access_token import GrantedToken, OwnToken
from service.fhir.hook_services import prefetch_queries
from service.fhir.json_text import read_json
from service.fhir.read_hook import Fetch, HookRequest, RecordUnreachable, Resource
from service.outbound.fetch import Call, Client, OutboundFault, fetch, make_client
from service.settings import Settings

log = logging.getLogger("graftstage")

#: For everything that one hook needs, the token included. [s]
SECONDS = 8.0
MOST_BYTES = 8_000_000


def open_record(settings: Settings, request: HookRequest) -> Fetch | None:
    """How to read what a hook did not bring.

    Parameters
    ----------
    settings : Settings
        ``record_servers`` lists who may be called.
    request : HookRequest
        Its server is called if it is exactly a listed one; with its token, else with one of our own, else with none.

    Returns
    -------
    Fetch or None
        Gets a resource by an address relative to the server, or by that of a further page; ``None`` when this record
        is not called. Raises ``RecordUnreachable``.
    """
    return RecordReader(settings, request) if request.fhir_server in settings.record_servers else None


class RecordReader:
    """Reads one record for one hook, within the time and size of all that it reads."""

    def __init__(self, settings: Settings, request: HookRequest) -> None:
        self._settings = settings
        self._request = request
        self._server = f"{request.fhir_server}/"
        self._ends_at = monotonic() + SECONDS
        self._room_bytes = MOST_BYTES
        self._resource_type = ""  # of the query whose pages are read

    def __call__(self, address: str) -> Resource:
        """One resource of the record. Raises ``RecordUnreachable``."""
        url = urljoin(self._server, address)
        try:
            if not _is_below(url, self._server):
                raise OutboundFault("the address is not of the listed server")
            return read_json(anyio.run(self._get, url))
        except (OutboundFault, InvalidCase) as fault:
            log.warning("a query to the record brought nothing: %s", fault)
            raise RecordUnreachable from None

    async def _get(self, url: str) -> bytes:
        named = urlsplit(url).path.removeprefix(urlsplit(self._server).path).partition("/")[0]
        self._resource_type = named or self._resource_type
        headers = {"Accept": "application/fhir+json"}
        async with make_client() as client:
            token = await self._find_token(client)
            if token and not token.allows(self._resource_type):
                raise OutboundFault("the token does not allow the whole type")
            if token:
                headers["Authorization"] = f"Bearer {token.text}"
            body = await fetch(client, Call(url, headers), most_bytes=self._room_bytes, seconds=self._seconds_left)
        self._room_bytes -= len(body)
        return body

    async def _find_token(self, client: Client) -> GrantedToken | None:
        """The token of the hook, which is taken for what it is sent for when it states no scope; else our own."""
        if self._request.access_token is not None:
            return GrantedToken.of_hook(self._request.access_token, self._request.access_scope)
        if not self._settings.record_client_id:
            return None
        return await _own_token(self._settings).get(client, seconds=self._seconds_left)

    @property
    def _seconds_left(self) -> float:
        return max(self._ends_at - monotonic(), 0.0)


@lru_cache(maxsize=1)
def _own_token(settings: Settings) -> OwnToken:
    types = {query.resource_type for query in prefetch_queries(settings.canonical_base)}
    return OwnToken(settings, " ".join(f"system/{name}.rs" for name in sorted(types)))


def _is_below(url: str, server: str) -> bool:
    """Whether an address is of the listed server, by its text: no step upwards, no other user, port or scheme."""
    parts, base = urlsplit(url), urlsplit(server)
    return (
        (parts.scheme, parts.netloc) == (base.scheme, base.netloc)
        and f"{parts.path}/".startswith(base.path)
        and ".." not in parts.path and "%2e" not in parts.path.lower() and "\\" not in url)
