"""The guard of every route: who may pass without a token, and which token opens what.

Off while no issuer is in the settings. Once one is, every route asks for a token unless it is listed here as open: a
route that somebody adds and forgets is closed.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Mapping
from typing import Any

from anyio import to_thread
from starlette.requests import Request

from service.api.conformance import RESOURCE_TYPES
from service.api.transport_faults import TransportFault
from service.domain.errors import StorageFault
from service.fhir.operation_scopes import all_needs, operation_needs, scope_text
from service.settings import Settings
from service.tokens.key_cache import KeyCache
from service.tokens.refusal import TokenRefused
from service.tokens.scopes import missing_needs
from service.tokens.verify import SeenTokens, TokenVerifier, access_policy, hook_policy

log = logging.getLogger("graftstage")

HOOKS = "/cds-services"
OPERATION = "/fhir/$"
#: Routes that say what the service is, never anything of a patient; by the path that they are declared with.
OPEN = frozenset({
    "/", "/docs", "/livez", "/readyz", "/.well-known/smart-configuration", "/.well-known/jwks.json",
    "/workbench/style.css", "/workbench/workbench.js", "/fhir/.well-known/smart-configuration",
    "/fhir/metadata", "/fhir/$versions",
    *(f"/fhir/{name}" for name in RESOURCE_TYPES), *(f"/fhir/{name}/{{resource_id}}" for name in RESOURCE_TYPES),
})
_OPEN_FOLDER = "/docs/"
_BEARER = re.compile(r"bearer +([A-Za-z0-9._~+/=-]+)", re.IGNORECASE)
_CLIENT = re.compile(r"[!-~]{1,200}")
_REALM = 'Bearer realm="graftstage"'


class Guard:
    """Checks the token of one request after the other; keys and memory are shared."""

    def __init__(self, settings: Settings, seen: SeenTokens, keys: KeyCache | None = None) -> None:
        self.is_on = settings.are_tokens_asked_for
        self._base = settings.public_base
        self._verifier = TokenVerifier(keys or KeyCache(), seen)
        self._hooks = hook_policy(settings.hook_clients, settings.longest_token_seconds)
        self._access = access_policy(settings.access_token_issuers, settings.longest_token_seconds)

    def check(self, route: str, path: str, header: list[str]) -> Mapping[str, Any]:
        """The claims of a token that opens a route.

        Parameters
        ----------
        route, path : str
            As declared, and as called.
        header : list of str
            Every ``Authorization`` of the request.

        Raises
        ------
        TransportFault
            401 without a reason, or 403.
        StorageFault
            Whether the token was used before cannot be known.
        """
        token = _read_bearer(header)
        try:
            if route == HOOKS or route.startswith(f"{HOOKS}/"):
                return self._verifier.verify(token, self._hooks, f"{self._base}{path}")
            claims = self._verifier.verify(token, self._access, f"{self._base}/fhir")
        except TokenRefused as refusal:
            log.warning("token refused: %s %s", refusal.reason, refusal.issuer)
            raise _refuse("token-refused", ', error="invalid_token"') from None
        _require(route, claims)
        return claims


async def require_token(request: Request) -> None:
    """Dependency of every route: 401, 403, or 503 where it cannot be known whether a token was used.

    Leaves ``caller`` and ``patient_id``, the only one allowed, behind.
    """
    guard, route = request.app.state.guard, request.scope["route"].path
    if not guard.is_on or route in OPEN or route.startswith(_OPEN_FOLDER):
        return
    try:
        claims = await to_thread.run_sync(
            guard.check, route, request.scope["path"], request.headers.getlist("authorization"))
    except StorageFault as fault:
        log.error("used tokens cannot be looked up: %s", fault)
        raise TransportFault("tokens-unavailable", {"Connection": "close"}) from None
    request.state.caller = _name_caller(claims)
    request.state.patient_id = claims.get("patient")


def _name_caller(claims: Mapping[str, Any]) -> str:
    """Issuer and client, for the audit trail; never the subject, which may be a person."""
    client = claims.get("client_id")
    is_name = isinstance(client, str) and _CLIENT.fullmatch(client)
    return f"{claims['iss']} {client}" if is_name else claims["iss"]


def allowed_patient(request: Request) -> str | None:
    """The id of the one patient that the token is for; ``None`` when it is for any."""
    return getattr(request.state, "patient_id", None)


def _read_bearer(header: list[str]) -> str:
    if not header:
        raise _refuse("token-missing", "")
    found = _BEARER.fullmatch(header[0].strip()) if len(header) == 1 else None
    if found is None:
        log.warning("token refused: no bearer token")
        raise _refuse("token-refused", ', error="invalid_token"')
    return found[1]


def _refuse(error_id: str, challenge: str) -> TransportFault:
    """The body is not read any more."""
    return TransportFault(error_id, {"WWW-Authenticate": f"{_REALM}{challenge}", "Connection": "close"})


def _require(route: str, claims: Mapping[str, Any]) -> None:
    """An operation needs its scopes; any other route those of all, and a token for any patient: it checks none."""
    needs = operation_needs().get(route.removeprefix(OPERATION))
    is_for_any = claims.get("patient") is None
    is_for_one = needs is not None and isinstance(claims.get("patient"), str) and claims["patient"] != ""
    needs = needs or all_needs()
    if missing_needs(needs, claims) or not (is_for_any or is_for_one):
        challenge = f', error="insufficient_scope", scope="{scope_text(needs)}"'
        raise _refuse("scope-insufficient", challenge)
