"""The key with which the service signs for itself: read from its file, its public part shown, assertions signed.

https://hl7.org/fhir/smart-app-launch/client-confidential-asymmetric.html
"""

from __future__ import annotations

import json
from pathlib import Path
from time import time
from uuid import uuid4

from joserfc import jwt
from joserfc.errors import JoseError
from joserfc.jwk import ECKey, RSAKey

from service.domain.errors import ServiceFault
from service.tokens.signing import REGISTRY, algorithm_of

#: SMART takes no assertion that lives longer. [s]
ASSERTION_SECONDS = 300


class ClientKey:
    """One private key and what is made of it. Never shown, never in a text."""

    def __init__(self, key: ECKey | RSAKey) -> None:
        key.ensure_kid()
        self._key = key
        self._algorithm = algorithm_of(key)

    @property
    def public_key_set(self) -> dict:
        """The JWKS to register with the record system."""
        public = self._key.as_dict(private=False)
        shown = {name: public[name] for name in ("kty", "crv", "x", "y", "n", "e", "kid") if name in public}
        return {"keys": [{**shown, "use": "sig", "alg": self._algorithm}]}

    def sign_assertion(self, client_id: str, token_endpoint: str) -> str:
        """A client assertion for one request at the token endpoint."""
        now = int(time())
        claims = {
            "iss": client_id, "sub": client_id, "aud": token_endpoint, "jti": str(uuid4()),
            "iat": now, "exp": now + ASSERTION_SECONDS,
        }
        header = {"alg": self._algorithm, "kid": self._key.kid, "typ": "JWT"}
        return jwt.encode(header, claims, self._key, registry=REGISTRY)


def read_client_key(path: str) -> ClientKey:
    """The private key in a file, as JWK or PEM: RSA of enough bits, or on the curve P-384.

    Raises ``ServiceFault`` that names no part of the file.
    """
    try:
        text = Path(path).read_bytes()
    except OSError as error:
        raise ServiceFault(f"the key file cannot be read: {error.strerror}") from None
    for kind in (ECKey, RSAKey):
        try:
            key = kind.import_key(json.loads(text) if text.lstrip().startswith(b"{") else text)
        except (JoseError, ValueError, TypeError, KeyError):
            continue
        if key.is_private and algorithm_of(key):
            return ClientKey(key)
    raise ServiceFault("the key file holds no private key for RS384 or ES384")
