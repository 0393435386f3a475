"""The authorization server of the tests, with keys and tokens made by a JOSE library of another make."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from time import time
from typing import Any
from uuid import uuid4

import httpx2 as httpx

from tests.contract.validators import require_validators, run_program_that_serves

PUBLIC_BASE = "https://plans.example.org"
ALL_SCOPES = "system/*.rs"


class Issuer:
    """Signs whatever a test asks for."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.http = httpx.Client(base_url=address, timeout=60, trust_env=False)

    @property
    def trusted(self) -> str:
        """The setting that trusts this issuer."""
        return f"{self.address}={self.address}/jwks"

    @property
    def key_reads(self) -> int:
        return self.http.get("/count").json()

    def sign(self, claims: dict[str, Any] | str, *, key: str = "es-1", **header: Any) -> str:
        """A token; a header parameter that is ``None`` is left out."""
        algorithm = {"es": "ES384", "rs": "RS384", "p256": "ES256"}[key.split("-")[0]]
        whole = {"alg": algorithm, "kid": key, "typ": "JWT"} | header
        sent = {"key": key, "header": {n: v for n, v in whole.items() if v is not None}, "claims": claims}
        answer = self.http.post("/sign", json=sent)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def access_claims(self, **changed: Any) -> dict[str, Any]:
        now = int(time())
        return _stated({
            "iss": self.address, "aud": f"{PUBLIC_BASE}/fhir", "iat": now, "exp": now + 300, "sub": "planner",
            "client_id": "planner", "scope": ALL_SCOPES} | changed)

    def hook_claims(self, path: str, **changed: Any) -> dict[str, Any]:
        now = int(time())
        return _stated({
            "iss": self.address, "aud": f"{PUBLIC_BASE}{path}", "iat": now, "exp": now + 300,
            "jti": str(uuid4())} | changed)

    def rotate(self) -> int:
        """New keys; the number of their generation."""
        return self.http.post("/rotate").json()


def _stated(claims: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in claims.items() if value is not None}


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


@contextmanager
def run_issuer() -> Iterator[Issuer]:
    """An issuer of its own, for as long as the block runs."""
    require_validators()
    with run_program_that_serves("issuer.mjs") as address:
        yield Issuer(address)
