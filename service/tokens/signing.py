"""What signs and checks: two algorithms, keys of the strength that they ask for."""

from __future__ import annotations

from joserfc.jwk import ECKey, RSAKey
from joserfc.jws import JWSRegistry

#: RSA with SHA-384, and ECDSA on the curve P-384: what SMART asks every server for. Nothing else is ever taken.
ALGORITHMS = ("ES384", "RS384")
CURVE = "P-384"
#: NIST SP 800-131A Rev. 2: shorter ones are no longer acceptable. [bit]
SHORTEST_RSA_BITS = 2_048
#: Longer than any that is met, and short enough to throw away unread. [characters]
MOST_TOKEN_TEXT = 8_192
MOST_HEADER_TEXT = 2_048


class Registry(JWSRegistry):
    """The algorithms above; header parameters that are not known are refused."""

    max_header_length = MOST_HEADER_TEXT
    max_payload_length = MOST_TOKEN_TEXT


REGISTRY = Registry(algorithms=ALGORITHMS)


def algorithm_of(key: ECKey | RSAKey) -> str | None:
    """The algorithm that a key is good for; ``None`` for another curve or a short key."""
    if isinstance(key, RSAKey):
        return "RS384" if key.public_key.key_size >= SHORTEST_RSA_BITS else None
    return "ES384" if key.curve_name == CURVE else None
