"""``.well-known/smart-configuration``: where callers get the tokens that are asked for.

The service grants none itself: the endpoint is that of the hospital's authorization server.
https://hl7.org/fhir/smart-app-launch/conformance.html
"""

from __future__ import annotations

from service.fhir.operation_scopes import all_needs
from service.tokens.signing import ALGORITHMS


def write_smart_configuration(token_endpoint: str) -> dict:
    """The document, always of media type ``application/json``."""
    return {
        "token_endpoint": token_endpoint,
        "grant_types_supported": ["client_credentials"],
        "token_endpoint_auth_methods_supported": ["private_key_jwt"],
        "token_endpoint_auth_signing_alg_values_supported": list(ALGORITHMS),
        "scopes_supported": [need.scope for need in all_needs()],
        "code_challenge_methods_supported": ["S256"],
        "capabilities": ["client-confidential-asymmetric", "permission-v1", "permission-v2"],
    }
