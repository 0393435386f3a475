"""One token checked: header, issuer, audience, times, signature, and whether it was used before.

Checks come in an order in which nothing is looked up for a token that would be refused anyway: no key is read for an
unknown issuer, a key address that is not listed, another audience or a token out of its time.

RFC 7519, RFC 7515, RFC 8725; https://cds-hooks.hl7.org/2.0/#trusting-cds-clients; RFC 9068 for access tokens.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from time import time
from typing import Any, Protocol

from joserfc.errors import ExpiredTokenError, InvalidClaimError, JoseError, MissingClaimError
from joserfc.jws import CompactSignature, extract_compact, validate_compact
from joserfc.jwt import JWTClaimsRegistry

from service.settings import TrustedIssuer
from service.tokens.key_cache import KeyCache
from service.tokens.refusal import Reason, TokenRefused
from service.tokens.signing import ALGORITHMS, MOST_TOKEN_TEXT, REGISTRY

#: Clocks of two machines may differ by this much. [s]
SKEW_SECONDS = 60
MOST_KEY_ID = 256
MOST_TOKEN_ID = 256
#: Keys that travel with a token, and meanings that must be understood, of which none is.
_REFUSED_HEADERS = frozenset({"jwk", "x5u", "x5c", "crit", "b64"})


class SeenTokens(Protocol):
    """Remembers tokens for all workers; says whether one comes for the first time."""

    def remember(self, issuer: str, token_id: str, *, expires_at: datetime, now: datetime) -> bool: ...


@dataclass(frozen=True)
class TokenPolicy:
    """What one kind of token has to be.

    ``types`` are the values of ``typ`` that are taken, in lower case, empty for none; ``is_single_use``: ``jti`` and
    ``iat`` are there and the token works once; ``longest_seconds`` is the longest life. [s]
    """

    issuers: Mapping[str, TrustedIssuer]
    types: frozenset[str]
    is_single_use: bool
    longest_seconds: int


def hook_policy(issuers: tuple[TrustedIssuer, ...], longest_seconds: int) -> TokenPolicy:
    """Tokens that a CDS Hooks client signs itself, one for each call."""
    return TokenPolicy(_by_name(issuers), frozenset({"jwt"}), True, longest_seconds)


def access_policy(issuers: tuple[TrustedIssuer, ...], longest_seconds: int) -> TokenPolicy:
    """Access tokens of an authorization server, used until they expire."""
    types = frozenset({"", "jwt", "at+jwt", "application/at+jwt"})
    return TokenPolicy(_by_name(issuers), types, False, longest_seconds)


def _by_name(issuers: tuple[TrustedIssuer, ...]) -> dict[str, TrustedIssuer]:
    return {issuer.name: issuer for issuer in issuers}


class TokenVerifier:
    """Checks tokens against keys and memory that are shared by all of them."""

    def __init__(self, keys: KeyCache, seen: SeenTokens) -> None:
        self._keys = keys
        self._seen = seen

    def verify(self, text: str, policy: TokenPolicy, audience: str, *, now: float | None = None) -> dict[str, Any]:
        """The claims of a token.

        Parameters
        ----------
        text : str
            The token as sent.
        policy : TokenPolicy
            What it has to be.
        audience : str
            The address that it has to be for, exactly.
        now : float, optional
            Seconds since 1970; the clock when absent. [s]

        Raises
        ------
        TokenRefused
            With the first check that failed.
        StorageFault
            Whether it was used before cannot be known.
        """
        now = time() if now is None else now
        parts = _take_apart(text)
        algorithm, key_id = _check_header(parts.protected, policy)
        claims = _read_claims(parts)
        issuer = _find_issuer(claims, policy)
        key_urls = _key_urls(parts.protected, issuer)
        _check_claims(claims, policy, issuer.name, audience, int(now))
        self._check_signature(parts, key_urls, key_id, algorithm, issuer.name)
        if policy.is_single_use:
            self._check_first_use(claims, issuer.name, now)
        return claims

    def _check_signature(
        self, parts: CompactSignature, key_urls: tuple[str, ...], key_id: str, algorithm: str, issuer: str,
    ) -> None:
        found = (self._keys.find(url, key_id, algorithm) for url in key_urls)
        key = next((one for one in found if one), None)
        if key is None:
            raise TokenRefused(Reason.NO_KEY, issuer)
        try:
            is_valid = validate_compact(parts, key, registry=REGISTRY)
        except (JoseError, ValueError):
            is_valid = False
        if not is_valid:
            raise TokenRefused(Reason.SIGNATURE, issuer)

    def _check_first_use(self, claims: dict[str, Any], issuer: str, now: float) -> None:
        is_first = self._seen.remember(
            issuer, claims["jti"], expires_at=datetime.fromtimestamp(claims["exp"] + SKEW_SECONDS, UTC),
            now=datetime.fromtimestamp(now, UTC))
        if not is_first:
            raise TokenRefused(Reason.USED_BEFORE, issuer)


def _take_apart(text: str) -> CompactSignature:
    if len(text) > MOST_TOKEN_TEXT:
        raise TokenRefused(Reason.TOO_LONG)
    try:
        parts = extract_compact(text.encode("ascii"), registry=REGISTRY)
    except (JoseError, ValueError, TypeError, RecursionError):
        raise TokenRefused(Reason.UNREADABLE) from None
    if not isinstance(parts.protected, dict):
        raise TokenRefused(Reason.UNREADABLE)
    return parts


def _check_header(header: Mapping[str, Any], policy: TokenPolicy) -> tuple[str, str]:
    """Algorithm and key id."""
    if _REFUSED_HEADERS & header.keys():
        raise TokenRefused(Reason.HEADER)
    if header.get("alg") not in ALGORITHMS:
        raise TokenRefused(Reason.ALGORITHM)
    if str(header.get("typ", "")).lower() not in policy.types:
        raise TokenRefused(Reason.TYPE)
    key_id = header.get("kid")
    if not (isinstance(key_id, str) and 0 < len(key_id) <= MOST_KEY_ID):
        raise TokenRefused(Reason.KEY_ID)
    try:
        REGISTRY.check_header(dict(header))
    except (JoseError, ValueError):
        raise TokenRefused(Reason.HEADER) from None
    return header["alg"], key_id


def _read_claims(parts: CompactSignature) -> dict[str, Any]:
    """The claims, each once; numbers beyond JSON are refused."""
    try:
        claims = json.loads(parts.payload, object_pairs_hook=_each_once, parse_constant=_refuse)
    except (ValueError, RecursionError):
        raise TokenRefused(Reason.UNREADABLE) from None
    if not isinstance(claims, dict):
        raise TokenRefused(Reason.UNREADABLE)
    return claims


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) < len(pairs):
        raise ValueError("a claim stands twice")
    return read


def _refuse(_constant: str) -> None:
    raise ValueError("no number of JSON")


def _find_issuer(claims: Mapping[str, Any], policy: TokenPolicy) -> TrustedIssuer:
    named = claims.get("iss")
    issuer = policy.issuers.get(named) if isinstance(named, str) else None
    if issuer is None:
        raise TokenRefused(Reason.ISSUER)
    return issuer


def _key_urls(header: Mapping[str, Any], issuer: TrustedIssuer) -> tuple[str, ...]:
    """Where the key may be: at the address that the token names if that is listed, else at any that is."""
    if "jku" not in header:
        return issuer.key_urls
    if header["jku"] not in issuer.key_urls:
        raise TokenRefused(Reason.KEY_ADDRESS, issuer.name)
    return (header["jku"],)


def _check_claims(claims: dict[str, Any], policy: TokenPolicy, issuer: str, audience: str, now: int) -> None:
    needed = ("aud", "exp", *(("iat", "jti") if policy.is_single_use else ()))
    registry = JWTClaimsRegistry(
        now, SKEW_SECONDS, aud={"essential": True, "value": audience},
        **{name: {"essential": True} for name in needed if name != "aud"})
    try:
        registry.validate(claims)
    except MissingClaimError:
        raise TokenRefused(Reason.CLAIM_MISSING, issuer) from None
    except ExpiredTokenError:
        raise TokenRefused(Reason.EXPIRED, issuer) from None
    except InvalidClaimError as error:
        raise TokenRefused(Reason.AUDIENCE if error.claim == "aud" else Reason.TIMES, issuer) from None
    if claims["exp"] - min(claims.get("iat", now), now) > policy.longest_seconds:
        raise TokenRefused(Reason.LIFETIME, issuer)
    if policy.is_single_use and len(claims["jti"]) > MOST_TOKEN_ID:
        raise TokenRefused(Reason.CLAIM_MISSING, issuer)
