"""The service's own key: what is taken, what is shown, what it signs."""

import json
from time import time

import pytest
from cryptography.hazmat.primitives import serialization
from joserfc import jwt
from joserfc.jwk import ECKey, KeySet, OctKey, RSAKey

from service.domain.errors import ServiceFault
from service.ehr_client.client_key import read_client_key

EC, RSA = ECKey.generate_key("P-384"), RSAKey.generate_key(2048)


@pytest.fixture
def written(tmp_path):
    def write(content: bytes | str) -> str:
        path = tmp_path / "key"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return str(path)
    return write


@pytest.mark.parametrize(("key", "algorithm"), [(EC, "ES384"), (RSA, "RS384")])
@pytest.mark.parametrize("form", ["jwk", "pem"])
def test_a_key_signs_and_its_public_part_checks(written, key, algorithm, form):
    text = key.as_pem(private=True) if form == "pem" else json.dumps(key.as_dict(private=True))
    own = read_client_key(written(text))
    shown = own.public_key_set
    (public,) = shown["keys"]
    assert not {"d", "p", "q", "dp", "dq", "qi"} & public.keys()
    assert public["alg"] == algorithm and public["use"] == "sig" and public["kid"]
    assertion = jwt.decode(
        own.sign_assertion("graftstage", "https://record.example/token"), KeySet.import_key_set(shown), [algorithm])
    assert assertion.header == {"alg": algorithm, "kid": public["kid"], "typ": "JWT"}
    claims = assertion.claims
    assert claims["iss"] == claims["sub"] == "graftstage" and claims["aud"] == "https://record.example/token"
    assert 0 < claims["exp"] - time() <= 300


def test_no_assertion_is_made_twice(written):
    own = read_client_key(written(EC.as_pem(private=True)))
    assert len({own.sign_assertion("graftstage", "https://record.example/token") for _ in range(20)}) == 20


@pytest.mark.parametrize("content", [
    b"", b"{", b"[]", b"planted", EC.as_pem(private=False), json.dumps(RSA.as_dict(private=False)).encode(),
    ECKey.generate_key("P-256").as_pem(private=True), RSAKey.generate_key(1024).as_pem(private=True),
    json.dumps(OctKey.generate_key(256).as_dict(private=True)).encode(),
    EC.private_key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8,
        serialization.BestAvailableEncryption(b"planted")),
], ids=["empty", "cut off", "list", "words", "public EC", "public RSA", "other curve", "short RSA", "symmetric",
        "encrypted"])
def test_what_is_no_fit_private_key_is_refused_without_a_word_of_it(written, content):
    with pytest.raises(ServiceFault) as fault:
        read_client_key(written(content))
    assert "planted" not in str(fault.value) and "key file" in str(fault.value)


def test_a_file_that_is_not_there_is_said():
    with pytest.raises(ServiceFault, match="cannot be read"):
        read_client_key("/nowhere/key.pem")
