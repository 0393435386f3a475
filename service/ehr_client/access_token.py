"""The service's own access token for the record: asked for with a signed assertion, held until it is nearly over.

https://hl7.org/fhir/smart-app-launch/backend-services.html
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from time import monotonic

from service.ehr_client.client_key import read_client_key
from service.outbound.fetch import Call, Client, OutboundFault, fetch
from service.settings import Settings
from service.tokens.scopes import Need, missing_needs

TOKEN_SECONDS = 5.0
MOST_TOKEN_BYTES = 65_536
#: A token is not used in its last seconds: the record may see them as over. [s]
MARGIN_SECONDS = 30
#: When the answer does not say how long; SMART recommends it. [s]
USUAL_SECONDS = 300
_ASSERTION = "urn:ietf:params:oauth:client-assertion-type:jwt-bearer"


@dataclass(frozen=True)
class GrantedToken:
    """``scope`` may be narrower than what was asked for."""

    text: str
    scope: str
    ends_at: float  # monotonic clock [s]

    @classmethod
    def of_hook(cls, text: str, scope: str) -> GrantedToken:
        """The token that a hook brought; without a scope it is taken for what it was sent for."""
        return cls(_checked(text), scope or "system/*.rs", float("inf"))

    def allows(self, resource_type: str) -> bool:
        """Whether a query of this type would bring everything: data that are withheld do not show as missing."""
        claims = {"scope": self.scope, "patient": "the one asked about", "fhirUser": "the one who asks"}
        return not missing_needs((Need(resource_type, "rs"),), claims)


class OwnToken:
    """Asks for a token of one scope and keeps it. Raises ``OutboundFault`` when none is granted."""

    def __init__(self, settings: Settings, scope: str) -> None:
        self._scope = scope
        self._client_id = settings.record_client_id
        self._endpoint = settings.record_token_endpoint
        self._key = read_client_key(settings.record_key_file)
        self._held: GrantedToken | None = None

    async def get(self, client: Client, *, seconds: float) -> GrantedToken:
        if self._held is None or self._held.ends_at <= monotonic():
            self._held = await self._ask(client, min(seconds, TOKEN_SECONDS))
        return self._held

    async def _ask(self, client: Client, seconds: float) -> GrantedToken:
        form = {
            "grant_type": "client_credentials",
            "scope": self._scope,
            "client_assertion_type": _ASSERTION,
            "client_assertion": self._key.sign_assertion(self._client_id, self._endpoint),
        }
        call = Call(self._endpoint, {"Accept": "application/json"}, form)
        answer = await fetch(client, call, most_bytes=MOST_TOKEN_BYTES, seconds=seconds)
        return _read_answer(answer, self._scope)


def _read_answer(answer: bytes, asked_scope: str) -> GrantedToken:
    try:
        granted = json.loads(answer)
        kind, scope = granted["token_type"].lower(), granted.get("scope", asked_scope)
        ends_at = monotonic() + float(granted.get("expires_in", USUAL_SECONDS)) - MARGIN_SECONDS
        text = _checked(granted["access_token"])
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise OutboundFault("the token endpoint answered something else") from None
    if kind != "bearer" or not isinstance(scope, str):
        raise OutboundFault("the token endpoint granted no bearer token")
    return GrantedToken(text, scope, ends_at)


def _checked(text: object) -> str:
    """A token that can stand in a header. Raises ``OutboundFault``."""
    if not (isinstance(text, str) and text.isascii() and text.isprintable()):
        raise OutboundFault("the token cannot stand in a header")
    return text
